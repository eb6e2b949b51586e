// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"flag"
	"testing"

	"github.com/stretchr/testify/require"
)

var mirrored = flag.Int("pairs", 40, "mirrored pairs of histories to measure")

// What mirrored pairs are worth: the variance of a chance estimated from them,
// over that from as many independent histories, meaned over the orders whose
// chance is neither nearly 0 nor nearly 1. README.md has the figure of 1,000.
func TestMirroredPairs(t *testing.T) {
	s, plan := shop(t, 1, nil)
	g := program(t, s, plan)
	y, n := g.NewPlayer(), 2*(*mirrored)
	sample := g.NewSample(n, 1)
	for r := range n {
		y.PlayMirrored(sample, r)
	}
	sum, orders := 0.0, 0
	for o := range g.orders {
		made, both := 0.0, 0.0
		for r := 0; r < n; r += 2 {
			k := 0.0
			for _, i := range []int{r, r + 1} {
				if sample.rows[i*len(g.orders)+o].made {
					k++
				}
			}
			made += k
			both += k * k
		}
		p := made / float64(n)
		if p < 0.05 || p > 0.95 {
			continue
		}
		pairs := float64(n / 2)
		variance := (both/pairs - made/pairs*made/pairs) / 4 // of a pair's mean
		sum += variance / (p * (1 - p) / 2)
		orders++
	}
	require.Greater(t, orders, 5)
	ratio := sum / float64(orders)
	t.Logf("%d pairs, %d orders: variance %.2f of that of independent histories", *mirrored, orders, ratio)
	// Were the mirror broken, a pair would be one history twice (2) or nothing
	// in common (1, give or take).
	require.Less(t, ratio, 1.5)
}
