// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"fmt"

	"towpath/resources"
	"towpath/scheduler"
)

// What a new plan must be worth.
const (
	// churnPrice is how much weighted tardiness, in seconds, an improvement
	// must save for each operation near now that it moves. People read a plan
	// that keeps changing as no plan at all.
	churnPrice = 300
	// soon and sooner: a repair is shown, although the old plan could still be
	// followed, when it brings forward work of the next hours noticeably.
	soon   = resources.Tick(4 * resources.Hour)
	sooner = resources.Tick(5 * resources.Minute)
)

// weighing is what a proposal is worth against the published plan.
type weighing struct {
	worth   bool
	why     string          // not, when it is not
	beside  bool            // nobody can say before the published plan is repaired too
	saves   bool            // an order or a date, against what people would follow without it
	was, is scheduler.Score // of both
}

// worth says whether a verified proposal should replace the published plan,
// and if not, why. A repair that costs dates asks for an improvement.
func (r *Runner) worth(res result) weighing {
	w := weighing{is: r.opt.Planner.Measure(r.state, res.plan)}
	old := r.state.Plan
	if old == nil {
		w.worth = true
		return w
	}
	broken := scheduler.Check(r.state, res.plan.Made, old)
	w.was = r.opt.Planner.Measure(r.state, old)
	w.saves = saves(w.is, w.was)
	switch {
	case res.better && len(broken) > 0:
		r.overtake(&w, &res)
	case res.better && w.is.Breaches > w.was.Breaches:
		w.why = "more would wait longer than it may"
	case res.better && w.is.Breaches == w.was.Breaches && !less(w.is, w.was):
		w.why = "no better than what is published"
	case res.better:
		w.worth = earns(w.is, w.was)
		w.why = fmt.Sprintf("moving %d operations near now costs more than it gains", w.is.Churn)
	case len(broken) > 0:
		w.worth = true
		if w.is.LostWeight > w.was.LostWeight || w.is.WeightedTardinessSeconds > w.was.WeightedTardinessSeconds {
			r.plan.want.note("dates are at risk", r.state.Seq, false)
		}
	default:
		w.worth = earns(w.is, w.was) || w.is.Breaches <= w.was.Breaches && !less(w.was, w.is) && forward(res.plan, old, res.plan.Made)
		w.why = "the published plan can still be followed"
	}
	return w
}

// overtake weighs an improvement against a published plan that cannot be
// followed any more, so that its score means little: what counts is what a
// repair of it would give, and what people would find changed beyond that. That
// repair is not published here: facts ask for one themselves, and time does when
// people are noticeably behind. A plan whose first beginning is seconds overdue
// would be replaced after each search, for as long as nobody begins.
func (r *Runner) overtake(w *weighing, res *result) {
	if res.base == nil || res.against == nil || res.against.Version != r.version() {
		w.beside = true
		return
	}
	is, was := w.is, r.opt.Planner.Measure(r.state, res.base)
	w.saves = saves(is, was)
	is.Churn, was.Churn = scheduler.ChurnBetween(r.state.Plant, res.base, res.plan).Near, 0
	w.worth = earns(is, was)
	w.why = "a repair of the published plan does as well"
}

// saves says whether an order or a date is better off.
func saves(is, was scheduler.Score) bool {
	return is.LostWeight < was.LostWeight ||
		is.LostWeight == was.LostWeight && is.WeightedTardinessSeconds < was.WeightedTardinessSeconds
}

// less compares what plans cost, level by level.
func less(a, b scheduler.Score) bool {
	for i := range a.Levels {
		if a.Levels[i] != b.Levels[i] {
			return a.Levels[i] < b.Levels[i]
		}
	}
	return false
}

// earns says whether a plan is better by more than its churn: broken waits and
// lost orders always count; tardiness must pay for each operation moved; below
// that only a plan that moves nothing near now may win.
func earns(is, was scheduler.Score) bool {
	if is.Breaches != was.Breaches {
		return is.Breaches < was.Breaches
	}
	if !less(is, was) {
		return false
	}
	if is.LostWeight != was.LostWeight {
		return is.LostWeight < was.LostWeight
	}
	gain := was.WeightedTardinessSeconds - is.WeightedTardinessSeconds
	if gain != 0 {
		return gain > churnPrice*int64(is.Churn)
	}
	return is.Churn <= was.Churn
}

// forward says whether a plan lets work of the next hours begin noticeably
// earlier.
func forward(is, was *scheduler.Plan, now resources.Tick) bool {
	starts := make(map[scheduler.Member]resources.Tick, len(was.Work))
	for i := range was.Work {
		w := &was.Work[i]
		starts[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w.Start
	}
	for i := range is.Work {
		w := &is.Work[i]
		if w.Status != scheduler.Planned || w.Start > now+soon {
			continue
		}
		if at, known := starts[scheduler.Member{Piece: w.Piece, Operation: w.Operation}]; known && w.Start+sooner <= at {
			return true
		}
	}
	return false
}
