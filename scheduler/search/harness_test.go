// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"os"
	"path/filepath"
	"testing"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// season is the demo plant with its orders, nothing begun.
func season(t testing.TB) *scheduler.State {
	t.Helper()
	read := func(name string) []byte {
		text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "demo", name))
		require.NoError(t, err)
		return text
	}
	plant, findings := resources.ReadPlant("plant.yaml", read("plant.yaml"))
	require.NotNil(t, plant, "%v", findings)
	lines, findings := resources.ReadOrders("orders.csv", read("orders.csv"), plant)
	require.NotEmpty(t, lines, "%v", findings)
	s, err := scheduler.StateOf(plant, lines)
	require.NoError(t, err)
	return s
}

func compile(t testing.TB, s *scheduler.State, now resources.Tick) *scheduler.Problem {
	t.Helper()
	p, err := scheduler.Compile(s, now)
	require.NoError(t, err)
	return p
}

// requireSound holds a result against the verifier, the independent score and
// its own bound.
func requireSound(t testing.TB, s *scheduler.State, now resources.Tick, r search.Result) {
	t.Helper()
	schedtest.RequireOK(t, s, now, r.Plan)
	score := scheduler.Measure(s, r.Plan)
	require.Equal(t, score.Levels, [4]int64(r.Cost), "the search and the score disagree")
	for i := range r.Cost {
		require.LessOrEqual(t, r.Bound[i], r.Cost[i], "the bound of level %d is above the plan", i)
		if r.Bound[i] < r.Cost[i] {
			break // later levels may pay for an earlier one
		}
	}
}

// same is a start for Improve that only times a plan again.
func retime(t testing.TB, p *scheduler.Problem, plan *scheduler.Plan) search.Result {
	t.Helper()
	r, err := search.Improve(p, search.Options{Start: plan, Progress: func() float64 { return 1 }})
	require.NoError(t, err)
	return r
}
