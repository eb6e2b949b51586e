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
// and a set of none gives the same plan twice. What is to follow within a budget
// of time, as long as after says of a plan like those to come, is taken from it,
// at most half of it; nil: nothing follows. When ctx ends first, the best plans
// until then are compared, with ctx's error.
func WhatIf(ctx context.Context, q *whatif.Question, from *scheduler.Plan, b Budget, after func(*scheduler.Plan) time.Duration) (*Tried, error) {
	began := time.Now()
	if after != nil && b.Time > 0 && b.Iterations == 0 {
		first, err := Plan(ctx, q.Problem, from, Budget{})
		if err != nil {
			return nil, err
		}
		from = first.Plan
		b.Time = max(b.Time/2, b.Time-after(from))
	}
	half := b
	half.Time, half.Iterations = max(0, b.Time-time.Since(began))/2, b.Iterations/2
	found, err := Plan(ctx, q.Problem, from, half)
	if err != nil {
		return nil, err
	}
	var starts [2]*scheduler.Plan
	err = guarded(func() (err error) {
		starts[0], starts[1], err = q.Starts(found.Plan)
		return err
	})
	if err != nil {
		return nil, err
	}
	if half.Iterations == 0 { // by time: the cores are shared out
		half.Workers = max(1, b.Workers/2)
		half.Time = max(half.Time/2, b.Time-time.Since(began))
	}
	var ends [2]Found
	var g errgroup.Group
	for i, p := range []*scheduler.Problem{q.Problem, q.Changed} {
		g.Go(func() (err error) {
			ends[i], err = Plan(ctx, p, starts[i], half)
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	t := &Tried{Before: ends[0].Plan, After: ends[1].Plan}
	err = guarded(func() (err error) {
		t.Comparison, err = q.Compare(t.Before, t.After)
		return err
	})
	if err != nil {
		return nil, err
	}
	t.Seed, t.Iterations = b.Seed, found.Iterations+ends[0].Iterations+ends[1].Iterations
	return t, ctx.Err()
}
