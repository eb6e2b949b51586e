// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"

	"towpath/scheduler"
)

// Bound is a cost no plan can go below: each level from relaxations that drop
// everything but one line's waits, or one station's capacity.
func Bound(p *scheduler.Problem) (Cost, error) {
	m, err := newModel(p)
	if err != nil {
		return Cost{}, err
	}
	return bound(m), nil
}

func bound(m *model) Cost {
	var c Cost
	p := m.p
	lines := make([]Tick, len(p.Lines))
	for l := range p.Lines {
		lines[l] = p.Lines[l].Done
		for _, a := range p.Lines[l].Acts {
			if p.Acts[a].Last {
				lines[l] = max(lines[l], m.endsFrom(a))
			}
		}
	}
	for o := range p.Orders {
		var worst, lost int64
		for _, l := range p.Orders[o].Lines {
			line := &p.Lines[l]
			late := int64(lines[l] - line.Due)
			if late <= 0 {
				continue
			}
			if line.Event {
				lost = max(lost, line.Weight)
			} else {
				worst = max(worst, line.Weight*late)
			}
		}
		worst = max(worst, m.crowded(p.Orders[o].Lines))
		c.add(p.Goal.Lost, lost)
		c.add(p.Goal.Tardiness, worst)
	}
	c.add(p.Goal.Oven, m.ovenWork())
	c.add(p.Goal.Flow, m.flowWork())
	return c
}

// endsFrom is the earliest end of an activity by waits alone.
func (m *model) endsFrom(a int32) Tick {
	if f := m.p.Acts[a].Fixed; f != nil {
		return f.End
	}
	return m.head[a] + Tick(m.shortest(a))
}

// crowded bounds one order's weighted tardiness by each station that runs one
// thing at a time: its work, started no sooner than the earliest head and
// followed by the shortest tail, must fit before the last line is complete.
func (m *model) crowded(lines []int32) int64 {
	p := m.p
	if len(lines) < 2 {
		return 0
	}
	latest, weight := Tick(0), int64(0)
	for _, l := range lines {
		line := &p.Lines[l]
		if line.Event || line.Weight == 0 {
			return 0
		}
		latest = max(latest, line.Due)
		if weight == 0 || line.Weight < weight {
			weight = line.Weight
		}
	}
	mine := map[int32]bool{}
	for _, l := range lines {
		mine[l] = true
	}
	byStation := make([][]int32, len(p.Stations))
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.ModeTo-act.ModeAt == 1 && act.Fixed == nil && mine[act.Line] {
			s := p.Modes[act.ModeAt].Station
			byStation[s] = append(byStation[s], int32(a))
		}
	}
	best := Tick(0)
	for s := range byStation {
		if st := &p.Stations[s]; st.Places == 1 && !st.Batch && len(byStation[s]) > 1 {
			best = max(best, m.preemptive(byStation[s]))
		}
	}
	return max(0, int64(best-latest)) * weight
}

// preemptive is the optimum of one machine with heads, bodies and tails when
// work may be interrupted: Jackson's schedule, a lower bound without
// interruption (Carlier 1982).
func (m *model) preemptive(acts []int32) Tick {
	type job struct {
		head Tick
		left Seconds
		tail Seconds
	}
	jobs := make([]job, 0, len(acts))
	for _, a := range acts {
		body := m.shortest(a)
		jobs = append(jobs, job{head: m.head[a], left: body, tail: m.tail[a] - body})
	}
	slices.SortFunc(jobs, func(a, b job) int { return cmp.Compare(a.head, b.head) })
	end, now := Tick(0), jobs[0].head
	for next, open := 0, []job(nil); next < len(jobs) || len(open) > 0; {
		if len(open) == 0 && next < len(jobs) {
			now = max(now, jobs[next].head)
		}
		for next < len(jobs) && jobs[next].head <= now {
			open = append(open, jobs[next])
			next++
		}
		longest := 0
		for i := range open {
			if open[i].tail > open[longest].tail {
				longest = i
			}
		}
		j := &open[longest]
		run := j.left
		if next < len(jobs) {
			run = min(run, Seconds(jobs[next].head-now))
		}
		now += Tick(run)
		if j.left -= run; j.left == 0 {
			end = max(end, now+Tick(j.tail))
			open = append(open[:longest], open[longest+1:]...)
		}
	}
	return end
}

// ovenWork bounds the running time of batch stations: for each kind of load,
// the volume of its work in the tightest dimension against the largest
// capacity that takes it.
func (m *model) ovenWork() int64 {
	p := m.p
	type bulk struct {
		work []float64
		cap  []int64
		most int64
	}
	byKey := map[int32]*bulk{}
	keys := []int32{}
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.Key < 0 || act.Fixed != nil {
			continue
		}
		shortest, ok := m.batchRun(int32(a))
		if !ok {
			continue // it may run outside a batch station
		}
		b := byKey[act.Key]
		if b == nil {
			b = &bulk{work: make([]float64, len(p.Dims)), cap: make([]int64, len(p.Dims))}
			byKey[act.Key] = b
			keys = append(keys, act.Key)
		}
		b.most = max(b.most, int64(shortest))
		for k := act.ModeAt; k < act.ModeTo; k++ {
			for d, limit := range p.Stations[p.Modes[k].Station].Capacity {
				if limit < 0 || b.cap[d] < 0 {
					b.cap[d] = -1
				} else {
					b.cap[d] = max(b.cap[d], limit)
				}
			}
		}
		for d := range p.Dims {
			b.work[d] += float64(act.Size[d]) * float64(shortest)
		}
	}
	var sum int64
	for _, k := range keys {
		b := byKey[k]
		least := b.most
		for d := range p.Dims {
			if b.cap[d] > 0 {
				least = max(least, int64(b.work[d]/float64(b.cap[d])))
			}
		}
		sum += least
	}
	return sum
}

// batchRun is the shortest run of an activity; false when some mode is not on
// a batch station.
func (m *model) batchRun(a int32) (Seconds, bool) {
	act := &m.p.Acts[a]
	best := Seconds(never)
	for k := act.ModeAt; k < act.ModeTo; k++ {
		if !m.p.Stations[m.p.Modes[k].Station].Batch {
			return 0, false
		}
		best = min(best, m.p.Modes[k].Run)
	}
	return best, true
}

// flowWork is the least time each piece spends between its first start and its
// last end.
func (m *model) flowWork() int64 {
	var sum int64
	chain := m.chains()
	for piece, acts := range m.byPiece {
		first := m.p.FlowFrom[piece]
		if first > 0 {
			last := first
			for _, a := range acts {
				last = max(last, m.endsFrom(a))
			}
			sum += int64(last - first)
			continue
		}
		var longest Seconds
		for _, a := range acts {
			longest = max(longest, chain[a])
		}
		sum += int64(longest)
	}
	return sum
}

// chains is, per activity, the least time from its start to the end of the last
// of its own piece's activities that wait for it.
func (m *model) chains() []Seconds {
	p := m.p
	out := make([]Seconds, len(p.Acts))
	for i := len(m.topo) - 1; i >= 0; i-- {
		a := m.topo[i]
		out[a] = m.shortest(a)
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[j]
			if p.Acts[arc.To].PieceIx == p.Acts[a].PieceIx && m.rank[arc.To] > m.rank[a] {
				out[a] = max(out[a], m.lag(arc)+out[arc.To])
			}
		}
	}
	return out
}
