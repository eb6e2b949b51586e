// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// judge tells whether something is left that only placing can put right: mixes
// that are there and will not do, and waits that facts have begun and that break
// now.
func (x *pusher) judge() {
	w := x.w
	for m := range x.users {
		if k := x.facts[m]; k >= 0 {
			x.odd = x.odd || !x.suffices(&x.p.Mixes[k], x.users[m])
		} else if len(x.users[m]) > 0 && (x.mixing[m] < 0 || m < len(w.mixes) && x.begun(w.mixes[m].acts)) {
			x.odd = true
		}
	}
	x.odd = x.odd || len(x.fresh(x.breaches())) > 0
}

// begun tells whether any of some activities is under way.
func (x *pusher) begun(acts []int32) bool {
	return slices.ContainsFunc(acts, func(a int32) bool { return x.p.Acts[a].Fixed != nil })
}

// suffices tells whether a mix that is there lives long enough, and is enough.
func (x *pusher) suffices(m *scheduler.MixP, users []int32) bool {
	left := m.Left
	for _, u := range users {
		s := &x.stays[u]
		for _, a := range s.acts {
			left -= x.p.Acts[a].Grams
		}
		if s.at.runEnd > m.Expiry {
			return false
		}
	}
	return left >= 0
}

// breaches lists the longest waits after work that has begun or is done which
// are broken, the worst of each pair of operations.
func (x *pusher) breaches() []scheduler.Breach {
	p := x.p
	var out []scheduler.Breach
	add := func(from scheduler.Member, to int32, by Tick) {
		if by <= 0 {
			return
		}
		b := scheduler.Breach{From: from, To: x.member(to)}
		i := slices.IndexFunc(out, func(o scheduler.Breach) bool { return o.From == b.From && o.To == b.To })
		if i < 0 {
			i = len(out)
			out = append(out, b)
		}
		out[i].By = max(out[i].By, scheduler.Seconds(by))
	}
	for i := range p.Arcs {
		if arc := &p.Arcs[i]; arc.HasMax && p.Acts[arc.From].Fixed != nil && x.of[arc.To] >= 0 {
			add(x.member(arc.From), arc.To, x.stays[x.of[arc.To]].at.start-x.stays[x.of[arc.From]].since(arc)-Tick(arc.Max))
		}
	}
	for a := range p.Acts {
		if i := x.of[a]; i >= 0 {
			for _, after := range p.Acts[a].After {
				add(after.From, int32(a), x.stays[i].at.start-after.By)
			}
		}
	}
	return out
}

// fresh are those of them that the old plan does not own up to.
func (x *pusher) fresh(list []scheduler.Breach) []scheduler.Breach {
	return slices.DeleteFunc(slices.Clone(list), func(b scheduler.Breach) bool {
		return slices.ContainsFunc(x.w.old.Breaches, func(o scheduler.Breach) bool { return o.From == b.From && o.To == b.To })
	})
}

func (x *pusher) member(a int32) scheduler.Member {
	return scheduler.Member{Piece: x.p.Acts[a].Piece, Operation: x.p.Acts[a].Operation}
}

// shifted is the window with the plan pushed: its rows stay in their places.
func (x *pusher) shifted() *window {
	w := *x.w
	old := *x.w.old
	old.Work, old.Loads, old.Mixes = slices.Clone(old.Work), slices.Clone(old.Loads), slices.Clone(old.Mixes)
	w.old = &old
	for i := range x.stays {
		s := &x.stays[i]
		if !s.moved {
			continue
		}
		for k, a := range s.acts {
			row := &old.Work[w.was[a]]
			s.write(row)
			x.retool(a, row)
			row.People = x.peopleOf(s, k == 0)
			x.remix(s, a, row)
		}
	}
	x.shiftMixes(&w, &old)
	x.shiftLoads(&w, &old)
	w.order = slices.Clone(w.order)
	slices.SortStableFunc(w.order, func(a, b int32) int { return workOrder(&old.Work[w.was[a]], &old.Work[w.was[b]]) })
	return &w
}

func (s *stay) write(w *scheduler.Work) {
	t := &s.at
	w.Place = int(s.place) + 1
	w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End = t.setup, t.start, t.run, t.runEnd, t.unload, t.end
}

func (t *times) writeLoad(l *scheduler.Load) {
	l.Setup, l.Start, l.Run, l.RunEnd, l.Unload, l.End = t.setup, t.start, t.run, t.runEnd, t.unload, t.end
}

func (x *pusher) remake(s *stay, m *scheduler.Mix) {
	m.Start, m.End, m.Place = s.at.start, s.at.end, int(s.place)+1
	if s.serveAt < s.serveTo {
		m.Crew = x.p.Crews[x.serves[s.serveAt].crew].ID
	}
	m.Expiry = m.End + Tick(x.p.Resins[s.resin].LifeAt(m.End))
	m.ID, m.Resin = x.mixNamed(s.mix), x.p.Resins[s.resin].ID
	if s.station >= 0 {
		m.Station = x.p.Stations[s.station].ID
	}
}

// shiftMixes writes the mixes to be made, and who draws from which.
func (x *pusher) shiftMixes(w *window, old *scheduler.Plan) {
	if len(x.facts) > len(old.Mixes) {
		w.mixes, w.mixOf = slices.Clone(w.mixes), slices.Clone(w.mixOf)
	}
	for m := range x.facts {
		if m >= len(w.mixes) {
			old.Mixes = append(old.Mixes, scheduler.Mix{})
			w.mixes = append(w.mixes, company{})
			for _, u := range x.users[m] {
				for _, a := range x.stays[u].acts {
					was := &w.mixes[w.mixOf[a]]
					was.acts = slices.DeleteFunc(slices.Clone(was.acts), func(o int32) bool { return o == a })
					w.mixOf[a] = int32(m)
					w.mixes[m].acts = append(w.mixes[m].acts, a)
				}
			}
		}
		if i := x.mixing[m]; i >= 0 && x.stays[i].moved {
			x.remake(&x.stays[i], &old.Mixes[m])
			x.pour(&old.Mixes[m], x.users[m], &x.p.Resins[x.stays[i].resin])
		}
	}
}

// remix writes which mix an activity draws from.
func (x *pusher) remix(s *stay, a int32, w *scheduler.Work) {
	if s.pot >= 0 && w.Mix != "" {
		w.Mix = x.mixNamed(s.pot)
	}
}

// retool writes the units of an activity where any are others now.
func (x *pusher) retool(a int32, w *scheduler.Work) {
	if !x.changed || x.p.Acts[a].Fixed != nil || len(w.Tools) == 0 {
		return
	}
	w.Tools = slices.Clone(w.Tools)
	for i, h := range x.p.Acts[a].Holds {
		if u := x.unit[h]; u >= 0 {
			w.Tools[i] = x.p.Pools[x.p.Holds[h].Pool].Units[u]
		}
	}
}

// plan is the pushed plan whole, when nothing is odd about it.
func (x *pusher) plan() *scheduler.Plan {
	p, old := x.p, x.w.old
	out := &scheduler.Plan{Version: p.Version, Made: p.Now, Base: p.Base, Breaches: x.breaches()}
	fresh := make([]scheduler.Work, 0, 64)
	for i := range x.stays {
		s := &x.stays[i]
		s.moved = s.moved || x.renamed(s)
		if s.fixed || s.moved {
			for k, a := range s.acts {
				row := x.row(s, a, k == 0)
				if s.divided {
					row.Load = x.loadNamed(int32(i))
				}
				fresh = append(fresh, row)
			}
		}
	}
	stay := make([]*scheduler.Work, 0, len(p.Acts))
	for _, a := range x.w.order {
		if s := &x.stays[x.of[a]]; !s.fixed && !s.moved {
			stay = append(stay, &old.Work[x.w.was[a]])
		}
	}
	fresh = append(fresh, p.Past...)
	slices.SortFunc(fresh, func(a, b scheduler.Work) int { return workOrder(&a, &b) })
	out.Work = merged(fresh, stay, workOrder)
	x.writeLoads(out)
	x.writeMixes(out)
	return out
}

// renamed tells whether work belongs to another order line by now.
func (x *pusher) renamed(s *stay) bool {
	return slices.ContainsFunc(s.acts, func(a int32) bool {
		line := &x.p.Lines[x.p.Acts[a].Line]
		k := x.w.was[a]
		return k < 0 || x.w.old.Work[k].Line != line.ID || x.w.old.Work[k].Order != x.p.Orders[line.Order].ID
	})
}

// row is the work of one activity.
func (x *pusher) row(s *stay, a int32, first bool) scheduler.Work {
	p := x.p
	act := &p.Acts[a]
	line := &p.Lines[act.Line]
	var w scheduler.Work
	if k := x.w.was[a]; k >= 0 {
		w = x.w.old.Work[k]
	}
	w.Order, w.Line, w.Piece, w.Operation = p.Orders[line.Order].ID, line.ID, act.Piece, act.Operation
	s.write(&w)
	x.retool(a, &w)
	x.remix(s, a, &w)
	f := act.Fixed
	if f != nil {
		w.Station, w.Place, w.Mix, w.Tools, w.Load, w.People = p.Stations[s.station].ID, int(s.place)+1, f.Mix, f.Tools, "", nil
		w.Status = scheduler.Started
		if f.Paused {
			w.Status = scheduler.Paused
		}
		if act.Load >= 0 {
			w.Load = p.Loads[act.Load].ID
		}
	}
	if f != nil || s.recrewed || first && len(w.People) == 0 || s.at.start-s.at.setup != s.was.start-s.was.setup {
		w.People = x.peopleOf(s, first)
	}
	return w
}

// peopleOf lists who serves a stay, on its first activity.
func (x *pusher) peopleOf(s *stay, first bool) (list []scheduler.PeopleUse) {
	for k := s.serveAt; first && k < s.serveTo; k++ {
		v := &x.serves[k]
		if from, to := s.at.part(v.part); from < to {
			list = append(list, scheduler.PeopleUse{Part: v.part, Skill: x.p.Skills[v.skill].Name, Crew: x.p.Crews[v.crew].ID, Share: v.share})
		}
	}
	return list
}

func (x *pusher) writeLoads(out *scheduler.Plan) {
	p := x.p
	for i := range x.stays {
		s := &x.stays[i]
		if s.mix >= 0 || len(s.acts) == 0 || !p.Stations[s.station].Batch {
			continue
		}
		var l scheduler.Load
		if act := &p.Acts[s.acts[0]]; s.fixed {
			l = scheduler.Load{Station: p.Stations[s.station].ID, Recipe: act.Recipe, Status: scheduler.Started}
			if act.Fixed.Paused {
				l.Status = scheduler.Paused
			}
			if act.Load >= 0 {
				l.ID = p.Loads[act.Load].ID
			}
			for _, a := range s.acts {
				l.Members = append(l.Members, x.member(a))
			}
		} else {
			l = x.loadOf(int32(i))
		}
		s.at.writeLoad(&l)
		out.Loads = append(out.Loads, l)
	}
	slices.SortFunc(out.Loads, func(a, b scheduler.Load) int { return loadOrder(&a, &b) })
}

func (x *pusher) writeMixes(out *scheduler.Plan) {
	p := x.p
	for i := range x.users {
		if len(x.users[i]) == 0 {
			continue
		}
		var m scheduler.Mix
		if i < len(x.w.old.Mixes) {
			m = x.w.old.Mixes[i]
		}
		if k := x.facts[i]; k >= 0 {
			f := &p.Mixes[k]
			m.End, m.Expiry = f.Made, f.Expiry
			if !f.Hand {
				m.Start, m.Status = f.Made, scheduler.Done
			}
			x.pour(&m, x.users[i], &p.Resins[f.Resin])
		} else if s := &x.stays[x.mixing[i]]; s.moved || i >= len(x.w.mixes) || x.drawers(i) < len(m.Users) {
			x.remake(s, &m)
			x.pour(&m, x.users[i], &p.Resins[s.resin])
		}
		out.Mixes = append(out.Mixes, m)
	}
	slices.SortFunc(out.Mixes, func(a, b scheduler.Mix) int { return mixOrder(&a, &b) })
}

// drawers counts the activities that draw from a mix.
func (x *pusher) drawers(mix int) (count int) {
	for _, u := range x.users[mix] {
		count += len(x.stays[u].acts)
	}
	return count
}

// pour writes who draws from a mix, and how much.
func (x *pusher) pour(m *scheduler.Mix, users []int32, r *scheduler.ResinP) {
	m.Users, m.Grams = nil, r.Heel
	for _, u := range users {
		for _, a := range x.stays[u].acts {
			m.Users = append(m.Users, x.member(a))
			m.Grams += x.p.Acts[a].Grams
		}
	}
}
