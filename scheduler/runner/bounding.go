// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// bounding is how the published plan comes to its gaps when it was published
// without: after a repair nobody waits for bounds, so they are computed when
// there is nothing else to do, and shown, but not published.
type bounding struct {
	want  *boundable // computed next
	busy  bool
	known int64 // version of the plan gaps belong to
	gaps  judged
}

// boundable is a plan with the problem it solves and what it costs there.
type boundable struct {
	version int64
	problem *scheduler.Problem
	score   scheduler.Score
}

// judged is what bounds say of a plan.
type judged struct {
	gaps    []scheduler.Gap
	optimal bool
}

// published notes a plan that goes out without gaps.
func (b *bounding) published(s *scheduler.State, res *result, e events.Event, score scheduler.Score) {
	data, ok := e.Data.(events.PlanData)
	if ok && len(data.Parts) == 0 && res.problem.Base == s.Seq {
		b.want = &boundable{version: data.Version, problem: res.problem, score: score}
	}
}

// kept notes the published plan, which a proposal has not replaced, when
// nobody knows its gaps yet.
func (b *bounding) kept(s *scheduler.State, res *result, score scheduler.Score) {
	if p := s.Plan; len(b.of(p).gaps) == 0 && res.problem.Base == s.Seq {
		b.want = &boundable{version: p.Version, problem: res.problem, score: score}
	}
}

// of is what is known of the published plan.
func (b *bounding) of(p *scheduler.Plan) judged {
	switch {
	case p == nil:
		return judged{}
	case len(p.Gaps) == 0 && b.known == p.Version:
		return b.gaps
	}
	return judged{p.Gaps, p.Optimal}
}

// bound computes gaps in the background, for the newest plan only.
func (r *Runner) bound(ctx context.Context) {
	b := &r.bounding
	if b.want == nil || b.busy {
		return
	}
	ask := b.want
	b.want = nil
	if ask.version != r.version() {
		return
	}
	b.busy = true
	r.search.Go(func() {
		res := result{bounded: ask}
		res.err = Guarded(func() (err error) {
			res.bounds, err = r.opt.Planner.Bounds(ask.problem)
			return err
		})
		select {
		case r.results <- res:
		case <-ctx.Done():
		}
	})
}

// takeBounds shows computed gaps.
func (r *Runner) takeBounds(res result) {
	b := &r.bounding
	b.busy = false
	if res.err != nil {
		r.opt.Logger.Error("bounds failed", "rev", r.state.Seq, "err", res.err)
		return
	}
	var plan scheduler.Plan
	plan.Judge(search.Gaps(res.bounds, &res.bounded.score), false)
	b.known, b.gaps = res.bounded.version, judged{plan.Gaps, plan.Optimal}
	r.shown.stale = true
}

// weigh computes the bounds of an improved plan. What its search has proven is
// true of the problem only; the plan says it when it is judged.
func (r *Runner) weigh(res *result) (err error) {
	if res.plan.Optimal {
		plan := *res.plan
		plan.Optimal, res.proven = false, true
		res.plan = &plan
	}
	res.bounds, err = r.opt.Planner.Bounds(res.problem)
	return err
}

// judge puts the gaps on an improved plan that is about to be published, when
// nothing has happened since its bounds were computed.
func (r *Runner) judge(res *result, score scheduler.Score) {
	if len(res.bounds) == 0 || res.problem.Base != r.state.Seq {
		return
	}
	plan := *res.plan
	plan.Judge(search.Gaps(res.bounds, &score), res.proven)
	res.plan = &plan
}
