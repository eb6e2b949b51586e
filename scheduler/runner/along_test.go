// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// says makes a search elsewhere of what it is to have found.
func says(found ...search.Result) runner.Along {
	return func(context.Context, *scheduler.Problem, *scheduler.Plan, runner.Budget) func(bool) []search.Result {
		return func(bool) []search.Result { return found }
	}
}

// What a search elsewhere says of its plan is not believed.
func TestAWrongHelperTakesNothingAway(t *testing.T) {
	s, plan := tooLate(t)
	p, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	here, err := runner.Plan(t.Context(), p, plan, runner.Budget{Iterations: 3000, Workers: 1})
	require.NoError(t, err)
	cut := *plan
	cut.Work = cut.Work[1:]
	odd := *plan
	odd.Work = append([]scheduler.Work{{Piece: "nobody's", Operation: "none", Start: -1}}, odd.Work...)
	for name, lie := range map[string]search.Result{
		"no plan":          {Optimal: true},
		"an empty plan":    {Plan: &scheduler.Plan{Made: plan.Made}, Optimal: true},
		"less work":        {Plan: &cut, Optimal: true},
		"work of nobody":   {Plan: &odd, Optimal: true},
		"a worse plan":     {Plan: plan, Optimal: true, Cost: search.Cost{-1}},
		"a plan of before": {Plan: plan, Optimal: true, Cost: here.Cost},
	} {
		t.Run(name, func(t *testing.T) {
			f, err := runner.Plan(t.Context(), p, here.Plan, runner.Budget{Time: 50 * time.Millisecond, Workers: 1, Along: says(lie)})
			require.NoError(t, err)
			schedtest.RequireOK(t, s, schedtest.Monday, f.Plan)
			require.False(t, here.Cost.Less(f.Cost), "%v was found here, %v is taken", here.Cost, f.Cost)
			require.Equal(t, f.Cost == f.Bound && here.Optimal, f.Optimal)
		})
	}
}

// A better plan is taken with what it costs, whatever was said of it.
func TestABetterPlanOfAHelperIsTaken(t *testing.T) {
	due := schedtest.Monday + resources.Tick(20*resources.Hour)
	var lines []resources.OrderLine
	for i, product := range []string{"PX", "HS", "PX", "HS", "PX", "HS"} {
		lines = append(lines, resources.OrderLine{
			Order: string(rune('A' + i)), Line: "1", Product: product, Quantity: 3, ShipBy: due, Due: due, Weight: int64(1 + i*i%5),
		})
	}
	s := schedtest.State(schedtest.Workshop(), lines...)
	p, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	before, err := runner.Plan(t.Context(), p, nil, runner.Budget{})
	require.NoError(t, err)
	away, err := runner.Plan(t.Context(), p, before.Plan, runner.Budget{Iterations: 3000, Workers: 1, Seed: 5})
	require.NoError(t, err)
	require.True(t, away.Cost.Less(before.Cost))
	lie := search.Result{Plan: before.Plan, Cost: search.Cost{-1}}
	told := search.Result{Plan: away.Plan, Cost: away.Cost, Iterations: away.Iterations}
	// A nanosecond of search finds nothing here.
	f, err := runner.Plan(t.Context(), p, before.Plan, runner.Budget{Time: 1, Workers: 1, Along: says(lie, told)})
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, f.Plan)
	require.Equal(t, away.Cost, f.Cost)
	require.Equal(t, away.Plan.Seed, f.Plan.Seed)
	require.GreaterOrEqual(t, f.Iterations, away.Iterations)
}
