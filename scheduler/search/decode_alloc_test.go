// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Placing one solution after another, which is what a search does all the time,
// allocates nothing once the lists have their room.
func TestDecodingAllocatesNothing(t *testing.T) {
	decoded := 0
	for name, p := range tinyShops(t) {
		d, err := newDecoder(p)
		require.NoError(t, err)
		var solutions []*genome
		for _, rule := range Rules() {
			g, err := d.byRule(rule, groupings[0])
			require.NoError(t, err)
			if d.decode(g) {
				solutions = append(solutions, g)
			}
		}
		all := func() {
			for _, g := range solutions {
				d.decode(g)
			}
		}
		all()
		require.Zero(t, testing.AllocsPerRun(3, all), name)
		decoded += len(solutions)
	}
	require.GreaterOrEqual(t, decoded, 300)
}
