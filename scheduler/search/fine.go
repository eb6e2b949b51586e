// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math"

	"towpath/resources"
)

// fine is what a fine search settles of an activity's node beyond order,
// company and station; the zero value leaves it to the placing.
type fine struct {
	rest Tick  // no start before
	turn turns // which crews are asked first
	mix  bool  // begin a mix although another would do
	lead Tick  // and have it ready so long before loading, at least
	pour Tick  // and do not begin to make it before then
}

// turns holds, for each part of an operation and for mixing its resin, how far
// down a skill's list of crews the choice begins.
type turns uint16

const (
	turnBits = 3
	mixing   = resources.NumParts // stands for the making of a mix among the parts
)

// of is the i-th crew to be asked for a part.
func (t turns) of(part resources.Part, crews []int32, i int) int32 {
	by := int(t>>(turnBits*part)) & (1<<turnBits - 1)
	if by == 0 {
		return crews[i]
	}
	return crews[(i+by)%len(crews)]
}

// paced is which of so many crews a run that pauses is for; -1: whoever ends
// first.
func (t turns) paced(crews int) int {
	by := int(t>>(turnBits*resources.PartRun)) & (1<<turnBits - 1)
	if by == 0 {
		return -1
	}
	return (by - 1) % crews
}

// with is t with another choice for one part.
func (t turns) with(part resources.Part, by uint16) turns {
	shift := turnBits * part
	return t&^((1<<turnBits-1)<<shift) | turns(by)<<shift
}

// fineMoves is how many of a hundred moves of a fine search settle more than
// order, company and station.
const fineMoves = 40

// refine makes a move in what the placing decides otherwise: when work starts
// that could start sooner, who does it, and which mix it draws from.
func (s *annealer) refine() bool {
	switch k := s.rng.IntN(100); {
	case k < 35:
		return s.later()
	case k < 55:
		return s.beside()
	case k < 65:
		return s.laterPiece()
	case k < 82:
		return s.sooner()
	case k < 97 && len(s.crewed) > 0:
		return s.otherCrew()
	case k >= 97 && s.resins:
		return s.otherMix()
	}
	return s.beside()
}

// anyNode is the first activity of a free node.
func (s *annealer) anyNode() int32 { return s.next.node[s.anyFree()].acts[0] }

// rest keeps a node from starting before t.
func (s *annealer) rest(first int32, t Tick) bool {
	changed := false
	for _, a := range s.next.node[first].acts {
		f := &s.next.fine[a]
		changed = changed || f.rest != t
		f.rest = t
	}
	return changed
}

// swapRests lets two nodes that change places in the order change what keeps
// them from starting too, or lifts it from both: else each would go back to
// where it was.
func (s *annealer) swapRests(a, b int32) bool {
	if !s.fine {
		return false
	}
	a, b = s.next.node[a].acts[0], s.next.node[b].acts[0]
	to, from := s.next.fine[b].rest, s.next.fine[a].rest
	if s.rng.IntN(2) == 0 {
		to, from = 0, 0
	}
	one, two := s.rest(a, to), s.rest(b, from)
	return one || two
}

// unrest lifts what keeps a node that goes somewhere else in the order from
// starting.
func (s *annealer) unrest(a int32) {
	if s.fine {
		s.rest(s.next.node[a].acts[0], 0)
	}
}

// unrested is how many of a hundred pieces that move in the order are free to
// start as soon as they can there.
const unrested = 20

// unrestAll lifts what keeps anything of a piece from starting.
func (s *annealer) unrestAll(piece int32) bool {
	changed := false
	for _, x := range s.d.m.byPiece[piece] {
		changed = s.rest(s.next.node[x].acts[0], 0) || changed
	}
	return changed
}

// minutes are whole ones, so that no plan asks for odd seconds.
func minutes(seconds float64) Tick { return Tick(seconds/60) * 60 }

// slack is how much later a node could start without pushing what follows it.
func (s *annealer) slack(first int32) Tick {
	p, room := s.d.m.p, never
	for _, a := range s.next.node[first].acts {
		me := &s.seen[a]
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[j]
			if to := &s.seen[arc.To]; to.on {
				room = min(room, to.start-anchor(arc, me)-Tick(arc.Min))
			}
		}
	}
	return room
}

// later lets a node wait, most often as long as nothing that follows waits for
// it: pieces then spend less time between their first and last operation.
func (s *annealer) later() bool {
	a := s.anyNode()
	room := s.slack(a)
	if room <= 0 {
		return false
	}
	if room >= never {
		room = minutes(math.Abs(s.distance()))
	}
	if s.rng.IntN(3) == 0 {
		room = minutes(float64(room) * s.rng.Float64())
	}
	return s.rest(a, s.starts[a]+room)
}

// beside lets a node start, or end, when something else starts or ends.
func (s *annealer) beside() bool {
	a, x := s.anyNode(), s.anyFree()
	me, other := &s.seen[a], &s.seen[x]
	marks := [...]Tick{other.setup, other.start, other.run, other.runEnd, other.unload, other.end}
	t := marks[s.rng.IntN(len(marks))]
	switch s.rng.IntN(4) {
	case 0:
		t -= me.end - me.start
	case 1:
		t -= me.runEnd - me.start
	case 2:
		t += me.start - me.setup
	}
	return s.rest(a, t)
}

// laterPiece lets all of a piece that is not begun wait by as much.
func (s *annealer) laterPiece() bool {
	by := minutes(s.distance() / 4)
	for _, a := range s.d.m.byPiece[s.d.m.p.Acts[s.anyFree()].PieceIx] {
		if s.next.key[a] > settledKey {
			s.next.fine[a].rest = max(0, s.starts[a]+by)
		}
	}
	return true
}

// sooner lifts what keeps a node, or all of a piece, from starting.
func (s *annealer) sooner() bool {
	a := s.anyNode()
	if s.rng.IntN(3) > 0 {
		return s.rest(a, 0)
	}
	return s.unrestAll(s.d.m.p.Acts[a].PieceIx)
}

// otherCrew turns the crews for one part of a node that has more than one to
// choose from.
func (s *annealer) otherCrew() bool {
	c := s.crewed[s.rng.IntN(len(s.crewed))]
	f := &s.next.fine[s.next.node[c.act].acts[0]]
	was := f.turn
	f.turn = was.with(c.part, uint16(s.rng.IntN(c.crews)))
	return f.turn != was
}

// manned is a part of an activity, or the making of its mix, that one of
// several crews may do.
type manned struct {
	act   int32
	part  resources.Part
	crews int // how many turns of them there are to choose from
}

// choices lists what of the free activities more than one crew may do.
func (m *model) choices(free []int32) []manned {
	p := m.p
	var list []manned
	for _, a := range free {
		act := &p.Acts[a]
		most := [mixing + 1]int{}
		of := func(part resources.Part, skill int32) {
			if skill >= 0 {
				most[part] = max(most[part], len(p.Skills[skill].Crews))
			}
		}
		for k := act.ModeAt; k < act.ModeTo; k++ {
			md := &p.Modes[k]
			of(resources.PartSetup, p.Stations[md.Station].SetupSkill)
			for _, nd := range p.Needs[md.NeedAt:md.NeedTo] {
				of(nd.Part, nd.Skill)
			}
		}
		if act.Resin >= 0 {
			of(mixing, p.Resins[act.Resin].Skill)
		}
		for part, crews := range most {
			if crews > 1 {
				if act.MayPause && resources.Part(part) == resources.PartRun {
					crews++ // whoever ends first, or one of them
				}
				list = append(list, manned{a, resources.Part(part), min(crews, 1<<turnBits)})
			}
		}
	}
	return list
}

// otherMix lets a node begin a mix, or not, or have it made sooner.
func (s *annealer) otherMix() bool {
	a := s.anyNode()
	if s.next.node[a].resin < 0 {
		return false
	}
	if f := &s.next.fine[a]; s.short != nil && f.mix && s.rng.IntN(2) == 0 {
		f.lead = max(0, minutes(s.distance()/8))
	} else {
		f.mix, f.lead = !f.mix, 0
	}
	return true
}

// levels are those of the objective that count, without the first.
func (m *model) levels() []int {
	goal, told := &m.p.Goal, false
	for a := range m.p.Acts {
		told = told || m.p.Acts[a].Was != nil
	}
	var counts [len(Cost{})]bool
	for _, t := range []resources.Term{goal.Lost, goal.Tardiness, goal.Oven, goal.SetupTime, goal.SetupCost, goal.Discard, goal.Flow} {
		counts[t.Level] = counts[t.Level] || t.Weight > 0
	}
	counts[goal.Churn.Level] = counts[goal.Churn.Level] || told && goal.Churn.Weight > 0
	var levels []int
	for i := 1; i < len(counts); i++ {
		if counts[i] {
			levels = append(levels, i)
		}
	}
	return levels
}

// refinable tells whether anything is left to a fine search: costs that can
// fall when work starts later, or a choice of crews.
func (m *model) refinable() bool {
	goal := &m.p.Goal
	for _, t := range []resources.Term{goal.Oven, goal.SetupTime, goal.SetupCost, goal.Discard, goal.Flow} {
		if t.Weight > 0 {
			return true
		}
	}
	for i := range m.p.Skills {
		if len(m.p.Skills[i].Crews) > 1 {
			return true
		}
	}
	return false
}
