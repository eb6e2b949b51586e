// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/resources"
)

// polish gives the solution in hand the best times for what it has settled, and
// then lets go of what need not wait.
func (s *annealer) polish() {
	ways := [...]func() bool{
		func() bool { return s.retimed(false, false) },
		func() bool { return s.retimed(false, true) },
		func() bool { return s.retimed(true, false) },
		func() bool { return s.retimed(true, true) },
	}
	for k := 0; k < len(ways) && s.share() < 1; k++ {
		if ways[k]() {
			k = -1
		}
	}
	for _, a := range s.free {
		if s.now.node[a].acts[0] != a {
			continue
		}
		s.next.copyFrom(s.now)
		if !s.rest(a, 0) {
			continue
		}
		s.count++
		if !s.d.decode(s.next) {
			continue
		}
		if v := s.d.assess(); !s.nowValue.better(&v) {
			s.accept(v)
		}
	}
}

// retimed takes better times for the solution in hand, when there are any. Said
// is to settle all that the placing has decided, so that it decides the same
// again; strict is for retimer.
func (s *annealer) retimed(said, strict bool) bool {
	s.count += 2
	s.next.copyFrom(s.now)
	if !s.d.decode(s.next) {
		return false
	}
	if said {
		s.d.settle(s.next, s.free)
	}
	if !s.short.retimer.retime(s.next, strict) {
		return false
	}
	if said {
		for _, a := range s.free {
			s.next.key[a] = float64(s.next.fine[a].rest)
		}
	}
	if !s.d.decode(s.next) {
		return false
	}
	v := s.d.assess()
	better := v.better(&s.nowValue)
	if better {
		s.accept(v)
	}
	return better
}

// settle makes a genome, which is on the board, say which stations, crews and
// mixes the placing has chosen for free activities.
func (d *decoder) settle(g *genome, free []int32) {
	begun := map[[2]int32]int32{} // per mix: who begins it
	for _, a := range free {
		at := &d.b.at[a]
		n := at.node
		if n.acts[0] != a {
			continue
		}
		o := &n.options[at.option]
		f := &g.fine[a]
		g.want[a], f.mix, f.lead = o.station, false, 0
		if st := &d.m.p.Stations[o.station]; st.SetupSkill >= 0 {
			f.turn = d.turned(f.turn, resources.PartSetup, st.SetupSkill, at.crew[0])
		}
		k := 1
		for part := resources.PartLoad; part < resources.NumParts; part++ {
			switch {
			case len(o.needs[part]) == 0:
			case part == resources.PartRun && n.mayPause:
				f.turn = d.pacedBy(f.turn, o.needs[part][0].skill, at.crew[k])
			default:
				f.turn = d.turned(f.turn, part, o.needs[part][0].skill, at.crew[k])
			}
			k += len(o.needs[part])
		}
		if key := [2]int32{n.resin, at.mix}; at.mix >= 0 {
			if x, known := begun[key]; !known || d.b.at[x].start > at.start {
				begun[key] = a
			}
		}
	}
	for _, a := range free {
		at := &d.b.at[a]
		if first, known := begun[[2]int32{at.node.resin, at.mix}]; !known || first != a {
			continue
		}
		if x, f := &d.b.mixes[at.node.resin][at.mix], &g.fine[a]; x.fact < 0 {
			f.mix = true
			if skill := d.m.p.Resins[at.node.resin].Skill; skill >= 0 {
				f.turn = d.turned(f.turn, mixing, skill, x.crew)
			}
		}
	}
}

// turned is t such that a crew is asked first for a part.
func (d *decoder) turned(t turns, part resources.Part, skill, crew int32) turns {
	if by := slices.Index(d.m.p.Skills[skill].Crews, crew); by >= 0 && by < 1<<turnBits {
		return t.with(part, uint16(by))
	}
	return t
}

// pacedBy is t such that a run that pauses is for a crew.
func (d *decoder) pacedBy(t turns, skill, crew int32) turns {
	if by := slices.Index(d.m.p.Skills[skill].Crews, crew) + 1; by >= 1 && by < 1<<turnBits {
		return t.with(resources.PartRun, uint16(by))
	}
	return t
}
