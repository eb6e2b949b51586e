// SPDX-License-Identifier: Apache-2.0

package search

import "encoding/binary"

// along is of how many in ten that a piece which passes another of the same route
// does so at every station. Where all go the same way, as in a flow shop, passing at
// one station alone mostly makes both wait.
const along = 6

// routes numbers, by piece, the ways that pieces go: those of one number go to
// the same stations, or a choice of the same, in the same order.
func (m *model) routes() []int32 {
	list := make([]int32, len(m.byPiece))
	known := map[string]int32{}
	var way []byte
	for piece, acts := range m.byPiece {
		way = way[:0]
		for _, a := range acts {
			act := &m.p.Acts[a]
			way = binary.AppendUvarint(way, uint64(act.ModeTo-act.ModeAt))
			for mode := act.ModeAt; mode < act.ModeTo; mode++ {
				way = binary.AppendUvarint(way, uint64(m.p.Modes[mode].Station))
			}
		}
		number, ok := known[string(way)]
		if !ok {
			number = int32(len(known))
			known[string(way)] = number
		}
		list[piece] = number
	}
	return list
}

// goesAlong draws whether an activity that passes another does so with all that is
// done to both pieces.
func (s *annealer) goesAlong(one, other int32) bool {
	return s.routes[one] == s.routes[other] && s.rng.IntN(10) < along
}

// passAlong puts everything of a piece just before, or after, what another of the
// same route does at the same step, where nobody has begun either.
func (s *annealer) passAlong(piece, other int32, before bool) bool {
	by := 1.0
	if before {
		by = -1
	}
	moved := false
	rivals := s.d.m.byPiece[other]
	for k, a := range s.d.m.byPiece[piece] {
		if s.next.key[a] > settledKey && s.next.key[rivals[k]] > settledKey {
			s.next.key[a] = s.next.key[rivals[k]] + by
			moved = true
		}
	}
	if s.fine && s.rng.IntN(100) < unrested {
		s.unrestAll(piece)
	}
	return moved
}
