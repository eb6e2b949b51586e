// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/relax"
	"towpath/scheduler/runner"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// tooLate is a workshop with an order that nobody can make in time.
func tooLate(t *testing.T) (*scheduler.State, *scheduler.Plan) {
	t.Helper()
	due := schedtest.Monday + resources.Tick(11*resources.Hour)
	s := schedtest.State(schedtest.Workshop(),
		resources.OrderLine{Order: "A", Line: "1", Product: "PX", Quantity: 3, ShipBy: due, Due: due, Weight: 1},
		resources.OrderLine{Order: "B", Line: "1", Product: "HS", Quantity: 2, ShipBy: due, Due: due, Weight: 2, Kind: resources.Event})
	p, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	plan, err := search.Construct(p)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	return s, plan
}

// However many workers there are and whoever is ready first, the answer is the
// same; progress never goes back.
func TestRelaxIsTheSameOnEveryMachine(t *testing.T) {
	s, plan := tooLate(t)
	order := relax.Troubled(s, plan)[0].Order
	var first *relax.Answer
	for _, workers := range []int{1, 3} {
		tried := 0
		a, err := runner.Relax(context.Background(), s, schedtest.Monday, plan, order, relax.Effort{Iterations: 20, Seed: 4}, workers, func(a *relax.Answer) {
			require.Greater(t, a.Tried, tried)
			tried = a.Tried
		})
		require.NoError(t, err)
		require.Equal(t, a.Asked, a.Tried)
		require.Equal(t, a.Tried, tried)
		require.Greater(t, a.Tried, 2)
		if first == nil {
			first = a
		}
		require.Equal(t, first, a)
	}
}

func TestRelaxStopsWithWhatItHas(t *testing.T) {
	s, plan := tooLate(t)
	order := relax.Troubled(s, plan)[0].Order
	ctx, cancel := context.WithCancel(context.Background())
	a, err := runner.Relax(ctx, s, schedtest.Monday, plan, order, relax.Effort{Iterations: 5}, 1, func(*relax.Answer) { cancel() })
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, 1, a.Tried)
	require.Greater(t, a.Asked, 1)
	_, err = runner.Relax(context.Background(), s, schedtest.Monday, plan, "none", relax.Effort{}, 1, nil)
	require.ErrorIs(t, err, relax.ErrNoOrder)
}
