// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/scheduler"

// finder finds the activities of a problem by piece and operation. One piece's are a
// ring that is entered behind the one found last: plans speak of them in turn.
type finder struct {
	named []string         // per act: its operation
	piece map[string]int32 // number of each piece that has activities
	enter []int32          // per piece: where its ring is entered
	next  []int32          // per act: the next of its piece

	plan *scheduler.Plan // asked about last, or written last
	acts []int32         // per row of its work: the activity, -1 for none
}

func newFinder(p *scheduler.Problem) *finder {
	f := &finder{named: make([]string, len(p.Acts)), piece: make(map[string]int32, p.Pieces), enter: none(int(p.Pieces)), next: make([]int32, len(p.Acts))}
	for a := range p.Acts {
		f.named[a] = p.Acts[a].Operation
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

// works tells the activity of each row of a plan's work, -1 for none.
func (f *finder) works(plan *scheduler.Plan) []int32 {
	if f.plan == plan {
		return f.acts
	}
	f.plan, f.acts = plan, make([]int32, len(plan.Work))
	for i := range plan.Work {
		w := &plan.Work[i]
		f.acts[i] = f.find(scheduler.Member{Piece: w.Piece, Operation: w.Operation})
	}
	return f.acts
}

// find is the activity of a piece's operation, -1 when there is none.
func (f *finder) find(m scheduler.Member) int32 {
	ix, known := f.piece[m.Piece]
	if !known {
		return -1
	}
	a := f.enter[ix]
	for {
		if f.named[a] == m.Operation {
			f.enter[ix] = f.next[a]
			return a
		}
		if a = f.next[a]; a == f.enter[ix] {
			return -1
		}
	}
}
