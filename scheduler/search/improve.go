// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math"
	"math/rand/v2"
	"slices"

	"towpath/scheduler"
)

// Options steer an improvement. The same problem, start, seed and iteration
// count give the same plan, byte for byte; a stop by Progress is as good a
// plan, but where it stops depends on the machine.
type Options struct {
	Seed       uint64
	Iterations int64          // 0: no limit but Progress
	Progress   func() float64 // share of the budget used, ≥ 1 to stop; nil: iterations alone
	Start      *scheduler.Plan
}

// Result is what a search found.
type Result struct {
	Plan       *scheduler.Plan
	Cost       Cost
	Bound      Cost
	Bounds     []PartBound // of each part of the objective; Bound may know more, from an exact proof
	Iterations int64
	Optimal    bool // cost and bound meet, and no wait is broken that need not be
}

// Improve searches for a better plan: simulated annealing over the order of
// work and the membership of loads, every solution timed by the serial
// schedule generation scheme, so that each is feasible. It starts from
// o.Start with its times found again, or from a construction when that is nil,
// and never returns worse.
func Improve(p *scheduler.Problem, o Options) (Result, error) {
	d, err := newDecoder(p)
	if err != nil {
		return Result{}, explained(p, err)
	}
	var g *genome
	if o.Start != nil {
		if g, err = d.like(o.Start); err == nil && !d.decode(g) {
			g = nil
		}
	}
	patched := g != nil
	if g == nil {
		if g, err = d.start(); err != nil {
			return Result{}, explained(p, err)
		}
	}
	parts := bounds(d.m)
	s := &annealer{d: d, o: o, rng: rand.New(rand.NewPCG(o.Seed, 0x746f7770617468)), bound: weighed(parts), lapsed: d.m.lapsed()}
	s.begin(g)
	if patched && d.m.knotted {
		s.afresh()
	}
	if o.Progress == nil || o.Progress() < 1 {
		s.tryExact()
	}
	s.run()
	if !d.decode(s.best) {
		return Result{}, d.fail.err(p)
	}
	plan := d.emit()
	plan.Seed, plan.Iterations = o.Seed, s.count
	return Result{
		Plan: plan, Cost: s.bestValue.cost, Bound: s.bound, Bounds: parts, Iterations: s.count,
		Optimal: s.optimal(),
	}, nil
}

// annealer is one run of simulated annealing.
type annealer struct {
	d      *decoder
	o      Options
	rng    *rand.Rand
	bound  Cost
	lapsed int // waits that no plan keeps

	now, best, next     *genome
	nowValue, bestValue value
	count               int64
	heat                [len(Cost{})]float64   // temperature at the start, in guide units, per focus
	lesson              [len(Cost{})][]float64 // how much worse the first moves made it
	levelLesson         [len(Cost{})][]float64 // sorted, by the first level that a move made worse
	began               float64                // share of the budget used before the first move
	cycles, cycle       int                    // of cooling, and the one in hand
	fine                bool                   // moves also settle what the placing decides otherwise
	focus               int                    // levels before it must not become worse
	levels              []int                  // that count, but the first
	seen                []placed               // per act, in now; of a fine search
	free                []int32                // activities that may move
	batch               []int32                // those of them that may share a load
	choice              []int32                // those with more than one station
	crewed              []manned               // what more than one crew may do
	resins              bool                   // some of them are wound from resin
	span                float64                // how long the plan is, in keys
	starts              []Tick                 // per act, in now
	station             []int32                // per act, in now
	lateness            []float64              // per line, in now: weighted, 0 when on time
	routes              []int32                // by piece, of one number where they go the same way
	chains              chains                 // what keeps orders late
	rivals              []int32                // working space
	company             []int32                // working space
	ceiling             *ceiling               // of a solution that is taken; nil: none yet
	short               *cycles                // of a small problem; else nil
}

func (s *annealer) begin(g *genome) {
	s.now, s.best, s.next = g, g.clone(), g.clone()
	s.nowValue = s.d.assess()
	s.bestValue = s.nowValue
	p := s.d.m.p
	low, high := never, Tick(0)
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.Fixed != nil || s.d.m.first[a] {
			continue
		}
		s.free = append(s.free, int32(a))
		if act.Key >= 0 && act.Load < 0 {
			s.batch = append(s.batch, int32(a))
		}
		if act.ModeTo-act.ModeAt > 1 {
			s.choice = append(s.choice, int32(a))
		}
		s.resins = s.resins || act.Resin >= 0
		low, high = min(low, s.d.b.at[a].start), max(high, s.d.b.at[a].end)
	}
	s.crewed = s.d.m.choices(s.free)
	s.span = max(1, float64(high-low))
	s.starts = make([]Tick, len(p.Acts))
	s.station = make([]int32, len(p.Acts))
	s.chains.begin, s.chains.end = make([]Tick, len(p.Acts)), make([]Tick, len(p.Acts))
	s.lateness = make([]float64, len(p.Lines))
	s.levels = s.d.m.levels()
	s.routes = s.d.m.routes()
	s.remember()
	if !s.d.m.knotted {
		s.rekey()
	}
}

// afresh lets the search go on from a construction, with the plan it began with
// as the best so far: a plan that has been patched for long may be far from
// what a fresh one would be, and its keys say when things are, not who matters.
func (s *annealer) afresh() {
	if s.o.Progress != nil && s.o.Progress() >= 1 {
		return
	}
	fresh, err := s.d.start()
	if err != nil {
		return
	}
	s.next.copyFrom(fresh)
	if s.d.decode(s.next) {
		s.accept(s.d.assess())
	}
}

// tryExact takes over what the exact method proves of a small problem.
func (s *annealer) tryExact() {
	said, starts, floor := prove(s.d.m)
	if said != proven {
		return
	}
	for i := range floor {
		s.bound[i] = max(s.bound[i], floor[i])
	}
	s.next.copyFrom(s.now)
	for a := range s.next.key {
		s.next.key[a] = float64(starts[a])
	}
	copy(s.next.floor, starts)
	if s.d.decode(s.next) {
		s.accept(s.d.assess())
	}
	// The moves start without the floor, which would hold them down.
	s.next.copyFrom(s.now)
	clear(s.next.floor)
	if s.d.decode(s.next) {
		s.accept(s.d.assess())
	}
}

// run anneals until the budget is used up or nothing better is possible.
func (s *annealer) run() {
	if len(s.free) == 0 {
		return
	}
	if s.d.m.sequenced() {
		s.arrange()
		return
	}
	s.inCycles()
	s.began = s.share()
	for {
		share := s.share()
		if share >= 1 || s.optimal() {
			return
		}
		s.step(s.temperature(share))
	}
}

// optimal tells whether nothing better than the best is possible.
func (s *annealer) optimal() bool {
	return s.bestValue.cost == s.bound && s.bestValue.breached <= s.lapsed
}

// share is how much of the budget is used; 1 and more: stop.
func (s *annealer) share() float64 {
	share := 0.0
	switch {
	case s.o.Iterations > 0:
		share = float64(s.count) / float64(s.o.Iterations)
	case s.o.Progress == nil:
		return 1
	}
	if s.o.Progress != nil {
		share = max(share, s.o.Progress())
	}
	return share
}

// The cooling: the first moves only go downhill and show how much worse a move
// makes things as a rule; that, times more the longer the search will be, is
// the heat. A long search cools several times, each time from the best so far.
const (
	lessons    = 40
	cycleMoves = 30000
	mostCycles = 10
	coolest    = 0.01
	fineCycles = 4
)

// temperature is the heat for a move when share of the budget is used.
func (s *annealer) temperature(share float64) float64 {
	// How many moves the budget is good for, from what they took so far.
	moves := float64(s.count) / max(share, 1e-6)
	if s.cycles == 0 {
		if len(s.lesson[0]) < lessons {
			return 0
		}
		if s.d.m.refinable() {
			// What was done before the first move is no measure of moves.
			moves = float64(s.count) / max(share-s.began, 1e-6)
		}
		s.cycles = int(min(max(moves/cycleMoves, 1), mostCycles))
	}
	cycle := min(int(share*float64(s.cycles)), s.cycles-1)
	if cycle > s.cycle {
		s.cycle = cycle
		s.turn()
	}
	if s.heat[s.focus] == 0 {
		lesson := s.lesson[s.focus]
		if len(lesson) < lessons {
			return 0
		}
		slices.Sort(lesson)
		s.heat[s.focus] = lesson[len(lesson)/2] * min(max(0.2*(math.Log10(moves)-2.5), 0.03), 0.6)
	}
	done := share*float64(s.cycles) - float64(cycle)
	return s.heat[s.focus] * math.Pow(0.8, float64(cycle)) * math.Pow(coolest, done)
}

// turn begins another cycle from the best so far. In a search of many cycles
// all but the first are fine, and every other one looks at a later level alone,
// which the heat of the levels before it would drown.
func (s *annealer) turn() {
	s.focus = 0
	if s.fine = s.cycles >= fineCycles && s.d.m.refinable(); s.fine && s.cycle%2 == 1 && len(s.levels) > 0 {
		s.focus = s.levels[s.cycle/2%len(s.levels)]
	}
	s.next.copyFrom(s.best)
	if s.d.decode(s.next) {
		s.accept(s.d.assess())
	}
}

// worse is how much worse a solution is than the one in hand, in guide units of
// the levels in focus; in a small problem as the cycle prices it.
func (s *annealer) worse(v *value) float64 {
	for i := range s.focus {
		if more := v.cost[i] - s.nowValue.cost[i]; more != 0 {
			return math.Inf(int(more))
		}
	}
	switch {
	case s.short != nil:
		return s.short.worse(v, &s.nowValue, s.focus)
	case s.focus == 0:
		return v.guide - s.nowValue.guide
	}
	var sum float64
	for i := s.focus; i < len(v.cost); i++ {
		sum += scale[i] * float64(v.cost[i]-s.nowValue.cost[i])
	}
	return sum
}

// step tries one change.
func (s *annealer) step(heat float64) {
	s.count++
	s.next.copyFrom(s.now)
	if !s.change() {
		return
	}
	if s.short != nil && s.rng.IntN(100) < paired {
		s.changeOrder()
	}
	luck := s.rng.Float64()
	s.limit(s.hottest(heat), luck)
	ok := s.d.decode(s.next)
	s.d.ceiling = nil
	if !ok {
		return
	}
	v := s.d.assess()
	if v.breached != s.nowValue.breached { // no date is worth a tube that waits too long
		if v.breached < s.nowValue.breached {
			s.accept(v)
		}
		return
	}
	worse := s.worse(&v)
	if worse > 0 && s.hopeful(&v) && s.short.retimer.retime(s.next, s.rng.IntN(2) == 0) {
		s.count++
		if !s.d.decode(s.next) {
			return
		}
		if v = s.d.assess(); v.breached != s.nowValue.breached {
			return
		}
		worse = s.worse(&v)
	}
	if worse > 0 && len(s.lesson[s.focus]) < lessons && !math.IsInf(worse, 1) {
		s.lesson[s.focus] = append(s.lesson[s.focus], worse)
	}
	if worse > 0 && luck >= math.Exp(-worse/max(s.heatFor(&v, worse, heat), 1e-9)) {
		return
	}
	s.accept(v)
	if s.count%16 == 0 && !s.d.m.knotted {
		s.rekey()
	}
}

// limit has decode give up a solution that would not be taken.
func (s *annealer) limit(heat, luck float64) {
	if s.short != nil || s.focus > 0 || len(s.lesson[0]) < lessons || s.nowValue.breached > s.lapsed {
		return
	}
	if s.ceiling == nil {
		s.ceiling = newCeiling(s.d)
	}
	// A little more, as sums differ by the order of what is added.
	s.ceiling.most = s.nowValue.guide - max(heat, 1e-9)*math.Log(luck) + 1e-9*math.Abs(s.nowValue.guide)
	s.d.ceiling = s.ceiling
}

// rekey makes keys speak of the times on the board, when that changes nothing
// for the worse: moves then mean what they say. Where things are knotted they
// would not: there keys say who matters.
func (s *annealer) rekey() {
	s.next.copyFrom(s.now)
	for a := range s.next.key {
		if s.now.key[a] > settledKey {
			s.next.key[a] = float64(s.d.b.at[a].start)
		}
	}
	if !s.d.decode(s.next) {
		return
	}
	v := s.d.assess()
	if s.nowValue.better(&v) {
		return
	}
	s.accept(v)
}

// accept makes the solution on the board the one in hand.
func (s *annealer) accept(v value) {
	s.now, s.next = s.next, s.now
	s.nowValue = v
	s.remember()
	if v.better(&s.bestValue) {
		s.best.copyFrom(s.now)
		s.bestValue = v
	}
}
