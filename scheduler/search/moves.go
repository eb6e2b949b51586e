// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math"
	"slices"
)

// remember notes where the board, which holds now, has everything.
func (s *annealer) remember() {
	p := s.d.m.p
	if s.fine {
		s.seen = append(s.seen[:0], s.d.b.at...)
	}
	s.chains.known = false
	for a := range p.Acts {
		t := &s.d.b.at[a]
		s.starts[a] = t.start
		s.station[a] = t.node.options[t.option].station
		s.chains.begin[a], s.chains.end[a] = t.setup, t.end
	}
	for l := range p.Lines {
		line := &p.Lines[l]
		late := float64(s.d.completion(int32(l)) - line.Due)
		s.lateness[l] = max(0, late) * float64(line.Weight)
		switch {
		case !line.Event || late <= 0:
		case s.short != nil && !s.short.far:
			s.lateness[l] = 0
		default:
			s.lateness[l] += scale[0] * float64(line.Weight)
		}
	}
}

// change makes s.next differ from s.now by one move; false when the move found
// nothing to do.
func (s *annealer) change() bool {
	if s.fine && s.rng.IntN(100) < fineMoves {
		return s.refine()
	}
	if s.trading() {
		return s.trade()
	}
	if len(s.batch) > 0 && s.rng.IntN(100) < 35 {
		switch s.rng.IntN(4) {
		case 0:
			return s.leaveLoad()
		case 1:
			return s.swapLoads()
		case 2:
			return s.mergeLoads()
		}
		return s.joinLoad()
	}
	return s.changeOrder()
}

// changeOrder makes a move that leaves loads as they are.
func (s *annealer) changeOrder() bool {
	if s.rng.IntN(100) < binding {
		return s.passBinding()
	}
	switch k := s.rng.IntN(100); {
	case k < 25:
		return s.pullLate()
	case k < 40:
		return s.shiftPiece(s.anyFree(), s.distance())
	case k < 60:
		return s.swapRivals()
	case k < 80:
		return s.passRival()
	case k < 88:
		return s.shiftAct()
	case k < 94 && len(s.choice) > 0:
		return s.otherStation()
	}
	return s.shuffle()
}

func (s *annealer) anyFree() int32 { return s.free[s.rng.IntN(len(s.free))] }

// distance is how far to move in keys, either way, small moves likelier than large ones.
func (s *annealer) distance() float64 {
	d := s.span * math.Pow(s.rng.Float64(), 4)
	if s.rng.IntN(2) == 0 {
		return -d
	}
	return d
}

// shiftPiece moves everything of an activity's piece in the order, as a rule
// with the pieces it shares loads with: a load comes no sooner than its last
// member.
func (s *annealer) shiftPiece(a int32, by float64) bool {
	piece := s.d.m.p.Acts[a].PieceIx
	if !s.d.m.knotted || s.rng.IntN(10) < 7 {
		return s.shiftAll(piece, by)
	}
	s.company = append(s.company[:0], piece)
	for _, x := range s.d.m.byPiece[piece] {
		for _, mate := range s.next.node[x].acts {
			if p := s.d.m.p.Acts[mate].PieceIx; !slices.Contains(s.company, p) {
				s.company = append(s.company, p)
			}
		}
	}
	moved := false
	for _, p := range s.company {
		moved = s.shiftAll(p, by) || moved
	}
	return moved
}

// shiftAll moves everything of one piece in the order.
func (s *annealer) shiftAll(piece int32, by float64) bool {
	moved := false
	for _, x := range s.d.m.byPiece[piece] {
		if s.next.key[x] > settledKey {
			s.next.key[x] += by
			moved = true
		}
	}
	if s.fine && s.rng.IntN(100) < unrested {
		s.unrestAll(piece)
	}
	return moved
}

// pullLate moves a piece of a late line forward, lines that cost more likelier.
func (s *annealer) pullLate() bool {
	var sum float64
	for _, l := range s.lateness {
		sum += l
	}
	if sum == 0 {
		return s.shiftPiece(s.anyFree(), s.distance())
	}
	at := s.rng.Float64() * sum
	line := 0
	for at -= s.lateness[0]; at > 0 && line+1 < len(s.lateness); {
		line++
		at -= s.lateness[line]
	}
	acts := s.d.m.p.Lines[line].Acts
	if len(acts) == 0 {
		return false
	}
	by := -s.span * math.Pow(s.rng.Float64(), 3)
	first := acts[s.rng.IntN(len(acts))]
	if s.rng.IntN(3) > 0 {
		return s.shiftPiece(first, by)
	}
	return s.shiftLine(int32(line), by, s.rng.IntN(100) < ownLoads)
}

// shiftLine moves all of a line in the order, apart: out of the loads it shares.
func (s *annealer) shiftLine(line int32, by float64, apart bool) bool {
	moved := false
	for _, a := range s.d.m.p.Lines[line].Acts {
		if s.next.key[a] > settledKey {
			s.next.key[a] += by
			moved = true
			if apart {
				s.splitLoad(a)
			}
		}
	}
	return moved
}

// ownLoads is of how many in a hundred late lines that are moved forward the pieces
// leave the loads they share with others: a load comes no sooner than its last member.
const ownLoads = 50

// splitLoad makes two loads of an activity's: its line's members, and the others.
func (s *annealer) splitLoad(a int32) {
	acts := s.d.m.p.Acts
	var own, rest []int32
	for _, x := range s.next.node[a].acts {
		if acts[x].Line == acts[a].Line {
			own = append(own, x)
		} else {
			rest = append(rest, x)
		}
	}
	if len(rest) == 0 {
		return
	}
	one, other := s.d.m.nodeOf(own), s.d.m.nodeOf(rest)
	if one == nil || other == nil {
		return
	}
	for _, x := range own {
		s.next.node[x] = one
	}
	for _, x := range rest {
		s.next.node[x] = other
	}
}

// shiftAct moves one activity in the order.
func (s *annealer) shiftAct() bool {
	a := s.anyFree()
	s.next.key[a] += s.distance() / 4
	return true
}

// rivalsOf lists the free activities on the same station as a that are near it
// in time.
func (s *annealer) rivalsOf(a int32) []int32 {
	s.rivals = s.rivals[:0]
	// A sample is enough: the likeliest rivals are found by nearness below.
	for range 24 {
		x := s.anyFree()
		if x != a && s.station[x] == s.station[a] {
			s.rivals = append(s.rivals, x)
		}
	}
	return s.rivals
}

// nearest is the rival whose start is nearest, now and then any rival.
func (s *annealer) nearest(a int32) int32 {
	best := int32(-1)
	gap := never
	rivals := s.rivalsOf(a)
	if len(rivals) > 0 && s.rng.IntN(4) == 0 {
		return rivals[s.rng.IntN(len(rivals))]
	}
	for _, x := range rivals {
		d := s.starts[x] - s.starts[a]
		if d < 0 {
			d = -d
		}
		if d < gap {
			best, gap = x, d
		}
	}
	return best
}

// swapRivals lets two activities on one station change places in the order.
func (s *annealer) swapRivals() bool {
	a := s.anyFree()
	b := s.nearest(a)
	if b < 0 {
		return false
	}
	changed := s.swapRests(a, b)
	s.next.key[a], s.next.key[b] = s.next.key[b], s.next.key[a]
	return changed || s.next.key[a] != s.next.key[b]
}

// passRival puts an activity just before another on its station, sometimes
// with its whole piece.
func (s *annealer) passRival() bool {
	a := s.anyFree()
	b := s.nearest(a)
	if b < 0 {
		return false
	}
	by := s.next.key[b] - s.next.key[a]
	if s.rng.IntN(2) == 0 {
		by--
	} else {
		by++
	}
	one, other := s.d.m.p.Acts[a].PieceIx, s.d.m.p.Acts[b].PieceIx
	if s.goesAlong(one, other) {
		return s.passAlong(one, other, by < 0)
	}
	if s.rng.IntN(2) == 0 {
		s.next.key[a] += by
		s.unrest(a)
		return true
	}
	return s.shiftPiece(a, by)
}

// otherStation sends a node to one of its stations, or lets it go where it ends
// first.
func (s *annealer) otherStation() bool {
	a := s.next.node[s.choice[s.rng.IntN(len(s.choice))]].acts[0]
	options := s.next.node[a].options
	want := int32(-1)
	if k := s.rng.IntN(len(options) + 1); k < len(options) {
		want = options[k].station
	}
	changed := s.next.want[a] != want
	s.next.want[a] = want
	return changed
}

// shuffle shifts a few pieces near one another, each on its own.
func (s *annealer) shuffle() bool {
	a := s.anyFree()
	moved := s.shiftPiece(a, s.distance()/8)
	for range 3 {
		if b := s.nearest(a); b >= 0 {
			moved = s.shiftPiece(b, s.distance()/8) || moved
		}
	}
	return moved
}

func (s *annealer) anyBatch() int32 { return s.batch[s.rng.IntN(len(s.batch))] }

// partner is a batch activity that may share a load with a and does not, the
// nearest of a few.
func (s *annealer) partner(a int32) int32 {
	best := int32(-1)
	gap := never
	for range 16 {
		x := s.anyBatch()
		if s.next.node[x] == s.next.node[a] || s.d.m.p.Acts[x].Key != s.d.m.p.Acts[a].Key {
			continue
		}
		d := s.starts[x] - s.starts[a]
		if d < 0 {
			d = -d
		}
		if d < gap {
			best, gap = x, d
		}
	}
	return best
}

// without takes an activity out of its load.
func (s *annealer) without(a int32) bool {
	n := s.next.node[a]
	if len(n.acts) == 1 {
		return true
	}
	rest := make([]int32, 0, len(n.acts)-1)
	for _, x := range n.acts {
		if x != a {
			rest = append(rest, x)
		}
	}
	return s.d.m.regroup(s.next, rest)
}

// leaveLoad gives a member a load of its own.
func (s *annealer) leaveLoad() bool {
	a := s.anyBatch()
	if len(s.next.node[a].acts) == 1 || !s.without(a) {
		return false
	}
	s.next.node[a] = s.d.m.singles[a]
	return true
}

// joinLoad moves an activity into another's load.
func (s *annealer) joinLoad() bool {
	a := s.anyBatch()
	b := s.partner(a)
	if b < 0 {
		return false
	}
	both := append(append(make([]int32, 0, 16), s.next.node[b].acts...), a)
	return s.without(a) && s.d.m.regroup(s.next, both)
}

// swapLoads lets two activities change loads.
func (s *annealer) swapLoads() bool {
	a := s.anyBatch()
	b := s.partner(a)
	if b < 0 {
		return false
	}
	replace := func(acts []int32, out, in int32) []int32 {
		list := make([]int32, len(acts))
		for i, x := range acts {
			if x == out {
				x = in
			}
			list[i] = x
		}
		return list
	}
	one := replace(s.next.node[a].acts, a, b)
	two := replace(s.next.node[b].acts, b, a)
	return s.d.m.regroup(s.next, one) && s.d.m.regroup(s.next, two)
}

// mergeLoads makes one load of two.
func (s *annealer) mergeLoads() bool {
	a := s.anyBatch()
	b := s.partner(a)
	if b < 0 {
		return false
	}
	both := append(append(make([]int32, 0, 16), s.next.node[a].acts...), s.next.node[b].acts...)
	return s.d.m.regroup(s.next, both)
}
