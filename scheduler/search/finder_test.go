// SPDX-License-Identifier: Apache-2.0

package search

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/scheduler"
)

// Every operation of every piece is found, in whatever order they are laid out and asked
// for, and nothing else.
func TestFinderFindsEachOperationOfEachPiece(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &scheduler.Problem{}
		counts := rapid.SliceOfN(rapid.IntRange(1, 5), 1, 4).Draw(t, "operations")
		p.Pieces = int32(len(counts))
		for piece, count := range counts {
			for op := range count {
				p.Acts = append(p.Acts, scheduler.Act{Piece: fmt.Sprint("P", piece), PieceIx: int32(piece), Operation: fmt.Sprint("op", op)})
			}
		}
		p.Acts = rapid.Permutation(p.Acts).Draw(t, "acts")
		f := newFinder(p)
		for range 2 {
			for _, a := range rapid.Permutation(all(len(p.Acts))).Draw(t, "asked") {
				require.Equal(t, a, f.find(scheduler.Member{Piece: p.Acts[a].Piece, Operation: p.Acts[a].Operation}))
				require.Equal(t, int32(-1), f.find(scheduler.Member{Piece: p.Acts[a].Piece, Operation: "other"}))
			}
		}
		require.Equal(t, int32(-1), f.find(scheduler.Member{Piece: "other", Operation: "op0"}))
	})
}

func all(n int) []int32 {
	list := make([]int32, n)
	for i := range list {
		list[i] = int32(i)
	}
	return list
}
