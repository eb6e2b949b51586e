// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
)

// item is an activity that must run in a load.
type item struct {
	act  int32
	run  Seconds // shortest
	most Seconds // longest it may stay; never: any
	key  int32
}

// batches collects what must run in loads, by kind of load: those of different
// kinds never share one. Begun and settled loads are left out: nobody
// joins them.
func (r *reckoner) batches() [][]item {
	p := r.p
	byKey := map[int32]int{}
	var out [][]item
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.Key < 0 || act.Fixed != nil || act.Load >= 0 {
			continue
		}
		it := item{act: int32(a), run: Seconds(never), key: act.Key}
		only := true
		for k := act.ModeAt; k < act.ModeTo; k++ {
			md := &p.Modes[k]
			only = only && p.Stations[md.Station].Batch
			it.run = min(it.run, md.Run)
			if md.MaxRun == 0 {
				it.most = Seconds(never)
			}
			it.most = max(it.most, md.MaxRun)
		}
		if !only {
			continue // it may run outside a batch station
		}
		i, ok := byKey[act.Key]
		if !ok {
			i = len(out)
			byKey[act.Key] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], it)
	}
	for i := range out {
		slices.SortFunc(out[i], func(a, b item) int { return cmp.Or(cmp.Compare(b.run, a.run), cmp.Compare(a.act, b.act)) })
	}
	return out
}

// runs bounds the running time of batch stations: that of begun and settled
// loads, and what the other activities need at least.
func (r *reckoner) runs() int64 {
	p := r.p
	var sum int64
	for i := range p.Loads {
		var long Seconds
		for _, a := range p.Loads[i].Members {
			if f := p.Acts[a].Fixed; f != nil {
				long = max(long, Seconds(f.RunEnd-f.Run))
			} else {
				long = max(long, r.shortestOn(a, p.Loads[i].Station))
			}
		}
		sum += int64(long)
	}
	for _, items := range r.batches() {
		sum += r.leastRuns(items)
	}
	return sum
}

// shortestOn is the run of an activity on one station, 0 when it has no mode
// there.
func (r *reckoner) shortestOn(a, station int32) Seconds {
	if k := r.m.modeOn(a, station); k >= 0 {
		return r.p.Modes[k].Run
	}
	return 0
}

// leastRuns bounds the sum of the runs of loads that hold all items, which come
// by falling run: at each level of time there are at least as many loads that
// run so long as the items that need it fill.
func (r *reckoner) leastRuns(items []item) int64 {
	var sum int64
	before := 0
	for i := 0; i < len(items); {
		j := i
		for j < len(items) && items[j].run == items[i].run {
			j++
		}
		// More items never need fewer loads.
		n := max(before, r.leastLoads(items[:j]))
		sum += int64(n-before) * int64(items[i].run)
		before, i = n, j
	}
	return sum
}

// leastLoads is a number of loads that these items of one kind fill at least:
// by each dimension (Martello and Toth 1990, bound L2), and by how long they
// may stay, where runs and limits make intervals that must have an instant in
// common.
func (r *reckoner) leastLoads(items []item) int {
	p := r.p
	n := 1
	for d := range p.Dims {
		var room int64
		limited := true
		for i := range items {
			act := &p.Acts[items[i].act]
			for k := act.ModeAt; k < act.ModeTo; k++ {
				c := p.Stations[p.Modes[k].Station].Capacity[d]
				limited = limited && c > 0
				room = max(room, c)
			}
		}
		if !limited {
			continue
		}
		sizes := make([]int64, 0, len(items))
		for i := range items {
			if s := p.Acts[items[i].act].Size[d]; s > 0 {
				sizes = append(sizes, s)
			}
		}
		n = max(n, bins(sizes, room))
	}
	return max(n, stabs(items))
}

// stabs is how many instants it takes to hit all intervals from run to most.
func stabs(items []item) int {
	list := slices.Clone(items)
	slices.SortFunc(list, func(a, b item) int { return cmp.Compare(a.most, b.most) })
	n := 0
	at := Seconds(-1)
	for i := range list {
		if list[i].run > at || n == 0 {
			n, at = n+1, list[i].most
		}
	}
	return n
}

// bins is the least number of bins of a size that hold the items: the bound L2
// of Martello and Toth (1990, Discrete Applied Mathematics 28), over all
// thresholds that matter.
func bins(sizes []int64, room int64) int {
	if len(sizes) == 0 {
		return 0
	}
	sorted := slices.Clone(sizes)
	slices.SortFunc(sorted, func(a, b int64) int { return cmp.Compare(b, a) })
	prefix := make([]int64, len(sorted)+1)
	for i, s := range sorted {
		prefix[i+1] = prefix[i] + s
	}
	all := prefix[len(sorted)]
	best := (all + room - 1) / room
	// The first half of the sorted list is larger than half a bin.
	half := 0
	for half < len(sorted) && 2*sorted[half] > room {
		half++
	}
	best = max(best, int64(half))
	big := 0 // items larger than room − threshold
	for small := len(sorted) - 1; small >= half; small-- {
		if small > half && sorted[small-1] == sorted[small] {
			continue
		}
		// Items from half to the last of at least the threshold.
		threshold := sorted[small]
		end := small + 1
		for end < len(sorted) && sorted[end] == threshold {
			end++
		}
		big = 0
		if threshold > 0 {
			big, _ = slices.BinarySearchFunc(sorted[:half], room-threshold, func(s, t int64) int {
				if s > t {
					return -1
				}
				return 1
			})
		}
		middle := int64(half - big)
		left := middle*room - (prefix[half] - prefix[big])
		extra := max(0, prefix[end]-prefix[half]-left)
		best = max(best, int64(half)+(extra+room-1)/room)
	}
	return int(best)
}

// span bounds how late the last of some activities of one order makes it, when
// their loads run on a group of batch stations and nothing else does.
func (r *reckoner) span(acts []int32, c *curve) Tick {
	p := r.p
	byKey := map[int32][]item{}
	var keys []int32
	head, tail := never, never
	for _, a := range acts {
		act := &p.Acts[a]
		it := item{act: a, run: Seconds(never), key: act.Key}
		for k := act.ModeAt; k < act.ModeTo; k++ {
			md := &p.Modes[k]
			it.run, it.most = min(it.run, md.Run), max(it.most, md.MaxRun)
			if md.MaxRun == 0 {
				it.most = Seconds(never)
			}
		}
		if byKey[act.Key] == nil {
			keys = append(keys, act.Key)
		}
		byKey[act.Key] = append(byKey[act.Key], it)
		head, tail = min(head, r.head[a]), min(tail, Tick(r.rest[a])-p.Lines[act.Line].Due)
	}
	var sum int64
	for _, k := range keys {
		items := byKey[k]
		slices.SortFunc(items, func(a, b item) int { return cmp.Or(cmp.Compare(b.run, a.run), cmp.Compare(a.act, b.act)) })
		sum += r.leastRuns(items)
	}
	return c.when(c.done(head)+whole*sum) + tail
}
