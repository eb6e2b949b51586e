// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// Bounds of the planning loop.
const (
	maxTries                    = 4                      // of one proposal against a moving state
	rest                        = 5 * time.Second        // after a failure, before planning is tried again
	longAgo                     = 60                     // facts after which an improvement is worth a try anyway
	lateBy    resources.Seconds = 120                    // reality behind the plan by this much calls for a repair
	lateEvery resources.Seconds = 300                    // but not more often than this
	lead                        = 250 * time.Millisecond // wall time ahead of a repair for which it plans at least
	grace                       = 2 * time.Second        // wall time for which a plan made for an instant may be published after it, at least
	slowest                     = time.Minute            // both become no longer than this, however slow repairs are
)

// planning is what the owner remembers between steps of the planning loop.
type planning struct {
	leads     bool  // this runner is the one that plans
	dirty     bool  // facts came since the last repair began
	want      asked // why an improvement is wanted
	repairing bool
	improving bool
	took      time.Duration // wall time of a repair, from what the last ones took
	notBefore time.Time     // no repair sooner
	facts     int           // since the last improvement began
	published uint64        // a plan appended under this number is not back yet
	pending   *result       // an improvement that waits to be fitted to the present
	turn      bool          // the last search was a repair for facts: the improvement goes first
	heldAt    resources.Tick
	round     uint64 // improvements begun, for their seeds
	failure   error  // the last one, for Settle
}

// start asks for a first repair, as time has passed since the last one.
func (p *planning) start(now resources.Tick, seq uint64) {
	p.dirty, p.want, p.heldAt = true, asked{why: "start", since: seq}, now
}

// happened notes what a fact means for the plan, as the table of reactions
// says.
func (p *planning) happened(e events.Event, seq uint64) {
	then := scheduler.ReactionTo(e).Then
	if then == scheduler.Nothing {
		return
	}
	p.dirty = true
	p.facts++
	if then == scheduler.Improve {
		p.want.note(string(e.Kind), seq, true)
	} else if p.facts >= longAgo {
		p.want.note("many small changes", seq, false)
	}
}

// hold compares the plan with the clock: work that should have begun or ended
// and has not makes the times behind it wrong.
func (p *planning) hold(s *scheduler.State, now resources.Tick) {
	if s.Plan == nil || p.dirty || now < p.heldAt+resources.Tick(lateEvery) {
		return
	}
	p.heldAt = now
	late := now - resources.Tick(lateBy)
	for i := range s.Plan.Work {
		w := &s.Plan.Work[i]
		if w.Setup > late {
			return // Work is sorted by Start; nothing behind can be late
		}
		if behind(s, w, late) {
			p.dirty = true
			return
		}
	}
}

// behind says whether a planned step should have begun, or a started one
// ended, before late.
func behind(s *scheduler.State, w *scheduler.Work, late resources.Tick) bool {
	piece := s.Pieces[w.Piece]
	if piece == nil || piece.Scrapped || piece.Held {
		return false
	}
	for i := range piece.Ops {
		op := &piece.Ops[i]
		if op.Operation != w.Operation {
			continue
		}
		switch op.Status {
		case scheduler.Planned:
			return w.Start < late
		case scheduler.Done:
			return false
		}
		return w.End < late
	}
	return false
}

// job is one search handed to a goroutine; result is what it gives back.
type job struct {
	problem *scheduler.Problem
	from    *scheduler.Plan
	better  bool // the plan comes from an improvement and must earn its churn
	search  bool // improve, then repair; false: repair only
	whole   bool // a repair looks at everything again
	tries   int
	budget  Budget
	against *scheduler.Plan // the published plan that an improvement is fitted beside; nil: none
	began   time.Time
	asked   asked // what an improvement was begun for
}

type result struct {
	job
	plan    *scheduler.Plan
	base    *scheduler.Plan    // what a repair of against gives
	bounds  []search.PartBound // of the problem; none: not computed
	proven  bool               // the search has shown that no plan is better
	bounded *boundable         // not nil: there is no plan, only bounds for one
	err     error
}

// schedule begins what is due: a repair first, then the fitting of an
// improvement, then a new improvement. Facts that never cease do not keep an
// improvement waiting for ever: the two take turns.
func (r *Runner) schedule(ctx context.Context) {
	p := &r.plan
	if !r.leads() || r.state.Plant == nil || p.repairing || p.published > r.state.Seq || ctx.Err() != nil || time.Now().Before(p.notBefore) {
		return
	}
	if p.pending != nil && (p.turn || !p.dirty) {
		res := *p.pending
		p.pending, p.turn = nil, false
		r.refit(ctx, res)
		return
	}
	if p.dirty {
		p.dirty, p.repairing, p.turn = false, true, true
		p.notBefore = time.Now().Add(r.opt.Repair)
		r.launch(ctx, job{from: r.state.Plan})
		return
	}
	if p.want.why == "" || p.improving || r.opt.Budget < 0 || r.state.Plan == nil {
		if !p.improving {
			r.bound(ctx)
		}
		return
	}
	r.opt.Logger.Debug("improve", "seq", r.state.Seq, "why", p.want.why)
	why := p.want
	p.want, p.improving, p.facts = asked{}, true, 0
	p.round++
	r.launch(ctx, job{from: r.state.Plan, against: r.state.Plan, search: true, better: true, asked: why, budget: Budget{
		Time: r.opt.Budget, Seed: r.opt.Seed + p.round, Workers: r.opt.Workers, Along: r.opt.Along,
	}})
}

// launch compiles the state as it is and hands the search to a goroutine.
func (r *Runner) launch(ctx context.Context, j job) {
	r.shown.stale = true
	j.began = time.Now()
	res := result{job: j}
	res.err = Guarded(func() (err error) {
		res.problem, err = r.opt.Planner.Compile(r.state, r.planFor(j.budget))
		return err
	})
	if res.err != nil {
		r.failed(res)
		return
	}
	r.search.Go(func() {
		r.work(ctx, &res)
		select {
		case r.results <- res:
		case <-ctx.Done():
		}
	})
}

// work runs one search.
func (r *Runner) work(ctx context.Context, res *result) {
	res.err = Guarded(func() (err error) {
		if res.search {
			if res.plan, err = r.opt.Planner.Improve(ctx, res.problem, res.from, res.budget); err == nil && res.plan != nil {
				err = r.weigh(res)
			}
		} else {
			repair := r.opt.Planner.Repair
			if res.whole {
				repair = r.opt.Planner.RepairWhole
			}
			res.plan, err = repair(res.problem, res.from)
		}
		if err == nil && res.against != nil {
			res.base, err = r.opt.Planner.Repair(res.problem, res.against)
		}
		return err
	})
	if res.err == nil && res.plan == nil {
		res.err = errors.New("the search gave no plan")
	}
}

// planFor is the instant to plan for: when the plan will be out. On a fast
// clock, or in a shop whose repairs are slow, that is well ahead, else next to
// now.
func (r *Runner) planFor(b Budget) resources.Tick {
	return r.now() + r.ticks(b.Time+max(lead, r.plan.took))
}

// ticks is what goes by on the shop's clock in a wall time.
func (r *Runner) ticks(wall time.Duration) resources.Tick {
	return resources.Tick(wall.Seconds() * r.opt.Clock.Speed())
}

// timed learns from a repair how long the next may take. One quick repair among
// slow ones is soon forgotten. Where time passes in steps, none passes meanwhile.
func (r *Runner) timed(res *result) {
	if !res.search && !r.opt.Stepped {
		r.plan.took = min(slowest, max(time.Since(res.began), r.plan.took/2))
	}
}

// consider takes in the result of a search.
func (r *Runner) consider(ctx context.Context, res result) error {
	if res.bounded != nil {
		r.takeBounds(res)
		return nil
	}
	if res.search {
		r.plan.improving = false
	} else {
		r.plan.repairing = false
	}
	r.timed(&res)
	r.shown.stale = true
	if res.err != nil {
		r.failed(res)
		return nil
	}
	return r.publish(ctx, res)
}

// again has a stale proposal fitted to the present; one that comes right from
// a search waits for its turn.
func (r *Runner) again(ctx context.Context, res result) {
	if res.search {
		r.plan.pending = &res
		return
	}
	r.refit(ctx, res)
}

// refit repairs a proposal against the state as it is now, a bounded number of
// times.
func (r *Runner) refit(ctx context.Context, res result) {
	if res.tries+1 >= maxTries {
		r.opt.Logger.Info("proposal dropped", "seq", r.state.Seq, "tries", res.tries+1, "took", time.Since(res.began))
		if res.better {
			r.plan.want.still(res.asked)
			return
		}
		r.plan.dirty = true
		r.alert("plan", fmt.Sprintf("the shop has moved on before a new plan was ready, %d times; the last plan stands", res.tries+1))
		return
	}
	r.plan.repairing = true
	// Its seed is kept for messages; there is no more to search.
	j := job{from: res.plan, better: res.better, asked: res.asked, tries: res.tries + 1, budget: Budget{Seed: res.budget.Seed}}
	if res.better {
		j.against = r.state.Plan
	}
	r.launch(ctx, j)
}

// publish checks a proposal against the state and, when it is worth it,
// appends it to the log.
func (r *Runner) publish(ctx context.Context, res result) error {
	if current := r.version(); !res.better && res.problem.Version != current+1 {
		// It repairs a plan that has been replaced meanwhile.
		r.plan.dirty = true
		return nil
	}
	plan, now := res.plan, r.now()
	if now-plan.Made > r.ticks(max(grace, r.plan.took)) {
		r.again(ctx, res)
		return nil
	}
	var event events.Event
	var broken []scheduler.Violation
	err := Guarded(func() error {
		event, broken = r.opt.Planner.Commit(r.state, plan.Made, plan)
		return nil
	})
	if err != nil {
		res.err = err
		r.failed(res)
		return nil
	}
	if len(broken) > 0 {
		if r.state.Seq != res.problem.Base {
			r.again(ctx, res)
			return nil
		}
		if !res.search && !res.whole {
			r.opt.Logger.Warn("a repair of what is near fails verification; everything is repaired", "violations", len(broken), "first", broken[0])
			res.job.whole, res.job.problem, r.plan.repairing = true, nil, true
			r.launch(ctx, res.job)
			return nil
		}
		res.err = fmt.Errorf("the search made a plan that fails verification (%d violations, first: %v)", len(broken), broken[0])
		r.failed(res)
		return nil
	}
	w := r.worth(res)
	switch {
	case w.beside:
		r.again(ctx, res)
		return nil
	case !w.worth:
		r.opt.Logger.Debug("plan kept", "seq", r.state.Seq, "why", w.why)
		r.clearAlert("plan")
		if res.better {
			r.plan.want.on(res.asked, false, res.proven)
		}
		r.bounding.kept(r.state, &res, w.was)
		return nil
	}
	if r.judge(&res, w.is); len(res.plan.Gaps) > 0 {
		event, _ = r.opt.Planner.Commit(r.state, plan.Made, res.plan)
	}
	event.At = min(event.At, now) // it is published now, though made for a moment later
	if data, ok := event.Data.(events.PlanData); ok && res.better {
		data.Asked = res.asked.event()
		event.Data = data
	}
	seqs, err := r.opt.Log.Append(ctx, r.state.Seq, []events.Event{event})
	switch {
	case errors.Is(err, ErrStale):
		r.again(ctx, res)
	case err != nil:
		if ctx.Err() == nil {
			res.err = fmt.Errorf("store the plan: %w", err)
			r.failed(res)
		}
	default:
		r.plan.published = seqs[0]
		r.clearAlert("plan")
		if res.better {
			r.plan.want.on(res.asked, w.saves, res.proven)
		}
		r.bounding.published(r.state, &res, event, w.is)
	}
	return nil
}

// version is that of the published plan, 0 before the first.
func (r *Runner) version() int64 {
	if r.state.Plan == nil {
		return 0
	}
	return r.state.Plan.Version
}

// failed shows and logs a failure of planning. The last published plan stays,
// pages stay readable, and planning is tried again after a rest.
func (r *Runner) failed(res result) {
	if res.search {
		r.plan.improving = false
	} else {
		r.plan.repairing = false
		r.plan.dirty = true
	}
	r.plan.notBefore = time.Now().Add(rest)
	r.plan.failure = res.err
	var seed uint64
	if res.search || res.better {
		seed = res.budget.Seed
	}
	attrs := []any{"rev", r.state.Seq, "seed", seed, "err", res.err}
	var p *panicked
	if errors.As(res.err, &p) {
		attrs = append(attrs, "stack", p.stack)
	}
	r.opt.Logger.Error("planning failed", attrs...)
	r.alert("plan", fmt.Sprintf("planning failed; the last plan stands: %v", res.err))
	var why *scheduler.Infeasible
	if errors.As(res.err, &why) {
		r.shown.alerts[r.shown.find("plan")].Infeasible = why
	}
}

// panicked is a panic made an error.
type panicked struct {
	value any
	stack string
	at    uint64 // record that was being folded; 0: none
}

func (p *panicked) Error() string { return fmt.Sprintf("internal error: %v", p.value) }

// Guarded runs f and makes a panic an error.
func Guarded(f func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &panicked{value: v, stack: string(debug.Stack())}
		}
	}()
	return f()
}
