// SPDX-License-Identifier: Apache-2.0

package whatif

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// Question is a set of changes with the shop as it is and as it would be.
type Question struct {
	Set    *resources.ChangeSet
	Now    Tick
	Before *scheduler.State
	After  *scheduler.State

	// Problem and Changed are the two states laid out for a search.
	Problem, Changed *scheduler.Problem
}

// Ask makes the changes on a copy and lays both out. What cannot be changed is
// told all at once.
func Ask(s *scheduler.State, now Tick, set *resources.ChangeSet) (*Question, error) {
	q := &Question{Set: set, Now: now, Before: s}
	var err error
	if q.After, err = Changed(s, now, set); err != nil {
		return nil, err
	}
	if q.Problem, err = scheduler.Compile(s, now); err != nil {
		return nil, fmt.Errorf("the shop as it is: %w", err)
	}
	if q.Changed, err = scheduler.Compile(q.After, now); err != nil {
		return nil, fmt.Errorf("with the changes: %w", err)
	}
	return q, nil
}

// StartBefore is what the search for the shop as it is sets out from: the best of
// a plan of it, where that can be followed, its order of work, and a first plan;
// of equals the one whose orders are complete sooner, so that room given is taken
// up. StartAfter chooses alike: a set of no changes gives one twice.
func (q *Question) StartBefore(plan *scheduler.Plan) (*scheduler.Plan, error) {
	best, err := q.start(q.Before, q.Problem, plan)
	if err != nil {
		return nil, fmt.Errorf("the shop as it is: %w", err)
	}
	return best, nil
}

// StartAfter is StartBefore for the shop with the changes.
func (q *Question) StartAfter(plan *scheduler.Plan) (*scheduler.Plan, error) {
	best, err := q.start(q.After, q.Changed, plan)
	if err != nil {
		return nil, fmt.Errorf("with the changes: %w", err)
	}
	return best, nil
}

func (q *Question) start(s *scheduler.State, p *scheduler.Problem, plan *scheduler.Plan) (*scheduler.Plan, error) {
	var best *scheduler.Plan
	var least search.Cost
	var soonest Tick
	take := func(x *scheduler.Plan) {
		cost, ends := search.Cost(scheduler.Measure(s, x).Levels), Tick(0)
		for _, o := range scheduler.MeasureOrders(s, x) {
			ends += o.Completion
		}
		if best == nil || cost.Less(least) || cost == least && ends < soonest {
			best, least, soonest = x, cost, ends
		}
	}
	if len(scheduler.Check(s, q.Now, plan)) == 0 {
		take(plan)
	}
	if x, err := search.Repair(p, plan); err == nil {
		take(x)
	}
	x, err := search.Construct(p)
	if err == nil {
		take(x)
	}
	if best == nil {
		return nil, err
	}
	return best, nil
}

// Comparison is a plan of the shop as it would be beside one of the shop as it
// is.
type Comparison struct {
	Name    string   `json:"name" doc:"of the set of changes"`
	Note    string   `json:"note" doc:"what it is for"`
	Changes []string `json:"changes" doc:"the changes in words"`
	Now     Tick     `json:"now" doc:"instant for which both are planned"`
	Base    uint64   `json:"base" doc:"sequence of the state both come from"`
	Plan    int64    `json:"plan" doc:"version of the plan in force then; 0: none"`

	Before Figures `json:"before" doc:"the shop as it is"`
	After  Figures `json:"after" doc:"the shop with the changes"`

	Won     []string         `json:"won" doc:"orders in time with the changes and not without"`
	Lost    []string         `json:"lost" doc:"orders in time without the changes and not with them"`
	Added   []Outcome        `json:"added" doc:"orders there are only with the changes"`
	Dropped []Outcome        `json:"dropped" doc:"orders there are only without them"`
	Moved   []Moved          `json:"moved" doc:"orders complete at another time, the biggest move first"`
	Same    int              `json:"same" doc:"orders complete at the same time"`
	Churn   *scheduler.Churn `json:"churn" doc:"what people on the floor would find changed"`

	// Chances are nil when nothing was played.
	Chances *Chances `json:"chances" doc:"both plans played forward on the same luck; null: not played"`

	Iterations int64  `json:"iterations" doc:"of the searches behind both"`
	Proven     bool   `json:"proven" doc:"true: the searches have proven that there is no better plan on either side"`
	Seed       uint64 `json:"seed" doc:"of the searches"`
}

// Outcome is how an order stands.
type Outcome struct {
	Order      string  `json:"order" doc:"order number"`
	Due        Tick    `json:"due" doc:"due instant of the line with the least slack"`
	Completion Tick    `json:"completion" doc:"when its last line is complete; 0: nobody can say"`
	Slack      Seconds `json:"slack" doc:"least over its lines; below 0: late"`
	Status     string  `json:"status" doc:"on time, late, lost or waiting"`
}

// Moved is an order whose completion is another.
type Moved struct {
	Order string  `json:"order" doc:"order number"`
	By    Seconds `json:"by" doc:"later; below 0: sooner; 0: it can be dated in one of the two only"`
	Was   Outcome `json:"was" doc:"in the shop as it is"`
	Is    Outcome `json:"is" doc:"with the changes"`
}

// side is a shop with a plan for it.
type side struct {
	what  string // in messages
	state *scheduler.State
	now   Tick // for which it is planned
	plan  *scheduler.Plan
}

// Compare holds two plans against each other. Both are verified first.
func (q *Question) Compare(before, after *scheduler.Plan) (*Comparison, error) {
	c, err := held(side{"the shop as it is", q.Before, q.Now, before}, side{"the shop with the changes", q.After, q.Now, after})
	if err != nil {
		return nil, err
	}
	c.Name, c.Note, c.Base = q.Set.Name, q.Set.Note, q.Before.Seq
	if q.Before.Plan != nil {
		c.Plan = q.Before.Plan.Version
	}
	for i := range q.Set.Changes {
		c.Changes = append(c.Changes, q.Set.Changes[i].Words(q.Before.Plant.Zone))
	}
	return c, nil
}

// Between holds the plans of two sets of changes against each other, each for the
// shop with its changes: Before is the first set's. Both are verified first. Where
// the two set out from different states, what happened in between is in the
// difference too; Together says whether they do not.
func Between(q *Question, plan *scheduler.Plan, other *Question, others *scheduler.Plan) (*Comparison, error) {
	c, err := held(side{"the first set", q.After, q.Now, plan}, side{"the second set", other.After, other.Now, others})
	if err != nil {
		return nil, err
	}
	c.Name, c.Base = other.Set.Name, other.Before.Seq
	if other.Before.Plan != nil {
		c.Plan = other.Before.Plan.Version
	}
	for i := range other.Set.Changes {
		c.Changes = append(c.Changes, other.Set.Changes[i].Words(other.Before.Plant.Zone))
	}
	return c, nil
}

// Together tells whether two questions were asked of the same state at the same
// instant.
func (q *Question) Together(other *Question) bool {
	return q.Now == other.Now && q.Before.Seq == other.Before.Seq
}

// held compares two sides that pass verification.
func held(before, after side) (*Comparison, error) {
	for _, x := range []side{before, after} {
		if broken := scheduler.Check(x.state, x.now, x.plan); len(broken) > 0 {
			return nil, fmt.Errorf("the plan of %s fails verification: %s (and %d more)", x.what, broken[0].String(), len(broken)-1)
		}
	}
	c := &Comparison{
		Changes: []string{}, Now: after.now, Before: figuresOf(before.state, before.now, before.plan), After: figuresOf(after.state, after.now, after.plan),
		Won: []string{}, Lost: []string{}, Added: []Outcome{}, Dropped: []Outcome{}, Moved: []Moved{},
	}
	c.orders(scheduler.MeasureOrders(before.state, before.plan), scheduler.MeasureOrders(after.state, after.plan))
	c.Churn = scheduler.ChurnBetween(after.state.Plant, before.plan, after.plan)
	return c, nil
}

// orders compares order by order; both lists are by name.
func (c *Comparison) orders(before, after []scheduler.OrderScore) {
	was := map[string]Outcome{}
	for i := range before {
		was[before[i].Order] = outcome(&before[i])
	}
	for i := range after {
		is := outcome(&after[i])
		w, known := was[is.Order]
		if !known {
			c.Added = append(c.Added, is)
			continue
		}
		delete(was, is.Order)
		c.pair(w, is)
	}
	for i := range before {
		if w, left := was[before[i].Order]; left {
			c.Dropped = append(c.Dropped, w)
		}
	}
	slices.SortStableFunc(c.Moved, func(a, b Moved) int {
		return cmp.Or(cmp.Compare(size(&b), size(&a)), cmp.Compare(a.Order, b.Order))
	})
}

func (c *Comparison) pair(was, is Outcome) {
	inTime := scheduler.OrderOnTime.String()
	switch {
	case was.Status != inTime && is.Status == inTime:
		c.Won = append(c.Won, is.Order)
	case was.Status == inTime && is.Status != inTime:
		c.Lost = append(c.Lost, is.Order)
	}
	if was.Completion == is.Completion {
		c.Same++
		return
	}
	m := Moved{Order: is.Order, Was: was, Is: is}
	if was.Completion != 0 && is.Completion != 0 {
		m.By = Seconds(is.Completion - was.Completion)
	}
	c.Moved = append(c.Moved, m)
}

// size is how big a move is; what can be dated in one of the two only comes
// first.
func size(m *Moved) Seconds {
	switch {
	case m.By == 0:
		return 1 << 62
	case m.By < 0:
		return -m.By
	}
	return m.By
}

func outcome(x *scheduler.OrderScore) Outcome {
	return Outcome{Order: x.Order, Due: x.Due, Completion: x.Completion, Slack: x.Slack, Status: x.Status.String()}
}
