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

// A machine that takes histories and never brings them holds nothing up: they are
// played here before much else is.
func TestRiskWaitsForNobody(t *testing.T) {
	g := demoProgram(t)
	o := risk.Options{Replications: 20000, Seed: 3}
	ctx, cancel := context.WithCancel(t.Context())
	var more func(n int) (from, to int)
	lent := make(chan bool)
	gone := func(ctx context.Context, lend func(n int) (from, to int), _ func(risk.Part) error) {
		more = lend
		lend(8)
		close(lent)
		<-ctx.Done()
	}
	r, _, err := runner.Risk(ctx, g, o, runner.Hands{Cores: 1, Away: gone}, func(done, _ int) {
		<-lent
		from, to := more(1)
		require.Less(t, from, to, "not all is given out when the first batch is whole")
		cancel()
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, risk.Batch, r.Replications)
	one, _, err := risk.Play(g, risk.Options{Replications: risk.Batch, Seed: 3})
	require.NoError(t, err)
	require.Equal(t, one, r)
}
