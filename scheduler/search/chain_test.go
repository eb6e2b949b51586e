// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// A row that keeps an order late is on one station, and each of it begins when
// that before it is over; it ends with what the late order, or what keeps it
// late, waits for. A change of it moves its first or its last.
func TestRowsThatKeepOrdersLate(t *testing.T) {
	rows := 0
	for name, p := range tinyShops(t) {
		d, err := newDecoder(p)
		require.NoError(t, err)
		for _, rule := range Rules() {
			g, err := d.byRule(rule, groupings[0])
			require.NoError(t, err)
			if !d.decode(g) {
				continue
			}
			s := &annealer{d: d, rng: rand.New(rand.NewPCG(1, 1))}
			s.begin(g)
			a := s.lastOfLate()
			if a < 0 {
				require.Zero(t, sum(s.lateness), "%s by %s: an order is late", name, rule)
				continue
			}
			require.Positive(t, s.lateness[p.Acts[a].Line], name)
			if !s.trace(a) {
				continue
			}
			rows++
			row, c := s.chains.row, &s.chains
			require.GreaterOrEqual(t, len(row), 2)
			for k := 1; k < len(row); k++ {
				require.Equal(t, s.station[row[0]], s.station[row[k]], name)
				require.Equal(t, c.begin[row[k-1]], c.end[row[k]], name)
			}
			s.next.copyFrom(s.now)
			if s.passBinding() {
				require.NotEqual(t, s.now.key, s.next.key, name)
			}
		}
	}
	require.Greater(t, rows, 100)
}

func sum(list []float64) (all float64) {
	for _, x := range list {
		all += x
	}
	return all
}
