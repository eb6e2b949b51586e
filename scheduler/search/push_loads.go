// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// pullsBefore is how often a load may have work before it begin later, so that it
// does not wait too long for the load.
const pullsBefore = 3

// divide takes those members out of a load, into one of their own, that would
// wait too long for it, where that has been put right too often: the hours of the
// shop do not let them come together any more.
func (x *pusher) divide(i int32) {
	s := &x.stays[i]
	if len(s.acts) < 2 || s.mix >= 0 || s.fixed || s.pot >= 0 || x.p.Acts[s.acts[0]].Load >= 0 {
		return
	}
	var early, rest []int32
	for _, a := range s.acts {
		if x.pulled(s, a) {
			early = append(early, a)
		} else {
			rest = append(rest, a)
		}
	}
	if len(early) == 0 {
		return
	}
	if s.pulls++; s.pulls <= pullsBefore || len(rest) == 0 {
		return
	}
	t := *s
	t.acts, t.at, t.divided, t.queued, t.moved, t.pulls = early, s.was, true, false, true, 0
	t.start, t.end, t.spanAt, t.spanTo = 0, 0, 0, 0
	x.man(&t, s)
	x.rise(i)
	s.acts, s.moved = rest, true
	x.man(s, s)
	x.sit(i)
	x.spread(i)
	x.todo.push(x, i)
	for _, a := range early {
		for _, k := range x.p.In[x.p.InAt[a]:x.p.InAt[a+1]] {
			arc := &x.p.Arcs[k]
			if from := x.of[arc.From]; from >= 0 {
				t.start = max(t.start, x.stays[from].since(arc)+Tick(arc.Min))
			}
		}
	}
	was := t.was
	x.append(t)
	n := int32(len(x.stays) - 1)
	x.stays[n].was = was
	x.take(n)
	x.sit(n)
	x.todo.push(x, n)
}

// pulled tells whether work before a member of a load has to be later for it.
func (x *pusher) pulled(s *stay, a int32) bool {
	for _, k := range x.p.In[x.p.InAt[a]:x.p.InAt[a+1]] {
		arc := &x.p.Arcs[k]
		if from := x.of[arc.From]; arc.HasMax && from >= 0 && !x.stays[from].fixed && x.stays[from].since(arc)+Tick(arc.Max) < s.at.start {
			return true
		}
	}
	return false
}

// man finds how long a part of a load takes and who serves it: those of the whole.
func (x *pusher) man(s, whole *stay) {
	from, to := whole.serveAt, whole.serveTo
	x.lasts(s)
	x.people(s)
	for k := s.serveAt; k < s.serveTo; k++ {
		for j := from; j < to; j++ {
			if v, o := &x.serves[k], &x.serves[j]; v.part == o.part && v.skill == o.skill {
				v.crew, v.next = o.crew, o.crew
			}
		}
	}
	s.recrewed = true
}

// loadNamed is the name of a load that has not begun.
func (x *pusher) loadNamed(i int32) string {
	s := &x.stays[i]
	if !s.divided {
		return x.w.old.Loads[x.w.loadOf[s.acts[0]]].ID
	}
	if name, ok := x.loadNames[i]; ok {
		return name
	}
	taken := func(id string) bool {
		for _, name := range x.loadNames {
			if name == id {
				return true
			}
		}
		return slices.Contains(x.p.Used, id) || slices.ContainsFunc(x.w.old.Loads, func(l scheduler.Load) bool { return l.ID == id })
	}
	id := named(x.p.Stations[s.station].ID, x.member(s.acts[0]), taken)
	if x.loadNames == nil {
		x.loadNames = map[int32]string{}
	}
	x.loadNames[i] = id
	return id
}

// shiftLoads writes the loads that have not begun.
func (x *pusher) shiftLoads(w *window, old *scheduler.Plan) {
	cloned := false
	for i := range x.stays {
		s := &x.stays[i]
		if !s.moved || s.fixed || s.mix >= 0 || len(s.acts) == 0 || x.w.loadOf[s.acts[0]] < 0 {
			continue
		}
		k := w.loadOf[s.acts[0]]
		if s.divided {
			if !cloned {
				w.loads, w.loadOf, cloned = slices.Clone(w.loads), slices.Clone(w.loadOf), true
			}
			k = int32(len(old.Loads))
			old.Loads = append(old.Loads, x.loadOf(int32(i)))
			w.loads = append(w.loads, company{acts: s.acts})
			was := &w.loads[w.loadOf[s.acts[0]]]
			was.acts = slices.DeleteFunc(slices.Clone(was.acts), func(a int32) bool { return slices.Contains(s.acts, a) })
			for _, a := range s.acts {
				w.loadOf[a] = k
				old.Work[w.was[a]].Load = old.Loads[k].ID
			}
			continue
		}
		old.Loads[k] = x.loadOf(int32(i))
	}
}

// loadOf is the load of a stay that has not begun.
func (x *pusher) loadOf(i int32) scheduler.Load {
	s := &x.stays[i]
	l := x.w.old.Loads[x.w.loadOf[s.acts[0]]]
	l.ID = x.loadNamed(i)
	if len(s.acts) < len(l.Members) {
		l.Members, l.Recipe = nil, x.p.Acts[s.acts[0]].Recipe
		for _, a := range s.acts {
			l.Members = append(l.Members, x.member(a))
		}
	}
	s.at.writeLoad(&l)
	return l
}
