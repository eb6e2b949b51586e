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

// The engine's plans of the medium shops are valid, after little work already
// better than any one rule's, and no worse than what a constraint solver made
// of the same shops in a minute.
func TestEngineAgainstASolverOnMediumShops(t *testing.T) {
	schedtest.Long(t)
	shops := references(t, "medium", "rival")
	require.Len(t, shops, 10)
	for _, r := range shops {
		p, err := scheduler.Compile(r.state, r.now())
		require.NoError(t, err, r.name)
		found, err := search.Improve(p, search.Options{Seed: seed, Iterations: 300})
		require.NoError(t, err, r.name)
		require.Empty(t, scheduler.Check(r.state, r.now(), found.Plan), r.name)
		for _, rule := range search.Rules() {
			plan, err := search.ByRule(p, rule)
			require.NoError(t, err, r.name)
			by := search.Cost(scheduler.Measure(r.state, plan).Levels)
			require.False(t, by.Less(found.Cost), "%s: rule %v is better", r.name, rule)
		}
		if r.plan != nil {
			r.holds(t)
			require.LessOrEqual(t, slices.Compare(found.Cost[:], r.found.Levels[:]), 0, "%s: the solver's is better", r.name)
		}
	}
}
