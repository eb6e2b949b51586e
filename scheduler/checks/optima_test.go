// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// The engine's plans of the tiny shops are valid and never better than what a
// constraint solver has proven to be the best possible: that would be a mistake
// in the model or in the engine. How many it gets to with the time of a
// benchmark is in BENCHMARKS.md; here the work is small, and the same anywhere.
func TestEngineAgainstProvenOptima(t *testing.T) {
	schedtest.Long(t)
	const iterations = 15000
	reached := 0
	shops := references(t, "tiny", "optimum")
	for _, r := range shops {
		p, err := scheduler.Compile(r.state, r.now())
		require.NoError(t, err, r.name)
		found, err := search.Improve(p, search.Options{Seed: seed, Iterations: iterations})
		require.NoError(t, err, r.name)
		require.Empty(t, scheduler.Check(r.state, r.now(), found.Plan), r.name)
		cost := scheduler.Measure(r.state, found.Plan).Levels
		require.Equal(t, found.Cost, search.Cost(cost), r.name)
		require.GreaterOrEqual(t, slices.Compare(cost[:], r.found.Levels[:]), 0, "%s: better than a proven optimum", r.name)
		require.Equal(t, r.found.Levels[0], cost[0], "%s: as few lost orders as can be", r.name)
		if slices.Equal(cost[:], r.found.Levels[:]) {
			reached++
		}
	}
	t.Logf("%d of %d optima reached with %d iterations", reached, len(shops), iterations)
	require.GreaterOrEqual(t, reached, least)
}

// least is how many of the optima so few iterations must reach; 26 were seen.
const least = 20
