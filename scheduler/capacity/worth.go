// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// Effort is how hard the shop is solved. First it is solved well as it is; from
// that plan equally long searches set out, on the shop as it is and with each
// addition, so that what differs comes from the addition. No search returns
// worse than it began with: a worth is what has been found, at the least.
type Effort struct {
	Iterations int64 // of each of those searches; 0: DefaultIterations
	Seed       uint64
	Weeks      int         // forecast of so many weeks is solved as if it were ordered; 0: DefaultWorthWeeks, negative: none
	Stop       func() bool // asked now and then; true: give up; nil: never
	// First solves the shop as it is; nil: one search, firstTimes as long.
	First func(p *scheduler.Problem, iterations int64, seed uint64) (*scheduler.Plan, error)
}

// What an Effort does when it does not say.
const (
	DefaultIterations = 100
	DefaultWorthWeeks = 6
)

// firstTimes is how many times as long the first search is.
const firstTimes = 6

// ErrStopped is the error of what was given up.
var ErrStopped = errors.New("stopped")

// Standing is how a solved shop stands.
type Standing struct {
	Orders    int     `json:"orders" doc:"orders solved, with those the forecast stands for"`
	OnTime    int     `json:"on_time" doc:"orders complete by their due instant"`
	Late      int     `json:"late" doc:"firm orders that are not"`
	Lost      int     `json:"lost" doc:"event orders that are not"`
	LostHeavy int64   `json:"lost_weight" doc:"weight of the lost orders"`
	Tardiness float64 `json:"weighted_tardiness_hours" doc:"sum over orders of weight × hours late"`
}

func standing(x scheduler.Score) Standing {
	return Standing{Orders: x.Orders, OnTime: x.OnTime, Late: x.Late, Lost: x.Lost, LostHeavy: x.LostWeight, Tardiness: x.WeightedTardinessHours()}
}

// Worth is what one addition changes. Positive is better; an order saved may
// cost others their dates, so that tardiness alone can be below 0.
type Worth struct {
	Addition
	Saved     int      `json:"saved" doc:"event orders no longer lost"`
	Heavy     int64    `json:"saved_weight" doc:"their weight"`
	Tardiness float64  `json:"tardiness_hours" doc:"weighted tardiness that goes away, hours"`
	With      Standing `json:"with" doc:"how the shop stands with it"`
}

// Question is a shop solved as it is, against which additions are held. It may
// be asked from several goroutines at once.
type Question struct {
	state  *scheduler.State
	now    Tick
	effort Effort
	first  *scheduler.Plan
	rule   search.Rule // the plain rule that does best for the shop as it is
	Base   Standing    // how the shop stands as it is
	Pieces int         // solved
}

// Ask solves the shop as it is: its open orders, and the forecast of the weeks
// to come as if it were ordered, material for that taken to be there.
func Ask(in Input, e Effort) (*Question, error) {
	if in.State == nil || in.State.Plant == nil {
		return nil, errors.New("capacity: there is no plant")
	}
	e.Iterations = cmp.Or(e.Iterations, DefaultIterations)
	e.Weeks = cmp.Or(e.Weeks, DefaultWorthWeeks)
	s, err := foreseen(in, e.Weeks)
	if err != nil {
		return nil, err
	}
	q := &Question{state: s, now: in.Now, effort: e}
	for _, p := range s.Pieces {
		if !p.Scrapped {
			q.Pieces++
		}
	}
	if err = q.start(e); err != nil {
		return nil, err
	}
	score, err := q.solve(s)
	if err != nil {
		return nil, err
	}
	q.Base = standing(score)
	return q, nil
}

// Worth solves the shop with an addition.
func (q *Question) Worth(a Addition) (Worth, error) {
	s, err := q.state.OnPlant(a.Apply(q.state.Plant))
	if err != nil {
		return Worth{}, fmt.Errorf("with %s: %w", a.Key, err)
	}
	score, err := q.solve(s)
	if err != nil {
		return Worth{}, fmt.Errorf("with %s: %w", a.Key, err)
	}
	w := Worth{Addition: a, With: standing(score)}
	w.Saved, w.Heavy, w.Tardiness = q.Base.Lost-w.With.Lost, q.Base.LostHeavy-w.With.LostHeavy, q.Base.Tardiness-w.With.Tardiness
	return w, nil
}

// start solves the shop as it is, well.
func (q *Question) start(e Effort) error {
	problem, err := scheduler.Compile(q.state, q.now)
	if err != nil {
		return err
	}
	if e.First == nil {
		e.First = func(p *scheduler.Problem, iterations int64, seed uint64) (*scheduler.Plan, error) {
			r, err := search.Improve(p, search.Options{Seed: seed, Iterations: iterations, Progress: q.stopped})
			return r.Plan, err
		}
	}
	q.first, err = e.First(problem, firstTimes*e.Iterations, e.Seed)
	if err == nil && q.stopped() > 0 {
		err = ErrStopped
	}
	if err != nil {
		return err
	}
	q.rule = search.Weighted
	var best *scheduler.Plan
	for _, rule := range []search.Rule{search.LatestStart, search.Weighted} {
		if plan, err := search.ByRule(problem, rule); err == nil && (best == nil || better(q.state, plan, best)) {
			q.rule, best = rule, plan
		}
	}
	return nil
}

// stopped is the progress of a search: done when it is to be given up.
func (q *Question) stopped() float64 {
	if q.effort.Stop != nil && q.effort.Stop() {
		return 1
	}
	return 0
}

// solve sets out from the first plan.
func (q *Question) solve(s *scheduler.State) (scheduler.Score, error) {
	problem, err := scheduler.Compile(s, q.now)
	if err != nil {
		return scheduler.Score{}, err
	}
	// The first plan's order of work with the gaps closed, or the better plain
	// rule, takes up at once what an addition gives room for.
	from := q.first
	for _, start := range []func() (*scheduler.Plan, error){
		func() (*scheduler.Plan, error) { return search.Repair(problem, q.first) },
		func() (*scheduler.Plan, error) { return search.ByRule(problem, q.rule) },
	} {
		if plan, err := start(); err == nil && better(s, plan, from) {
			from = plan
		}
	}
	r, err := search.Improve(problem, search.Options{Seed: q.effort.Seed, Iterations: q.effort.Iterations, Progress: q.stopped, Start: from})
	if err != nil {
		return scheduler.Score{}, err
	}
	if q.stopped() > 0 {
		return scheduler.Score{}, ErrStopped
	}
	if broken := scheduler.Check(s, q.now, r.Plan); len(broken) > 0 {
		return scheduler.Score{}, fmt.Errorf("the plan fails verification: %s (and %d more)", broken[0], len(broken)-1)
	}
	return scheduler.Measure(s, r.Plan), nil
}

// better tells whether a plan is worth more than another.
func better(s *scheduler.State, a, b *scheduler.Plan) bool {
	x, y := scheduler.Measure(s, a).Levels, scheduler.Measure(s, b).Levels
	return search.Cost(x).Less(search.Cost(y))
}

// Rank sorts by worth: lost orders' weight saved, then tardiness.
func Rank(list []Worth) {
	slices.SortStableFunc(list, func(a, b Worth) int {
		return cmp.Or(cmp.Compare(b.Heavy, a.Heavy), cmp.Compare(b.Tardiness, a.Tardiness), cmp.Compare(b.Peak, a.Peak), cmp.Compare(a.Key, b.Key))
	})
}

// foreseen is the state with the forecast of the next weeks ordered. It may be
// cloned from several goroutines at once.
func foreseen(in Input, weeks int) (*scheduler.State, error) {
	s := in.State.Clone()
	if in.Forecast == nil || weeks < 0 {
		return s, nil
	}
	end := in.Now + Tick(weeks)*Tick(7*resources.Day)
	plant := *s.Plant
	plant.Materials = slices.Clone(plant.Materials)
	for i := range plant.Materials {
		plant.Materials[i].Stock += 1e12
	}
	s.Plant = &plant
	weights := weightsOf(s)
	for i, l := range beyond(in.State, in.Forecast) {
		if l.left == 0 || l.Due <= in.Now || l.Due > end {
			continue
		}
		lot := max(1, int(lotOf(in.State, l.Product)+0.5))
		for n := 1; l.left > 0; n++ {
			quantity := min(lot, l.left)
			l.left -= quantity
			name := fmt.Sprintf("forecast-%d", l.Row)
			_, err := s.Apply(events.Event{
				ID: fmt.Sprintf("%s-%d-%d", name, i, n), Kind: events.OrderAdded, Plant: s.PlantName(), At: in.Now, Seq: s.Seq + 1,
				Data: events.OrderData{
					Order: name, Line: fmt.Sprintf("%d_%d", i, n), Product: l.Product, Quantity: quantity, ShipBy: l.Due, Due: l.Due,
					Weight: weights[l.Kind()], Kind: l.Kind().String(),
				},
			})
			if err != nil {
				return nil, fmt.Errorf("forecast line %d: %w", l.Row, err)
			}
		}
	}
	return s.Clone(), nil // nothing was applied to the clone
}

// weightsOf is the usual weight of firm and of event orders: the median.
func weightsOf(s *scheduler.State) [2]int64 {
	var all [2][]int64
	for _, line := range s.Lines {
		if !line.Cancelled {
			all[line.Kind] = append(all[line.Kind], line.Weight)
		}
	}
	out := [2]int64{1, 5}
	for kind, list := range all {
		if len(list) > 0 {
			slices.Sort(list)
			out[kind] = list[len(list)/2]
		}
	}
	return out
}
