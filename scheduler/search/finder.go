// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/scheduler"

// finder finds the activities of a problem by piece and operation. One piece's are a
// ring that is entered behind the one found last: plans speak of them in turn.
type finder struct {
	acts  []scheduler.Act
	piece map[string]int32 // number of each piece that has activities
	enter []int32          // per piece: where its ring is entered
	next  []int32          // per act: the next of its piece
}

func newFinder(p *scheduler.Problem) *finder {
	f := &finder{acts: p.Acts, piece: make(map[string]int32, p.Pieces), enter: none(int(p.Pieces)), next: make([]int32, len(p.Acts))}
	for a := range p.Acts {
		ix := p.Acts[a].PieceIx
		last := f.enter[ix]
		if last < 0 {
			f.piece[p.Acts[a].Piece] = ix
			f.next[a] = int32(a)
		} else {
			f.next[a], f.next[last] = f.next[last], int32(a)
		}
		f.enter[ix] = int32(a)
	}
	for ix, last := range f.enter {
		if last >= 0 {
			f.enter[ix] = f.next[last]
		}
	}
	return f
}

// find is the activity of a piece's operation, -1 when there is none.
func (f *finder) find(m scheduler.Member) int32 {
	ix, known := f.piece[m.Piece]
	if !known {
		return -1
	}
	a := f.enter[ix]
	for {
		if f.acts[a].Operation == m.Operation {
			f.enter[ix] = f.next[a]
			return a
		}
		if a = f.next[a]; a == f.enter[ix] {
			return -1
		}
	}
}
