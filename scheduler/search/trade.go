// SPDX-License-Identifier: Apache-2.0

package search

import "math"

// In a shop that is asked for more than it can do, which orders are lost is a
// choice. Moves of one piece or one line change it only by way of plans that lose
// both orders.

// traded is of how many moves in a hundred a lost order trades places with
// another, as long as any is lost.
const traded = 10

// trading draws whether to trade. Not before the heat is known: a trade makes
// much worse what it makes worse, which is no lesson for other moves.
func (s *annealer) trading() bool {
	goal := &s.d.m.p.Goal
	return s.short == nil && s.heat[0] != 0 && goal.Lost.Weight > 0 && s.nowValue.cost[levelOf(goal.Lost)] > 0 && s.rng.IntN(100) < traded
}

// trade brings a lost line to where another begins and pushes that one back, at
// most a little behind where the lost one was. One time in four it only pushes
// the lost one further back, out of the others' way.
func (s *annealer) trade() bool {
	lost := s.anyLine(true)
	if lost < 0 {
		return false
	}
	other, back := s.anyLine(false), s.span*s.rng.Float64()/8
	if other < 0 || s.rng.IntN(4) == 0 {
		return s.shiftLine(lost, back, false)
	}
	by := s.firstKey(other) - s.firstKey(lost) - 1
	apart := s.rng.IntN(100) < ownLoads
	s.shiftLine(lost, by, apart)
	s.shiftLine(other, max(0, -by)*s.rng.Float64()+back, apart)
	return true
}

// anyLine is a line of which something may move, of an event order that is late or
// else of any other; -1: none was found in a few tries.
func (s *annealer) anyLine(lost bool) int32 {
	p := s.d.m.p
	for range 24 {
		a := s.anyFree()
		l := p.Acts[a].Line
		if l >= 0 && s.next.key[a] > settledKey && (p.Lines[l].Event && s.lateness[l] > 0) == lost {
			return l
		}
	}
	return -1
}

// firstKey is the least key of what may move of a line.
func (s *annealer) firstKey(line int32) float64 {
	least := math.Inf(1)
	for _, a := range s.d.m.p.Lines[line].Acts {
		if key := s.next.key[a]; key > settledKey {
			least = min(least, key)
		}
	}
	return least
}
