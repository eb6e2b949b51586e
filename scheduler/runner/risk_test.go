// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
	"towpath/testdata/demo"
)

func demoProgram(t *testing.T) *risk.Program {
	t.Helper()
	plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", found)
	lines, _ := resources.ReadOrders("orders.csv", demo.Orders, plant)
	s, err := scheduler.StateOf(plant, lines[:8])
	require.NoError(t, err)
	p, err := scheduler.Compile(s, plant.StartsAt)
	require.NoError(t, err)
	plan, err := search.Construct(p)
	require.NoError(t, err)
	require.Empty(t, scheduler.Check(s, plant.StartsAt, plan))
	g, err := risk.Compile(s, plant.StartsAt, plan)
	require.NoError(t, err)
	return g
}

// Many cores answer as one does.
func TestRiskIsTheSameOnAnyNumberOfCores(t *testing.T) {
	g := demoProgram(t)
	o := risk.Options{Replications: 450, Seed: 3}
	one, _, err := risk.Play(g, o)
	require.NoError(t, err)
	for _, workers := range []int{1, 3} {
		var told []int
		many, _, err := runner.Risk(t.Context(), g, o, runner.Hands{Cores: workers}, func(done, most int) { told = append(told, done, most) })
		require.NoError(t, err)
		require.Equal(t, one, many)
		require.Equal(t, []int{200, 450, 400, 450, 450, 450}, told)
	}
}

// What was played before an end counts; before the first batch there is none.
func TestRiskCanBeStopped(t *testing.T) {
	g := demoProgram(t)
	ctx, cancel := context.WithCancel(t.Context())
	r, _, err := runner.Risk(ctx, g, risk.Options{Replications: 100000}, runner.Hands{Cores: 2}, func(done, _ int) { cancel() })
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, risk.Batch, r.Replications)
	r, _, err = runner.Risk(ctx, g, risk.Options{}, runner.Hands{Cores: 2}, nil)
	require.ErrorIs(t, err, context.Canceled)
	require.Nil(t, r)
}
