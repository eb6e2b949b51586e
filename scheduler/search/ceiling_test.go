// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// While a solution is placed, what is known of its cost grows to no more than it
// costs in the end: a search gives up nothing that it would take.
func TestCeilingKnowsNoMoreThanIsSo(t *testing.T) {
	counted, early := 0, 0
	for name, p := range tinyShops(t) {
		d, err := newDecoder(p)
		require.NoError(t, err)
		c := newCeiling(d)
		for _, rule := range Rules() {
			for _, how := range groupings {
				g, err := d.byRule(rule, how)
				require.NoError(t, err)
				d.ceiling = c
				c.most = 1e18
				ok := d.decode(g)
				d.ceiling = nil
				if !ok {
					continue
				}
				v := d.assess()
				require.LessOrEqual(t, c.guide, v.guide+1e-6, "%s by %s", name, rule)
				counted++

				c.begin()
				require.LessOrEqual(t, c.guide, v.guide+1e-6, "%s by %s, counted at the end", name, rule)
				for l := range p.Lines {
					require.Equal(t, d.completion(int32(l)), max(c.done[l], p.Lines[l].Done), "%s by %s", name, rule)
				}
				if c.guide == 0 {
					continue
				}
				d.back(0)
				d.ceiling, c.most = c, 0
				require.False(t, d.decode(g), "%s by %s: a late order costs more than nothing", name, rule)
				d.ceiling = nil
				if len(d.done) < len(p.Acts) {
					early++
				}
			}
		}
	}
	require.Greater(t, counted, 300)
	require.Greater(t, early, 100)
}
