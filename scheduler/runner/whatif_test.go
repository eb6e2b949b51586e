// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/whatif"
)

// A set of no changes gives one plan twice, on any machine; another mandrel
// does what it does.
func TestWhatIfNothingChanges(t *testing.T) {
	s, plan := tooLate(t)
	q, err := whatif.Ask(s, schedtest.Monday, &resources.ChangeSet{Name: "nothing"})
	require.NoError(t, err)
	x, err := runner.WhatIf(context.Background(), q, plan, runner.Budget{Iterations: 60, Seed: 3, Workers: 2}, nil)
	require.NoError(t, err)
	require.Equal(t, x.Before, x.After)
	require.Empty(t, x.Moved)
	require.True(t, x.Churn.Quiet())
	schedtest.RequireOK(t, s, schedtest.Monday, x.Before)
	again, err := runner.WhatIf(context.Background(), q, plan, runner.Budget{Iterations: 60, Seed: 3, Workers: 2}, nil)
	require.NoError(t, err)
	require.Equal(t, x, again)
}

// Given up, it compares what it has.
func TestWhatIfGivenUp(t *testing.T) {
	s, plan := tooLate(t)
	q, err := whatif.Ask(s, schedtest.Monday, &resources.ChangeSet{Name: "less", Changes: []resources.Change{{DropOrder: &resources.OrderName{Order: "A"}}}})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	x, err := runner.WhatIf(ctx, q, plan, runner.Budget{Iterations: 1_000_000, Workers: 1}, nil)
	require.ErrorIs(t, err, context.Canceled)
	schedtest.RequireOK(t, q.After, schedtest.Monday, x.After)
	require.Len(t, x.Dropped, 1)
}

// Both plans meet the same luck: with no change no chance changes, and with an
// order less each side is what playing it alone gives.
func TestWhatIfChances(t *testing.T) {
	s, plan := tooLate(t)
	o := risk.Options{Replications: 30, Seed: 5}
	q, err := whatif.Ask(s, schedtest.Monday, &resources.ChangeSet{Name: "nothing"})
	require.NoError(t, err)
	x, err := runner.WhatIf(context.Background(), q, plan, runner.Budget{Iterations: 20, Workers: 1}, nil)
	require.NoError(t, err)
	require.NoError(t, x.Play(context.Background(), q, runner.Playing{Options: o, Workers: 2}))
	require.Empty(t, x.Chances.Orders)
	require.Equal(t, x.Chances.Before, x.Chances.After)
	require.Positive(t, x.Chances.Same)

	q, err = whatif.Ask(s, schedtest.Monday, &resources.ChangeSet{Name: "less", Changes: []resources.Change{{DropOrder: &resources.OrderName{Order: "A"}}}})
	require.NoError(t, err)
	x, err = runner.WhatIf(context.Background(), q, plan, runner.Budget{Iterations: 20, Workers: 1}, nil)
	require.NoError(t, err)
	last, most := 0, 0
	require.NoError(t, x.Play(context.Background(), q, runner.Playing{Options: o, Workers: 2, Told: func(done, of int) { last, most = done, of }}))
	require.Equal(t, 60, last)
	require.Equal(t, 60, most)
	g, err := risk.Compile(q.After, q.Now, x.After)
	require.NoError(t, err)
	alone, _, err := risk.Play(g, o)
	require.NoError(t, err)
	require.Equal(t, alone.AllMade, x.Chances.After.AllMade)
	require.Equal(t, alone.Lost, x.Chances.After.Lost)

	x.Chances = nil
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	require.ErrorIs(t, x.Play(ctx, q, runner.Playing{Options: o}), context.Canceled)
	require.Nil(t, x.Chances)
}

// A budget of time has room for some search and for some histories, the fewest
// at least; by iterations all are played.
func TestWhatIfPlaysWhatThereIsTimeFor(t *testing.T) {
	s, plan := tooLate(t)
	q, err := whatif.Ask(s, schedtest.Monday, &resources.ChangeSet{Name: "nothing"})
	require.NoError(t, err)
	for _, c := range []struct {
		budget runner.Budget
		asked  int
		check  func(t *testing.T, played int)
	}{
		{runner.Budget{Time: 50 * time.Millisecond, Workers: 2}, 1 << 16, func(t *testing.T, played int) {
			require.GreaterOrEqual(t, played, 100)
			require.Less(t, played, 1<<16)
		}},
		{runner.Budget{Time: time.Nanosecond, Workers: 1}, 1000, func(t *testing.T, played int) { require.Equal(t, 100, played) }},
		{runner.Budget{Time: time.Nanosecond, Workers: 1}, 30, func(t *testing.T, played int) { require.Equal(t, 30, played) }},
		{runner.Budget{Iterations: 20, Workers: 1}, 300, func(t *testing.T, played int) { require.Equal(t, 300, played) }},
	} {
		x, err := runner.WhatIf(context.Background(), q, plan, c.budget, &runner.Playing{Options: risk.Options{Replications: c.asked}, Workers: 2})
		require.NoError(t, err)
		c.check(t, x.Chances.Replications)
		schedtest.RequireOK(t, s, schedtest.Monday, x.Before)
	}
}

// What cannot be played is told with the comparison.
func TestWhatIfThatCannotBePlayed(t *testing.T) {
	s, plan := tooLate(t)
	q, err := whatif.Ask(s, schedtest.Monday, &resources.ChangeSet{Name: "nothing"})
	require.NoError(t, err)
	x, err := runner.WhatIf(context.Background(), q, plan, runner.Budget{Iterations: 20, Workers: 1}, &runner.Playing{Options: risk.Options{Replications: -1}})
	require.Error(t, err)
	require.NotNil(t, x.Comparison)
	require.Nil(t, x.Chances)
}
