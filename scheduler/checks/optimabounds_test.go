// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
	"towpath/scheduler/search"
)

// No bound is above what a constraint solver has proven to be the best possible,
// nor, part by part, above what any plan of its costs.
func TestBoundsAreBelowProvenOptima(t *testing.T) {
	met, above := 0, 0
	shops := references(t, "tiny", "optimum")
	for _, r := range shops {
		p, err := scheduler.Compile(r.state, r.now())
		require.NoError(t, err, r.name)
		bounds, err := search.Bounds(p)
		require.NoError(t, err, r.name)
		whole, err := search.Bound(p)
		require.NoError(t, err, r.name)
		require.Equal(t, "OPTIMAL", r.found.Status, r.name)
		require.LessOrEqual(t, slices.Compare(whole[:], r.found.Levels[:]), 0, r.name)
		if slices.Equal(whole[:], r.found.Levels[:]) {
			met++
		}
		score := scheduler.Measure(r.state, r.plan)
		for i, part := range search.Parts() {
			require.LessOrEqual(t, bounds[i].Value, part.Of(&score), "%s: %s by %s", r.name, part.Name, bounds[i].By)
			if part.Name == "tardiness" && bounds[i].Value > 0 {
				above++
			}
		}
	}
	t.Logf("%d of %d optima met; weighted tardiness is proven unavoidable in %d shops", met, len(shops), above)
	require.Positive(t, above)
}
