// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math"
	"slices"
)

// arrange anneals a problem in which order alone settles a solution, and
// leaves the best it finds with the annealer.
func (s *annealer) arrange() {
	q := newSequences(s.d)
	if !q.settle(math.Inf(1)) {
		return
	}
	r := newArranger(q, s.rng)
	now := q.value()
	best := now
	var kept picture
	q.copyTo(&kept)
	c := cooling{size: len(q.itemOf)}
	for {
		if s.count%looks == 0 {
			share := s.share()
			if share >= 1 || best.cost == s.bound {
				break
			}
			if c.next(share, s.count) {
				q.load(&kept)
				now = q.value()
			}
		}
		s.count++
		q.begin()
		limit := now.guide + c.patience(s.rng.Float64())
		if !r.change() || !q.settle(limit) {
			q.undo()
			continue
		}
		v := q.value()
		if v.guide > limit || c.probes(v.guide-now.guide) {
			q.undo()
			continue
		}
		now = v
		if v.cost.Less(best.cost) {
			best = v
			q.copyTo(&kept)
		}
	}
	s.next.copyFrom(s.now)
	if kept.write(s.d.m, s.next) && s.d.decode(s.next) {
		s.accept(s.d.assess())
	}
}

const (
	looks      = 16  // moves between two looks at the budget
	samples    = 200 // changes for the worse that tell how hot to begin
	roundMoves = 10000
	mostRounds = 60
	coldest    = 1e-3 // of the heat at the end of a round
)

// heats of the rounds, as shares of the heat: hot rounds go far, cool ones deep.
var heats = [...]float64{0.3, 0.1, 1, 0.2, 0.05}

// cooling says which changes for the worse are taken. The first moves only go
// downhill and show how much worse a move makes things as a rule: that is the
// heat. From there it cools in rounds, more of them the smaller the problem and
// the larger the budget; each begins with the best so far.
type cooling struct {
	size   int // activities
	seen   []float64
	heat   float64
	from   float64 // share of the budget when the rounds began
	rounds int
	round  int
	now    float64
}

// next is told how much of the budget is used after so many moves. It is true
// when a new round begins.
func (c *cooling) next(share float64, moves int64) bool {
	if c.heat == 0 {
		if len(c.seen) < samples {
			return false
		}
		slices.Sort(c.seen)
		c.heat = c.seen[len(c.seen)/2]
		c.from = share
	}
	// How many moves the budget is good for, from what they took so far.
	if c.rounds == 0 && (share > 0.005 || moves > 100000) {
		total := float64(moves) / max(share, 1e-6)
		c.rounds = int(min(max(total/(roundMoves*float64(c.size)), 1), mostRounds))
	}
	done := (share - c.from) / (1 - c.from) * float64(max(c.rounds, 1))
	round := min(int(done), max(c.rounds, 1)-1)
	c.now = c.heat * heats[round%len(heats)] * math.Pow(coldest, done-float64(round))
	if round == c.round {
		return false
	}
	c.round = round
	return round%2 == 1 || round == c.rounds-1
}

// patience is how much worse a move may make things, given a random number in
// [0, 1): the rule of Metropolis et al. (1953), drawn before the move is timed.
func (c *cooling) patience(luck float64) float64 {
	if c.heat == 0 {
		return math.Inf(1)
	}
	return -c.now * math.Log(luck)
}

// probes notes what a move costs as long as the heat is not known; true for one
// that makes things worse, which is not taken.
func (c *cooling) probes(worse float64) bool {
	if c.heat > 0 || worse <= 0 {
		return false
	}
	c.seen = append(c.seen, worse)
	return true
}
