// SPDX-License-Identifier: Apache-2.0

package relax

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// Effort is how hard each change is solved. Every search sets out from the same
// plan, and one of them changes nothing, so that what a change is said to save
// is not merely saved by searching.
type Effort struct {
	Iterations int64 // of each search; 0: DefaultIterations
	Seed       uint64
	Stop       func() bool // asked now and then; true: give up; nil: never
}

// DefaultIterations is what an Effort does when it does not say.
const DefaultIterations = 100

// forward is how much more an order weighs while a way to save it is sought.
// What it costs others is said with the answer.
const forward = 3

// Errors of a question.
var (
	ErrStopped = errors.New("stopped")         // it was given up
	ErrNoOrder = errors.New("no such order")   // or it is cancelled
	ErrSafe    = errors.New("not in trouble")  // the order makes its date
	ErrNoDate  = errors.New("nobody can date") // a piece is held or missing
)

// Question is what would save one order. It may be asked from several
// goroutines at once.
type Question struct {
	state  *scheduler.State
	now    Tick
	plan   *scheduler.Plan
	effort Effort
	before map[string]scheduler.OrderScore

	Order scheduler.OrderScore
	Chain []scheduler.Step
	First []Candidate // to try first; the first of them changes nothing
}

// Troubled lists the orders that a plan has late or lost, the heaviest loss
// first.
func Troubled(s *scheduler.State, plan *scheduler.Plan) []scheduler.OrderScore {
	var out []scheduler.OrderScore
	for _, o := range scheduler.MeasureOrders(s, plan) {
		if o.Status == scheduler.OrderLate || o.Status == scheduler.OrderLost {
			out = append(out, o)
		}
	}
	slices.SortStableFunc(out, func(a, b scheduler.OrderScore) int {
		return cmp.Or(cmp.Compare(b.Status, a.Status), cmp.Compare(a.Slack, b.Slack))
	})
	return out
}

// Ask looks at an order that a plan has late or lost. The plan must pass
// scheduler.Check for the state and now.
func Ask(s *scheduler.State, now Tick, plan *scheduler.Plan, order string, e Effort) (*Question, error) {
	if s == nil || s.Plant == nil || plan == nil {
		return nil, errors.New("relax: there is no plant or no plan")
	}
	e.Iterations = cmp.Or(e.Iterations, DefaultIterations)
	q := &Question{state: s, now: now, plan: plan, effort: e, before: scores(s, plan)}
	o, ok := q.before[order]
	switch {
	case !ok:
		return nil, fmt.Errorf("order %s: %w", order, ErrNoOrder)
	case o.Status == scheduler.OrderOnTime:
		return nil, fmt.Errorf("order %s: %w", order, ErrSafe)
	case o.Status == scheduler.OrderWaiting || o.Completion == 0:
		return nil, fmt.Errorf("order %s: %w", order, ErrNoDate)
	}
	q.Order, q.Chain = o, scheduler.Explain(s, plan, order)
	q.First = append([]Candidate{{Key: "search", Kind: Search, Words: "nothing but another order of work"}},
		candidates(s, now, order, o.Due, q.Chain)...)
	return q, nil
}

func scores(s *scheduler.State, plan *scheduler.Plan) map[string]scheduler.OrderScore {
	out := map[string]scheduler.OrderScore{}
	for _, o := range scheduler.MeasureOrders(s, plan) {
		out[o.Order] = o
	}
	return out
}

// linesOf lists the keys of an order's lines that are not cancelled.
func linesOf(s *scheduler.State, order string) []string {
	var out []string
	for _, key := range slices.Sorted(maps.Keys(s.Lines)) {
		if line := s.Lines[key]; line.Order == order && !line.Cancelled {
			out = append(out, key)
		}
	}
	return out
}

// Relaxation is a change with what solving the shop with it gives.
type Relaxation struct {
	Candidate
	Saved      bool     `json:"saved" doc:"true: the order makes its date"`
	Completion Tick     `json:"completion" doc:"when the order is complete with it"`
	Slack      Seconds  `json:"slack" doc:"due instant less completion; below 0: still too late"`
	Earlier    Seconds  `json:"earlier" doc:"how much sooner the order is complete than in the plan"`
	Hurt       []string `json:"hurt" doc:"orders that make their date in the plan and not with it"`
	Helped     []string `json:"helped" doc:"other orders that make their date only with it"`
	Late       int      `json:"late" doc:"firm orders late with it"`
	Lost       int      `json:"lost" doc:"event orders lost with it"`
	Tardiness  float64  `json:"weighted_tardiness_hours" doc:"weighted tardiness with it, hours"`
	Moved      int      `json:"moved" doc:"operations near now moved against the published plan"`
	Means      []string `json:"means" doc:"what it does otherwise with the order's own pieces: a different load, another station, work that begins later"`

	then []Candidate // what its own chain asks for, while it does not save the order
}

// Try solves the shop with a change. The plan it speaks of has passed the
// verifier.
func (q *Question) Try(c Candidate) (Relaxation, error) {
	r := Relaxation{Candidate: c, Hurt: []string{}, Helped: []string{}, Means: []string{}}
	s, err := q.changed(c)
	if err != nil {
		return r, err
	}
	plan, err := q.solve(s)
	if err != nil {
		return r, fmt.Errorf("with %s: %w", c.Key, err)
	}
	score := scheduler.Measure(s, plan)
	r.Late, r.Lost, r.Tardiness, r.Moved = score.Late, score.Lost, score.WeightedTardinessHours(), score.Churn
	after := scores(s, plan)
	for _, id := range slices.Sorted(maps.Keys(q.before)) {
		was, is := q.before[id].Status == scheduler.OrderOnTime, after[id].Status == scheduler.OrderOnTime
		switch {
		case id == q.Order.Order:
			r.Saved = is
		case was && !is:
			r.Hurt = append(r.Hurt, id)
		case is && !was:
			r.Helped = append(r.Helped, id)
		}
	}
	o := after[q.Order.Order]
	if !r.Saved && o.Completion > 0 {
		r.then = others(s, q.now, o.Order, o.Due, scheduler.Explain(s, plan, o.Order))
	}
	if r.Saved || o.Completion < q.Order.Completion {
		r.Means = q.means(plan)
	}
	r.Completion, r.Slack, r.Earlier = o.Completion, o.Slack, Seconds(q.Order.Completion-o.Completion)
	return r, nil
}

// changed is the state with a change.
func (q *Question) changed(c Candidate) (*scheduler.State, error) {
	s := q.state.Clone()
	if len(c.Set.Changes) == 0 {
		return s, nil
	}
	plant, found := c.Set.ApplyPlant(s.Plant, q.now)
	if len(found) > 0 {
		return nil, fmt.Errorf("with %s: %s", c.Key, found[0].Text)
	}
	s, err := s.OnPlant(plant)
	if err != nil {
		return nil, fmt.Errorf("with %s: %w", c.Key, err)
	}
	for i := range c.Set.Changes {
		line := c.Set.Changes[i].ChangeOrder
		if line == nil {
			continue
		}
		_, err := s.Apply(events.Event{
			ID: fmt.Sprintf("relax-%d", i), Kind: events.OrderChanged, Plant: s.PlantName(), At: max(q.now, s.At), Seq: s.Seq + 1,
			Data: events.OrderDataOf(line),
		})
		if err != nil {
			return nil, fmt.Errorf("with %s: %w", c.Key, err)
		}
	}
	return s, nil
}

// put is the state with the order put forward.
func (q *Question) put(s *scheduler.State) *scheduler.State {
	out := s.Clone()
	for _, key := range linesOf(out, q.Order.Order) {
		line := *out.Lines[key]
		line.Weight = max(1, line.Weight) * forward
		out.Lines[key] = &line
	}
	return out
}

// solve sets out from the plan in question, its order of work with the gaps
// closed, or a plain rule: what takes up best what a change gives room for.
func (q *Question) solve(s *scheduler.State) (*scheduler.Plan, error) {
	put := q.put(s)
	problem, err := scheduler.Compile(put, q.now)
	if err != nil {
		return nil, err
	}
	var from *scheduler.Plan
	for _, start := range []func() (*scheduler.Plan, error){
		func() (*scheduler.Plan, error) { return search.Repair(problem, q.plan) },
		func() (*scheduler.Plan, error) { return search.ByRule(problem, search.LatestStart) },
		func() (*scheduler.Plan, error) { return search.ByRule(problem, search.Weighted) },
	} {
		if q.stopped() > 0 {
			return nil, ErrStopped
		}
		if plan, err := start(); err == nil && (from == nil || better(put, plan, from)) {
			from = plan
		}
	}
	r, err := search.Improve(problem, search.Options{Seed: q.effort.Seed, Iterations: q.effort.Iterations, Progress: q.stopped, Start: from})
	if err != nil {
		return nil, err
	}
	if q.stopped() > 0 {
		return nil, ErrStopped
	}
	if broken := scheduler.Check(s, q.now, r.Plan); len(broken) > 0 {
		return nil, fmt.Errorf("the plan fails verification: %s (and %d more)", broken[0], len(broken)-1)
	}
	return r.Plan, nil
}

// better tells whether a plan is worth more than another.
func better(s *scheduler.State, a, b *scheduler.Plan) bool {
	x, y := scheduler.Measure(s, a).Levels, scheduler.Measure(s, b).Levels
	return search.Cost(x).Less(search.Cost(y))
}

// stopped is the progress of a search: done when it is to be given up.
func (q *Question) stopped() float64 {
	if q.effort.Stop != nil && q.effort.Stop() {
		return 1
	}
	return 0
}
