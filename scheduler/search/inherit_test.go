// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// Of all blocks that can be placed next the most urgent is, counted with what comes after
// it: said here once more without blocks being put in any order first.
func TestTheMostUrgentGoesFirst(t *testing.T) {
	pulled := 0
	for name, p := range tinyShops(t) {
		d, err := newDecoder(p)
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(1, 2))
		for _, how := range groupings {
			key := make([]float64, len(p.Acts))
			for a := range key {
				key[a] = float64(rng.IntN(100))
			}
			g := newGenome(d.m.form(key, how), key)
			s, ok := d.seq.order(g)
			if !ok {
				continue
			}
			block := map[int32]int{} // by act
			urgency := make([]float64, len(s.ends))
			from := 0
			for i, end := range s.ends {
				urgency[i] = 1000
				for _, n := range s.nodes[from:end] {
					for _, a := range n.acts {
						block[a] = i
						urgency[i] = min(urgency[i], key[a])
					}
				}
				from = end
			}
			own := slices.Clone(urgency)
			after := make([][]int, len(s.ends)) // blocks that each waits for
			for changed := true; changed; {
				changed = false
				for i := range p.Arcs {
					from, ok := block[p.Arcs[i].From]
					to, also := block[p.Arcs[i].To]
					if !ok || !also || from == to {
						continue
					}
					require.Less(t, from, to, "%s: placed before what it waits for", name)
					if !slices.Contains(after[to], from) {
						after[to] = append(after[to], from)
					}
					if urgency[to] < urgency[from] {
						urgency[from], changed = urgency[to], true
					}
				}
			}
			for i := range urgency {
				if urgency[i] < own[i] {
					pulled++
				}
				for j := i + 1; j < len(urgency); j++ {
					ready := !slices.ContainsFunc(after[j], func(b int) bool { return b >= i })
					require.False(t, ready && urgency[j] < urgency[i], "%s: block %d is more urgent than %d", name, j, i)
				}
			}
		}
	}
	require.Positive(t, pulled, "nothing was as urgent as something that comes after it")
}
