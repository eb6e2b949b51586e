// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math/bits"
	"slices"

	"towpath/resources"
)

// exactSize is the most activities the exact method is tried on, and exactNodes
// how far its tree may grow before it gives up without a verdict.
const (
	exactSize  = 30
	exactNodes = 60000
)

// noPath is a distance that constrains nothing.
const noPath = -(Seconds(1) << 50)

// exact is a branch and bound for small problems of waits and capacities alone
// (De Reyck and Herroelen 1998): where the earliest schedule asks too much of a
// resource, some minimal set of activities must come after another one. It is
// the only part of the search that can prove that no plan exists.
type exact struct {
	m      *model
	n      int
	length []Seconds
	demand [][]int64 // per resource and activity
	limit  []int64
	nodes  int
	found  bool
	best   Cost // of lost orders and tardiness alone
	starts []Seconds
}

// verdict is what the exact method can say.
type verdict uint8

const (
	unknown verdict = iota
	impossible
	proven
)

// prove runs the exact method where it applies. Proven means that starts holds
// a schedule of least loss and tardiness.
func prove(m *model) (verdict, []Tick, Cost) {
	e := &exact{m: m, n: len(m.p.Acts)}
	if e.n == 0 || e.n > exactSize || !e.applies() {
		return unknown, nil, e.best
	}
	e.branch(e.distances())
	switch {
	case e.nodes > exactNodes:
		return unknown, nil, e.best
	case !e.found:
		return impossible, nil, e.best
	}
	at := make([]Tick, e.n)
	for i := range at {
		at[i] = m.p.Now + Tick(e.starts[i])
	}
	return proven, at, e.best
}

// applies checks that there is nothing but waits and constant capacities, and
// lists these.
func (e *exact) applies() bool {
	p := e.m.p
	if len(p.Holds) > 0 || len(p.Past) > 0 {
		return false
	}
	for s := range p.Stations {
		st := &p.Stations[s]
		if st.Batch || st.Families > 0 || !st.Always || len(st.Stops)+len(st.Busy) > 0 {
			return false
		}
		e.limit = append(e.limit, int64(st.Places))
	}
	for c := range p.Crews {
		if len(p.Crews[c].Steps) != 1 && (len(p.Crews[c].Steps) != 2 || p.Crews[c].Steps[1].At < p.End) {
			return false
		}
		e.limit = append(e.limit, p.Crews[c].Steps[0].Cap)
	}
	e.demand = make([][]int64, len(e.limit))
	for r := range e.demand {
		e.demand[r] = make([]int64, e.n)
	}
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.ModeTo-act.ModeAt != 1 || act.Fixed != nil || act.Frozen || act.MayPause || act.Deadline != 0 ||
			act.Resin >= 0 || len(act.Draws) > 0 {
			return false
		}
		md := &p.Modes[act.ModeAt]
		if md.Load+md.LoadEach+md.Unload+md.UnloadEach > 0 {
			return false
		}
		e.length = append(e.length, md.Run)
		e.demand[md.Station][a] = 1
		for _, nd := range p.Needs[md.NeedAt:md.NeedTo] {
			if nd.Part != resources.PartRun || len(p.Skills[nd.Skill].Crews) != 1 {
				return false
			}
			e.demand[len(p.Stations)+int(p.Skills[nd.Skill].Crews[0])][a] += nd.Share
		}
	}
	return true
}

// distances are the longest waits between starts; row and column n are now.
func (e *exact) distances() []Seconds {
	p, w := e.m.p, e.n+1
	d := make([]Seconds, w*w)
	for i := range d {
		d[i] = noPath
	}
	for i := range w {
		d[i*w+i] = 0
	}
	for a := range p.Acts {
		d[e.n*w+a] = Seconds(p.Acts[a].Release - p.Now)
	}
	for i := range p.Arcs {
		arc := &p.Arcs[i]
		from, to := int(arc.From), int(arc.To)
		base := Seconds(0)
		if !arc.FromStart {
			base = e.length[from]
		}
		d[from*w+to] = max(d[from*w+to], base+arc.Min)
		if arc.HasMax {
			d[to*w+from] = max(d[to*w+from], -base-arc.Max)
		}
	}
	for k := range w {
		for i := range w {
			e.through(d, i, k, w)
		}
	}
	return d
}

// through updates row i by paths over k.
func (e *exact) through(d []Seconds, i, k, w int) {
	if d[i*w+k] <= noPath/2 {
		return
	}
	for j := range w {
		if d[k*w+j] > noPath/2 {
			d[i*w+j] = max(d[i*w+j], d[i*w+k]+d[k*w+j])
		}
	}
}

// branch searches below one set of waits.
func (e *exact) branch(d []Seconds) {
	if e.nodes++; e.nodes > exactNodes {
		return
	}
	w := e.n + 1
	for i := range w {
		if d[i*w+i] > 0 {
			return
		}
	}
	starts := d[e.n*w : e.n*w+e.n]
	cost := e.cost(starts)
	if e.found && !cost.Less(e.best) {
		return
	}
	active, resource := e.overload(starts)
	if len(active) == 0 {
		e.found, e.best, e.starts = true, cost, slices.Clone(starts)
		return
	}
	for _, delay := range e.delays(active, resource) {
		for i, after := range active {
			if delay&(1<<i) != 0 {
				continue
			}
			e.branch(e.delayed(d, active, delay, after))
		}
	}
}

// delayed is d with everything in delay after one activity's end.
func (e *exact) delayed(d []Seconds, active []int, delay uint, after int) []Seconds {
	w := e.n + 1
	next := slices.Clone(d)
	for j, k := range active {
		if delay&(1<<j) == 0 || next[after*w+k] >= e.length[after] {
			continue
		}
		for u := range w {
			if next[u*w+after] <= noPath/2 {
				continue
			}
			reach := next[u*w+after] + e.length[after]
			for v := range w {
				if next[k*w+v] > noPath/2 {
					next[u*w+v] = max(next[u*w+v], reach+next[k*w+v])
				}
			}
		}
	}
	return next
}

// overload finds the first instant at which a resource is asked too much, and
// the activities that ask it then.
func (e *exact) overload(starts []Seconds) (active []int, resource int) {
	times := slices.Clone(starts)
	slices.Sort(times)
	for _, t := range times {
		for r := range e.limit {
			var sum int64
			active = active[:0]
			for a := range e.n {
				if e.demand[r][a] > 0 && starts[a] <= t && t < starts[a]+e.length[a] {
					sum += e.demand[r][a]
					active = append(active, a)
				}
			}
			if sum > e.limit[r] {
				return active, r
			}
		}
	}
	return nil, 0
}

// delays lists the minimal sets whose delay frees the resource, as bits of
// active.
func (e *exact) delays(active []int, resource int) []uint {
	var sum int64
	for _, a := range active {
		sum += e.demand[resource][a]
	}
	over := sum - e.limit[resource]
	var sets []uint
	for set := uint(1); set < 1<<len(active); set++ {
		freed, least := int64(0), int64(1)<<60
		for i, a := range active {
			if set&(1<<i) != 0 {
				freed += e.demand[resource][a]
				least = min(least, e.demand[resource][a])
			}
		}
		if freed >= over && freed-least < over {
			sets = append(sets, set)
		}
	}
	slices.SortStableFunc(sets, func(a, b uint) int { return bits.OnesCount(a) - bits.OnesCount(b) })
	return sets
}

// cost is lost and weighted tardiness of starts, which only grow below a node.
func (e *exact) cost(starts []Seconds) Cost {
	p := e.m.p
	var c Cost
	for o := range p.Orders {
		var lost, worst int64
		for _, l := range p.Orders[o].Lines {
			line := &p.Lines[l]
			end := line.Done
			for _, a := range line.Acts {
				if p.Acts[a].Last {
					end = max(end, p.Now+Tick(starts[a]+e.length[a]))
				}
			}
			switch late := int64(end - line.Due); {
			case late <= 0:
			case line.Event:
				lost = max(lost, line.Weight)
			default:
				worst = max(worst, late*line.Weight)
			}
		}
		c.add(p.Goal.Lost, lost)
		c.add(p.Goal.Tardiness, worst)
	}
	return c
}
