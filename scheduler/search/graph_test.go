// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Two nodes are in one part exactly when each can be reached from the other, and a part
// is called after its least node.
func TestComponentsAreWhatReachesItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "nodes")
		node := rapid.Int32Range(0, int32(n-1))
		edges := rapid.SliceOf(rapid.Custom(func(t *rapid.T) [2]int32 {
			return [2]int32{node.Draw(t, "from"), node.Draw(t, "to")}
		})).Draw(t, "edges")
		var g graph
		reach := make([][]bool, n)
		for i := range reach {
			reach[i] = make([]bool, n)
			reach[i][i] = true
		}
		g.begin(n)
		for _, e := range edges {
			g.count(e[0], e[1])
			reach[e[0]][e[1]] = true
		}
		g.lay()
		for _, e := range edges {
			g.add(e[0], e[1])
		}
		for k := range n {
			for i := range n {
				for j := range n {
					reach[i][j] = reach[i][j] || reach[i][k] && reach[k][j]
				}
			}
		}
		part := g.components()
		for i := range n {
			for j := range n {
				if reach[i][j] && reach[j][i] {
					require.LessOrEqual(t, part[i], int32(j))
					require.Equal(t, part[i], part[j])
				} else {
					require.NotEqual(t, part[i], part[j])
				}
			}
		}
	})
}
