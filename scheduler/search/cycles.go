// SPDX-License-Identifier: Apache-2.0

package search

import "math"

// cycles is a search of a small problem: many short coolings, each with its own
// exchange between the levels of the objective, and after each the best times
// for what it has come to.
type cycles struct {
	typical [places]float64 // by how much a move changes each level
	price   [places]float64 // of one unit of it in the cycle in hand
	trade   float64         // what a typical change is worth in the level before it
	far     bool            // how far lost orders are from being saved counts
	retimer *retimer
	nodes   []*node // working space
}

// places are the levels, and behind them how far lost orders are from being
// saved.
const (
	farPlace = len(Cost{})
	places   = farPlace + 1
)

// A cycle is short: what is lost when it comes to nothing is little, and the
// next begins elsewhere. The figures were tried on shops of up to ten pieces.
const (
	smallSize   = 80 // most free activities of a small problem
	cycleShort  = 1000
	cycleLater  = 4000 // of one that looks at a later level alone
	leastCycles = 10
	trials      = 300
	cooled      = 0.01
	newStarts   = 5  // of a hundred cycles begin at random,
	fromHere    = 50 // so many where the last one ended, the others at the best so far
	farCycles   = 50 // of a hundred look at how far lost orders are
	farFew      = 15 // the same, when no fewer can be lost
	laterCycles = 50 // of a hundred look at a later level alone, with those before it held: their heat would drown it
	paired      = 40 // of a hundred moves are two at once: one alone would only make things worse
	retried     = 30 // of a hundred solutions for the worse that are hopeful get the best times before they are judged
	timed       = 10 // of a thousand are followed by a look for the best times
)

// What a cycle may begin with, drawn at random: its heat, in typical changes of
// the first level that changes, and its trade.
var (
	warmths = [...]float64{0.03, 0.1, 0.3, 1}
	trades  = [...]float64{0.003, 0.03, 0.1, 0.5}
)

// inCycles searches until the budget is used up or nothing better is possible.
// It leaves alone what is not small, and a budget that is good for a few cycles
// only: one long cooling makes more of that.
func (s *annealer) inCycles() {
	if len(s.free) > smallSize || !s.d.m.refinable() || s.o.Iterations > 0 && s.o.Iterations < leastCycles*cycleShort {
		return
	}
	s.short = &cycles{retimer: newRetimer(s.d)}
	s.fine = true
	s.remember()
	s.sample()
	if s.budget() < leastCycles*cycleShort {
		s.short, s.fine = nil, false
		return
	}
	for s.goesOn() {
		s.begins()
		s.anneal(s.cycleMoves())
		s.polish()
	}
}

func (s *annealer) goesOn() bool { return s.share() < 1 && !s.optimal() }

// budget is how many moves are left.
func (s *annealer) budget() float64 {
	share := s.share()
	return float64(s.count) * (1 - share) / max(share, 1e-6)
}

// cycleMoves is how long a cycle is: no longer than what is left of the budget.
func (s *annealer) cycleMoves() int {
	moves := float64(cycleShort)
	if s.focus > 0 {
		moves = cycleLater
	}
	return int(min(max(s.budget(), 1), moves))
}

// anneal is one cycle, cooled down to where only the last level still changes.
func (s *annealer) anneal(moves int) {
	levels := 0
	for i := range s.nowValue.cost {
		if s.short.typical[i] > 0 && i >= s.focus {
			levels++
		}
	}
	hot := warmths[s.rng.IntN(len(warmths))]
	cold := cooled * math.Pow(s.short.trade, float64(max(levels-1, 0)))
	for i := 0; i < moves && s.goesOn(); i++ {
		s.step(hot * math.Pow(cold/hot, float64(i)/float64(moves)))
		if s.rng.IntN(1000) < timed {
			s.retimed(s.rng.IntN(2) == 0, s.rng.IntN(2) == 0)
		}
	}
}

// sample learns what moves change, on a walk at random.
func (s *annealer) sample() {
	for k := 0; k < trials && s.share() < 0.05; k++ {
		s.count++
		s.next.copyFrom(s.now)
		if !s.change() || !s.d.decode(s.next) {
			continue
		}
		v := s.d.assess()
		s.short.learn(&v, &s.nowValue)
		if k%10 == 0 && v.breached <= s.nowValue.breached {
			s.accept(v)
		}
	}
}

// learn takes in how far two solutions differ: the mean counts.
func (c *cycles) learn(v, now *value) {
	for i := range c.typical {
		change := math.Abs(v.far - now.far)
		if i < farPlace {
			change = math.Abs(float64(v.cost[i] - now.cost[i]))
		}
		switch {
		case change == 0:
		case c.typical[i] == 0:
			c.typical[i] = change
		default:
			c.typical[i] += 0.05 * (change - c.typical[i])
		}
	}
}

// priced sets what a unit of each level costs, from the one in focus on.
func (c *cycles) priced(focus int) {
	worth := 1.0
	for i := range farPlace {
		c.price[i] = 0
		if c.typical[i] > 0 && i >= focus {
			c.price[i] = worth / c.typical[i]
			worth *= c.trade
		}
		if i == 0 {
			c.price[farPlace] = 0
			if c.far && c.typical[farPlace] > 0 {
				c.price[farPlace] = worth / c.typical[farPlace]
			}
		}
	}
}

// worse is by how much a solution is worse than the one in hand, with the same in
// the levels before the one in focus. A level that has never changed before gets its
// price when it does.
func (c *cycles) worse(v, now *value, focus int) float64 {
	var sum float64
	for i := range v.cost {
		change := float64(v.cost[i] - now.cost[i])
		if change != 0 && c.typical[i] == 0 {
			c.typical[i] = math.Abs(change)
			c.priced(focus)
			return c.worse(v, now, focus)
		}
		sum += c.price[i] * change
	}
	return sum + c.price[farPlace]*(v.far-now.far)
}

// begins chooses where and how the next cycle begins.
func (s *annealer) begins() {
	c := s.short
	c.trade = trades[s.rng.IntN(len(trades))]
	c.far = s.rng.IntN(100) < farCycles
	if s.bestValue.cost[0] == s.bound[0] {
		c.far = s.rng.IntN(100) < farFew
	}
	s.focus = 0
	if len(s.levels) > 0 && s.rng.IntN(100) < laterCycles {
		if level := s.levels[s.rng.IntN(len(s.levels))]; c.typical[level] > 0 {
			s.focus, c.far = level, false
		}
	}
	c.priced(s.focus)
	switch k := s.rng.IntN(100); {
	case s.focus > 0:
		s.next.copyFrom(s.best)
	case k < newStarts:
		s.next.copyFrom(s.best)
		s.scatter()
	case k < newStarts+fromHere:
		s.next.copyFrom(s.now)
	default:
		s.next.copyFrom(s.best)
	}
	s.count++
	if s.d.decode(s.next) {
		s.accept(s.d.assess())
	}
}

// scatter makes s.next a start at random: pieces in any order, loads broken up
// and formed anew, nothing else settled.
func (s *annealer) scatter() {
	for _, acts := range s.d.m.byPiece {
		by := s.span * (s.rng.Float64() - 0.5)
		for _, a := range acts {
			if s.next.key[a] > settledKey {
				s.next.key[a] += by + 0.05*s.distance()
				s.next.fine[a], s.next.want[a], s.next.out[a] = fine{}, -1, 0
			}
		}
	}
	for range s.batch {
		s.short.nodes = append(s.short.nodes[:0], s.next.node...)
		ok := true
		switch s.rng.IntN(4) {
		case 0:
			ok = s.leaveLoad()
		case 1:
			ok = s.joinLoad()
		}
		if !ok {
			copy(s.next.node, s.short.nodes)
		}
	}
}

// hopeful draws whether a solution is given the best times before it is judged: work that
// goes in another order, or on another day, is as a rule worth it only when all around
// moves too. It is in a cycle that looks at a later level alone, and only where no level
// before that of the time in the shop is worse, for times hardly mend that.
func (s *annealer) hopeful(v *value) bool {
	if s.short == nil || s.focus == 0 || s.rng.IntN(100) >= retried {
		return false
	}
	for i := range min(s.d.m.p.Goal.Flow.Level, len(v.cost)-1) {
		if v.cost[i] > s.nowValue.cost[i] {
			return false
		}
	}
	return true
}
