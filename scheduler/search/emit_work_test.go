// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Instants sorted digit by digit come in the order in which comparing puts them, equal
// ones as they came.
func TestInOrderIsAStableSort(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		far := rapid.SampledFrom([]Tick{0, 3, 5000, 1 << 40}).Draw(t, "far")
		list := rapid.SliceOf(rapid.Int64Range(-int64(far), int64(far))).Draw(t, "list")
		ticks := make([]Tick, len(list))
		want := make([]int32, len(list))
		for i := range list {
			ticks[i], want[i] = Tick(list[i]), int32(i)
		}
		slices.SortStableFunc(want, func(a, b int32) int { return cmp.Compare(ticks[a], ticks[b]) })
		require.Equal(t, want, inOrder(ticks))
	})
}

// Lists from one piece of memory do not reach into each other.
func TestChunksKeepListsApart(t *testing.T) {
	var c chunks[int]
	require.Nil(t, c.take(0))
	var lists [][]int
	for i := range 100 {
		list := c.take(1 + i%90)
		require.Len(t, list, 1+i%90)
		for k := range list {
			require.Zero(t, list[k])
			list[k] = i
		}
		lists = append(lists, list)
	}
	for i, list := range lists {
		_ = append(list, -1)
		for _, x := range list {
			require.Equal(t, i, x)
		}
	}
}
