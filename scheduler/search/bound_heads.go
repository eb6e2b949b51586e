// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// reckoner works out lower bounds. It knows, for each activity, when it can
// begin and end in an empty shop that keeps its calendars, and how much must
// still follow until the line is complete.
type reckoner struct {
	m *model
	p *scheduler.Problem

	ways []way     // per mode
	head []Tick    // per act: no start of loading before
	end  []Tick    // per act: no end before
	rest []Seconds // per act: least time from its end to the line's completion; restless when it does not count for it
	done []Tick    // per line: not complete before, by waits and calendars alone

	crews  map[[2]int64]spans // when a crew has a share
	visits [][]int            // see families
}

// restless marks activities that no completion waits for.
const restless = Seconds(-1) << 40

// way is one mode in an empty shop.
type way struct {
	starts  spans  // when loading may begin
	unloads spans  // when unloading may begin, where it may wait; nil: it may not
	walk    *curve // seconds of a run that may pause; nil: it may not pause
}

func newReckoner(m *model) *reckoner {
	r := &reckoner{m: m, p: m.p, crews: map[[2]int64]spans{}}
	r.layWays()
	r.forward()
	r.backward()
	r.done = make([]Tick, len(r.p.Lines))
	for l := range r.p.Lines {
		r.done[l] = r.p.Lines[l].Done
		for _, a := range r.p.Lines[l].Acts {
			if r.p.Acts[a].Last {
				r.done[l] = max(r.done[l], r.end[a])
			}
		}
	}
	return r
}

// layWays finds when each mode may begin. Modes belong to products, so there
// are few of them.
func (r *reckoner) layWays() {
	p := r.p
	pauses := make([]bool, len(p.Modes))
	for a := range p.Acts {
		for k := p.Acts[a].ModeAt; k < p.Acts[a].ModeTo; k++ {
			pauses[k] = p.Acts[a].MayPause
		}
	}
	r.ways = make([]way, len(p.Modes))
	for k := range p.Modes {
		r.ways[k] = r.way(&p.Modes[k], pauses[k])
	}
}

func (r *reckoner) way(md *scheduler.Mode, pauses bool) way {
	p := r.p
	st := &p.Stations[md.Station]
	load, unload := md.Load+md.LoadEach, md.Unload+md.UnloadEach
	w := way{starts: everAfter(p.Now)}
	w.starts = w.starts.and(r.part(md, resources.PartLoad, 0, load))
	switch attended := !st.Always && !st.Unattended; {
	case !pauses && attended && load+md.Run > 0:
		w.starts = w.starts.and(spans(st.Open).begins(0, load+md.Run))
		fallthrough
	case !pauses:
		w.starts = w.starts.and(r.part(md, resources.PartRun, load, md.Run))
	default:
		w.walk = r.walkable(md)
	}
	outs := r.part(md, resources.PartUnload, 0, unload)
	if !st.Always && !st.Unattended && unload > 0 {
		outs = outs.and(spans(st.Open).begins(0, unload))
	}
	if md.WaitInside || pauses {
		w.unloads = outs
	} else {
		for i := range outs {
			outs[i].Start -= Tick(load + md.Run)
			if outs[i].End < never {
				outs[i].End -= Tick(load + md.Run)
			}
		}
		w.starts = w.starts.and(outs)
	}
	return w
}

// part is when an activity may begin, for the sake of one part that comes off
// seconds later.
func (r *reckoner) part(md *scheduler.Mode, part resources.Part, off, length Seconds) spans {
	p := r.p
	st := &p.Stations[md.Station]
	out := everAfter(p.Now - Tick(off))
	if length <= 0 {
		return out
	}
	attended := false
	for _, nd := range p.Needs[md.NeedAt:md.NeedTo] {
		if nd.Part == part {
			attended = true
			out = out.and(r.anyCrew(nd.Skill, nd.Share, length).shift(off))
		}
	}
	switch {
	case st.Always || st.Unattended && !attended:
		if len(st.Stops) > 0 {
			out = out.and(outside(p.Now, st.Stops).begins(off, length))
		}
	default:
		out = out.and(spans(st.Open).begins(off, length))
	}
	return out
}

// shift moves instants earlier.
func (s spans) shift(off Seconds) spans {
	if off == 0 {
		return s
	}
	out := slices.Clone(s)
	for i := range out {
		out[i].Start -= Tick(off)
		if out[i].End < never {
			out[i].End -= Tick(off)
		}
	}
	return out
}

// anyCrew is when work of a length may begin that needs a share of a skill: one
// crew must have it for the whole of the work.
func (r *reckoner) anyCrew(skill int32, share int64, length Seconds) spans {
	var lists []spans
	for _, c := range r.p.Skills[skill].Crews {
		key := [2]int64{int64(c), share}
		free, ok := r.crews[key]
		if !ok {
			free = atWork(&r.p.Crews[c], share)
			r.crews[key] = free
		}
		lists = append(lists, free.begins(0, length))
	}
	return union(lists...)
}

// walkable counts the seconds in which a run that may pause can go on.
func (r *reckoner) walkable(md *scheduler.Mode) *curve {
	p := r.p
	st := &p.Stations[md.Station]
	open := everAfter(p.Now)
	if !st.Always && !st.Unattended {
		open = spans(st.Open)
	}
	for _, nd := range p.Needs[md.NeedAt:md.NeedTo] {
		if nd.Part != resources.PartRun {
			continue
		}
		var lists []spans
		for _, c := range p.Skills[nd.Skill].Crews {
			lists = append(lists, atWork(&p.Crews[c], 1))
		}
		open = open.and(union(lists...))
		if !st.Always {
			open = open.and(spans(st.Open))
		}
		break // one need decides when the work counts
	}
	return newCurve(p.Now, open.over(1, p.End))
}

// times is the earliest start at or after t and the earliest end, over all ways
// to do an activity.
func (r *reckoner) times(a int32, t Tick) (start, end Tick) {
	act := &r.p.Acts[a]
	start, end = never, never
	for k := act.ModeAt; k < act.ModeTo; k++ {
		md, w := &r.p.Modes[k], &r.ways[k]
		s := w.starts.next(t)
		if s >= never {
			continue // not within the horizon; if no way is, there is no plan
		}
		e := s + Tick(md.Load+md.LoadEach)
		if w.walk != nil {
			e = max(e, w.walk.when(w.walk.done(e)+int64(md.Run)))
			e = max(e, s+Tick(md.Load+md.LoadEach+md.Run))
		} else {
			e += Tick(md.Run)
		}
		if w.unloads != nil {
			if out := w.unloads.next(e); out < never {
				e = out
			}
		}
		e += Tick(md.Unload + md.UnloadEach)
		start, end = min(start, s), min(end, e)
	}
	if start >= never || end >= never {
		return t, t + Tick(r.m.shortest(a))
	}
	return start, end
}

// rounds of propagation: each makes the bounds no weaker, and any number of
// them is valid.
const headRounds = 4

// forward finds the earliest start and end of every activity.
func (r *reckoner) forward() {
	p := r.p
	r.head, r.end = make([]Tick, len(p.Acts)), make([]Tick, len(p.Acts))
	for a := range p.Acts {
		r.head[a] = max(r.m.head[a], r.supplied(int32(a)))
		if f := p.Acts[a].Fixed; f != nil {
			r.head[a], r.end[a] = f.Start, f.End
		}
	}
	for range headRounds {
		moved := false
		for _, a := range r.m.topo {
			if p.Acts[a].Fixed == nil {
				moved = r.earliest(a) || moved
			}
		}
		for i := range p.Loads {
			moved = r.oneLoad(p.Loads[i].Members) || moved
		}
		if !moved {
			return
		}
	}
}

// earliest brings one activity up to date; it tells whether that changed
// anything.
func (r *reckoner) earliest(a int32) bool {
	p := r.p
	t, finish := r.head[a], r.end[a]
	for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
		arc := &p.Arcs[i]
		if arc.FromStart {
			t = max(t, r.head[arc.From]+Tick(arc.Min))
		} else {
			t = max(t, r.end[arc.From]+Tick(arc.Min))
		}
	}
	for _, i := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
		// What comes after may not come too late: this must not be too early.
		switch arc := &p.Arcs[i]; {
		case !arc.HasMax || p.Acts[arc.To].Fixed != nil:
		case arc.FromStart:
			t = max(t, r.head[arc.To]-Tick(arc.Max))
		default:
			finish = max(finish, r.head[arc.To]-Tick(arc.Max))
		}
	}
	start, end := r.times(a, t)
	end = max(end, finish)
	if start == r.head[a] && end == r.end[a] {
		return false
	}
	r.head[a], r.end[a] = start, end
	return true
}

// oneLoad lets the members of a settled load begin and end together.
func (r *reckoner) oneLoad(members []int32) bool {
	var start, end Tick
	for _, a := range members {
		if r.p.Acts[a].Fixed != nil {
			return false
		}
		start, end = max(start, r.head[a]), max(end, r.end[a])
	}
	moved := false
	for _, a := range members {
		moved = moved || r.head[a] != start || r.end[a] != end
		r.head[a], r.end[a] = start, end
	}
	return moved
}

// supplied is when an activity's own material is there and a tool of each pool
// it takes from.
func (r *reckoner) supplied(a int32) Tick {
	p := r.p
	t := Tick(0)
	for _, d := range p.Acts[a].Draws {
		for _, s := range p.Stocks[d.Stock].Steps {
			if s.Cap >= d.Quantity {
				t = max(t, s.At)
				break
			}
		}
	}
	for _, h := range p.Acts[a].Holds {
		if free := p.Pools[p.Holds[h].Pool].FreeAt; len(free) > 0 {
			t = max(t, slices.Min(free))
		}
	}
	return t
}

// backward finds how long it takes at least from the end of each activity to
// the completion of its line.
func (r *reckoner) backward() {
	p := r.p
	r.rest = make([]Seconds, len(p.Acts))
	for i := len(r.m.topo) - 1; i >= 0; i-- {
		a := r.m.topo[i]
		r.rest[a] = restless
		if p.Acts[a].Last {
			r.rest[a] = 0
		}
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[j]
			if r.m.rank[arc.To] <= r.m.rank[a] || r.rest[arc.To] <= restless || arc.FromStart ||
				p.Acts[arc.To].Line != p.Acts[a].Line {
				continue
			}
			r.rest[a] = max(r.rest[a], arc.Min+r.m.shortest(arc.To)+r.rest[arc.To])
		}
	}
}
