// SPDX-License-Identifier: Apache-2.0

package capacity_test

import (
	"errors"
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/capacity"
	"towpath/scheduler/schedtest"
)

// Eight tubes due in a day and a half, and two mandrels to make them on: a third
// helps, more benches do not.
func TestWorthOfWhatHoldsTheShopBack(t *testing.T) {
	due := schedtest.Monday + resources.Tick(34*hour)
	in := capacity.Input{State: schedtest.State(oneBench(0), line("1", "A", 4, due), line("2", "B", 4, due+resources.Tick(8*hour))), Now: schedtest.Monday, Weeks: 2}
	r := of(t, in)
	all := capacity.Additions(in.State.Plant, r)
	require.Len(t, all, 6, "a mandrel, a person, a Saturday, three stations")
	q, err := capacity.Ask(in, capacity.Effort{Iterations: 30})
	require.NoError(t, err)
	require.Equal(t, 2, q.Base.Orders)
	require.Positive(t, q.Base.Tardiness)
	found := map[string]capacity.Worth{}
	var list []capacity.Worth
	for _, a := range all {
		w, err := q.Worth(a)
		require.NoError(t, err)
		require.InDelta(t, q.Base.Tardiness-w.With.Tardiness, w.Tardiness, 1e-9)
		found[a.Key] = w
		list = append(list, w)
	}
	require.Positive(t, found["tool:M"].Tardiness)
	require.Zero(t, found["station:bench"].Tardiness)
	capacity.Rank(list)
	for i := 1; i < len(list); i++ {
		require.LessOrEqual(t, list[i].Tardiness, list[i-1].Tardiness)
	}
	again, err := q.Worth(list[0].Addition)
	require.NoError(t, err)
	again.Addition, list[0].Addition = capacity.Addition{}, capacity.Addition{}
	require.Equal(t, list[0], again, "the same question has the same answer")
}

// Each addition makes a plant in which the shop can still be planned, and
// leaves the shop's own plant alone.
func TestEveryAdditionCanBeMade(t *testing.T) {
	in := demo(t)
	r := of(t, in)
	all := capacity.Additions(in.State.Plant, r)
	before := fmt.Sprintf("%+v", *in.State.Plant)
	seen := map[string]bool{}
	for i := range all {
		a := &all[i]
		require.False(t, seen[a.Key], a.Key)
		seen[a.Key] = true
		p := a.Apply(in.State.Plant)
		require.Empty(t, errorsOf(resources.ValidatePlant(p)), a.Key)
		if i > 0 {
			require.LessOrEqual(t, a.Peak, all[i-1].Peak)
		}
	}
	require.Equal(t, before, fmt.Sprintf("%+v", *in.State.Plant))
	require.Len(t, all, 10+13+13+22)
	_, ok := capacity.Named(all, " Station:o1 ")
	require.True(t, ok)
	_, ok = capacity.Named(all, "station:O9")
	require.False(t, ok)
}

func errorsOf(found []resources.Finding) []string {
	var out []string
	for _, f := range found {
		if f.Severity == resources.Error {
			out = append(out, f.String())
		}
	}
	return out
}

func TestWorthIsGivenUpWhenAsked(t *testing.T) {
	in := firstOrders(t)
	_, err := capacity.Ask(in, capacity.Effort{Weeks: -1, Stop: func() bool { return true }})
	require.ErrorIs(t, err, capacity.ErrStopped)
}

// The demo's first orders and the forecast of two weeks, solved with and
// without a Saturday of the crew that holds the season back.
// A shop that is solved with its forecast is asked from several goroutines at
// once, as it says.
func TestWorthIsAskedSideBySide(t *testing.T) {
	due := schedtest.Monday + resources.Tick(34*hour)
	in := capacity.Input{State: schedtest.State(oneBench(0), line("1", "A", 4, due)), Now: schedtest.Monday, Weeks: 2}
	in.Forecast = &resources.Forecast{Lines: []resources.ForecastLine{{Product: "A", Quantity: 6, Due: due + resources.Tick(100*hour), Row: 2}}}
	all := capacity.Additions(in.State.Plant, of(t, capacity.Input{State: in.State, Now: in.Now, Weeks: 2}))
	q, err := capacity.Ask(in, capacity.Effort{Iterations: 3})
	require.NoError(t, err)
	require.Greater(t, q.Pieces, 4, "the forecast is in it")
	var errs [2]error
	var wait sync.WaitGroup
	for i := range errs {
		wait.Go(func() { _, errs[i] = q.Worth(all[i]) })
	}
	wait.Wait()
	require.NoError(t, errors.Join(errs[:]...))
}

func TestWorthInTheDemo(t *testing.T) {
	in := firstOrders(t)
	q, err := capacity.Ask(in, capacity.Effort{Iterations: 2, Weeks: 2})
	require.NoError(t, err)
	require.Greater(t, q.Base.Orders, 5, "the forecast's stand beside the shop's own")
	a, ok := capacity.Named(capacity.Additions(in.State.Plant, of(t, in)), "shift:bonders")
	require.True(t, ok)
	w, err := q.Worth(a)
	require.NoError(t, err)
	require.Equal(t, q.Base.Orders, w.With.Orders)
	require.Equal(t, q.Base.Lost-w.With.Lost, w.Saved)
}

// firstOrders is the demo with a few orders and no plan.
func firstOrders(t *testing.T) capacity.Input {
	in := demo(t)
	var lines []resources.OrderLine
	for _, order := range []string{"1001/1", "1002/1", "1003/1", "1005/1", "1008/1"} {
		lines = append(lines, in.State.Lines[order].OrderLine)
	}
	s, err := scheduler.StateOf(in.State.Plant, lines)
	require.NoError(t, err)
	in.State, in.Plan = s, nil
	return in
}
