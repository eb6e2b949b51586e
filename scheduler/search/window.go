// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// window splits the work of a problem in two: what a repair looks at again,
// which is what begins soon, what facts have touched and what hangs together
// with either; and the others, which stay where an earlier plan has them.
type window struct {
	p     *scheduler.Problem
	old   *scheduler.Plan
	far   Tick    // what begins before is looked at
	was   []int32 // per act: index into the old plan's work; -1: it does not know it
	in    []bool  // per act: looked at again
	mode  []int32 // per act: of those that may stay, the mode in which the old plan has it
	brisk bool    // the plan has just been placed: little will jump
	todo  []int32 // added, and what hangs together with them not yet

	names  *finder
	shifts []profile // head counts of the crews, the same for all that is looked at
	order  []int32   // activities that the old plan knows, in its order

	loads, mixes []company // of the old plan
	loadOf       []int32   // per act: index into loads; -1: none
	mixOf        []int32   // per act: index into mixes; -1: none
}

// company is the activities of an old load or mix that are still to be done.
type company struct {
	acts []int32
	less bool // it had others
}

// matched finds the activities of an earlier plan by their names.
func matched(p *scheduler.Problem, old *scheduler.Plan, names *finder) *window {
	w := &window{p: p, old: old, names: names}
	w.find()
	return w
}

// look chooses what is looked at again.
func (w *window) look(far Tick) {
	p, old := w.p, w.old
	w.far, w.in, w.mode, w.todo = far, make([]bool, len(p.Acts)), make([]int32, len(p.Acts)), nil
	for a := range p.Acts {
		act := &p.Acts[a]
		switch k := w.was[a]; {
		case k < 0, act.Fixed != nil, act.Frozen, act.Load >= 0:
			w.add(int32(a))
		case old.Work[k].Setup < far:
			w.add(int32(a))
		default:
			was := &old.Work[k]
			if w.mode[a] = modeAt(p, act, was.Station); w.mode[a] < 0 || w.touched(act, was, w.mode[a]) {
				w.add(int32(a))
			}
		}
	}
	for i := range w.loads {
		if w.loads[i].less {
			w.addAll(w.loads[i].acts)
		}
	}
	for i := range w.mixes {
		if x := &old.Mixes[i]; w.mixes[i].less || x.Status != scheduler.Done && w.made(x) {
			w.addAll(w.mixes[i].acts)
		}
	}
	w.close()
}

// wide tells whether so much is looked at again that it is not worth while.
func (w *window) wide(inside []int32) bool { return len(inside) > len(w.p.Acts)/2 }

// find matches activities with the old plan.
func (w *window) find() {
	p := w.p
	act := w.names.find
	w.was, w.loadOf, w.mixOf = none(len(p.Acts)), none(len(p.Acts)), none(len(p.Acts))
	w.order = make([]int32, 0, len(p.Acts))
	for k, a := range w.names.works(w.old) {
		if a >= 0 {
			w.was[a] = int32(k)
			w.order = append(w.order, a)
		}
	}
	w.loads = make([]company, len(w.old.Loads))
	for i := range w.old.Loads {
		w.loads[i] = together(w.old.Loads[i].Members, act, w.loadOf, int32(i))
	}
	w.mixes = make([]company, len(w.old.Mixes))
	for i := range w.old.Mixes {
		w.mixes[i] = together(w.old.Mixes[i].Users, act, w.mixOf, int32(i))
	}
}

func none(n int) []int32 {
	list := make([]int32, n)
	for i := range list {
		list[i] = -1
	}
	return list
}

func together(members []scheduler.Member, act func(scheduler.Member) int32, of []int32, number int32) company {
	c := company{acts: make([]int32, 0, len(members))}
	for _, m := range members {
		if a := act(m); a >= 0 {
			c.acts = append(c.acts, a)
			of[a] = number
		} else {
			c.less = true
		}
	}
	return c
}

// touched tells whether facts speak against an activity's old place, in that mode.
func (w *window) touched(act *scheduler.Act, was *scheduler.Work, mode int32) bool {
	if was.Start < act.Release || act.Deadline != 0 && was.Start > act.Deadline || was.End > w.p.End {
		return true
	}
	st := &w.p.Stations[w.p.Modes[mode].Station]
	for _, stop := range st.Stops {
		if was.Setup < stop.End && was.End > stop.Start {
			return true
		}
	}
	for _, x := range st.Busy {
		if was.Setup < x.Until && was.Place == int(x.Place)+1 {
			return true
		}
	}
	return was.Place > st.Places
}

func (w *window) add(a int32) {
	if !w.in[a] {
		w.in[a] = true
		w.todo = append(w.todo, a)
	}
}

func (w *window) addAll(acts []int32) {
	for _, a := range acts {
		w.add(a)
	}
}

// close adds what hangs together with what is in: all that comes before it,
// its load, its mix, and both ends of the tools it has.
func (w *window) close() {
	p := w.p
	for len(w.todo) > 0 {
		a := w.todo[len(w.todo)-1]
		w.todo = w.todo[:len(w.todo)-1]
		act := &p.Acts[a]
		for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
			w.add(p.Arcs[i].From)
		}
		for _, h := range act.Holds {
			w.add(p.Holds[h].Give)
		}
		for _, h := range act.Gives {
			if take := p.Holds[h].Take; take >= 0 {
				w.add(take)
			}
		}
		if i := w.loadOf[a]; i >= 0 {
			w.addAll(w.loads[i].acts)
		}
		// A mix that is there already is shared out by mass; see board.beside.
		if i := w.mixOf[a]; i >= 0 && !w.made(&w.old.Mixes[i]) {
			w.addAll(w.mixes[i].acts)
		}
	}
}

// made tells whether a mix of the old plan is a fact by now.
func (w *window) made(x *scheduler.Mix) bool {
	return slices.ContainsFunc(w.p.Mixes, func(f scheduler.MixP) bool { return f.ID == x.ID })
}

// split gives the activities that are looked at, in the order of the problem,
// and the others, in that of the old plan.
func (w *window) split() (inside, others []int32) {
	for a, in := range w.in {
		if in {
			inside = append(inside, int32(a))
		}
	}
	others = make([]int32, 0, len(w.in)-len(inside))
	for _, a := range w.order {
		if !w.in[a] {
			others = append(others, a)
		}
	}
	return inside, others
}

// problem is that of the activities that are looked at. What the others end
// counts for their lines, and their names are not given again.
func (w *window) problem(inside, others []int32) *scheduler.Problem {
	q := restrict(w.p, inside)
	for _, a := range others {
		if act := &w.p.Acts[a]; act.Last {
			line := &q.Lines[act.Line]
			line.Done = max(line.Done, w.old.Work[w.was[a]].End)
		}
	}
	q.Used = slices.Clone(w.p.Used)
	for i := range w.old.Loads {
		if w.stays(w.loads[i]) {
			q.Used = append(q.Used, w.old.Loads[i].ID)
		}
	}
	for i := range w.old.Mixes {
		if w.stays(w.mixes[i]) && !w.made(&w.old.Mixes[i]) {
			q.Used = append(q.Used, w.old.Mixes[i].ID)
		}
	}
	return q
}

// decoder places a problem that has the crews of the whole.
func (w *window) decoder(p *scheduler.Problem, of func(*model) *decoder) (*decoder, error) {
	m, err := newModel(p)
	if err != nil {
		return nil, err
	}
	m.shifts = w.shifts
	d := of(m)
	w.shifts = m.shifts
	return d, nil
}

// stays tells whether an old load or mix belongs to the others.
func (w *window) stays(c company) bool { return len(c.acts) > 0 && !w.in[c.acts[0]] }

// before is the part of the old plan that is looked at again.
func (w *window) before() *scheduler.Plan {
	cut := &scheduler.Plan{Version: w.old.Version, Breaches: w.old.Breaches}
	for a, in := range w.in {
		if k := w.was[a]; in && k >= 0 {
			cut.Work = append(cut.Work, w.old.Work[k])
		}
	}
	for i := range w.loads {
		if c := w.loads[i]; len(c.acts) > 0 && w.in[c.acts[0]] {
			cut.Loads = append(cut.Loads, w.old.Loads[i])
		}
	}
	return cut
}
