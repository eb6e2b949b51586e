// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"time"

	"golang.org/x/sync/errgroup"

	"towpath/scheduler"
	"towpath/scheduler/whatif"
)

// Tried is a comparison with the two plans it compares.
type Tried struct {
	*whatif.Comparison
	Before *scheduler.Plan
	After  *scheduler.Plan
}

// WhatIf plans the shop as it is and as it would be, within one budget, and
// compares. The first half of the budget goes to the shop as it is, from the
// plan given; the second to both side by side, each with the same seed and work,
// both from what the first half found: so what differs comes from the changes,
// and a set of none gives the same plan twice. Both are then played; nil: they
// are not. A budget of time has room for that, at most half of it, and as many
// histories are played as are ready when it is over, but for the fewest asked.
// When ctx ends first, the best plans until then are compared, with ctx's error;
// so they are with an error of the playing.
func WhatIf(ctx context.Context, q *whatif.Question, from *scheduler.Plan, b Budget, play *Playing) (*Tried, error) {
	began, whole := time.Now(), b.Time
	byTime := b.Time > 0 && b.Iterations == 0
	var each pace
	if play != nil && byTime {
		first, err := Plan(ctx, q.Problem, from, Budget{})
		if err != nil {
			return nil, err
		}
		from = first.Plan
		each = play.timed(q, from)
		b.Time = max(b.Time/2, b.Time-each.of(play.Or().Replications))
	}
	half := b
	half.Time, half.Iterations = max(0, b.Time-time.Since(began))/2, b.Iterations/2
	found, err := Plan(ctx, q.Problem, from, half)
	if err != nil {
		return nil, err
	}
	starts, err := bothSides(
		func() (*scheduler.Plan, error) { return q.StartBefore(found.Plan) },
		func() (*scheduler.Plan, error) { return q.StartAfter(found.Plan) },
	)
	if err != nil {
		return nil, err
	}
	if half.Iterations == 0 { // by time: the cores are shared out
		half.Workers = max(1, b.Workers/2)
		half.Time = max(0, b.Time-time.Since(began))
	}
	ends, err := bothSides(
		func() (Found, error) { return Plan(ctx, q.Problem, starts[0], half) },
		func() (Found, error) { return Plan(ctx, q.Changed, starts[1], half) },
	)
	if err != nil {
		return nil, err
	}
	t := &Tried{Before: ends[0].Plan, After: ends[1].Plan}
	err = Guarded(func() (err error) {
		t.Comparison, err = q.Compare(t.Before, t.After)
		return err
	})
	if err != nil {
		return nil, err
	}
	t.Seed, t.Iterations = b.Seed, found.Iterations+ends[0].Iterations+ends[1].Iterations
	t.Proven = ends[0].Optimal && ends[1].Optimal
	if ctx.Err() != nil || play == nil {
		return t, ctx.Err()
	}
	playing := *play
	if byTime {
		playing.Replications = play.within(each, whole-time.Since(began))
	}
	return t, t.Play(ctx, q, playing)
}

// bothSides does what is to be done for the shop as it is and with the changes
// side by side.
func bothSides[T any](before, after func() (T, error)) (both [2]T, err error) {
	var g errgroup.Group
	for i, side := range []func() (T, error){before, after} {
		g.Go(func() error {
			return Guarded(func() (err error) {
				both[i], err = side()
				return err
			})
		})
	}
	return both, g.Wait()
}
