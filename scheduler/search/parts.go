// SPDX-License-Identifier: Apache-2.0

package search

import "slices"

// part is order for the activities of one block whose loads have been broken
// up since: the blocks it falls into. The result has memory of its own.
func (s *sequencer) part(g *genome, acts []int32) (sequence, bool) {
	slices.SortFunc(acts, func(a, b int32) int { return int(s.m.rank[a] - s.m.rank[b]) })
	for _, a := range acts {
		s.sets.up[a] = s.m.tied[a]
	}
	for _, a := range acts {
		for _, other := range g.node[a].acts {
			s.sets.join(a, other)
		}
	}
	// Numbers beyond those of order, so that nothing else seems to be inside.
	base := int32(len(s.blockOf))
	number := map[int32]int32{}
	var lists [][]*node
	var keys []float64
	for _, a := range acts {
		root := s.sets.find(a)
		i, ok := number[root]
		if !ok {
			i = int32(len(lists))
			number[root] = i
			lists, keys = append(lists, nil), append(keys, g.key[a])
		}
		s.blockOf[a] = base + i
		keys[i] = min(keys[i], g.key[a])
		if g.node[a].acts[0] == a {
			lists[i] = append(lists[i], g.node[a])
		}
	}
	order := s.out
	s.out = sequence{}
	ok := s.partOrder(g, base, lists, keys)
	parts := s.out
	s.out = order
	return parts, ok
}

// partOrder appends the lists to s.out in the order of their waits and keys.
func (s *sequencer) partOrder(g *genome, base int32, lists [][]*node, keys []float64) bool {
	p := s.m.p
	waits := make([]int, len(lists))
	each := func(i int32, visit func(to int32)) {
		for _, n := range lists[i] {
			for _, a := range n.acts {
				for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
					if to := s.blockOf[p.Arcs[j].To] - base; to >= 0 && to < int32(len(lists)) && to != i {
						visit(to)
					}
				}
			}
		}
	}
	for i := range lists {
		each(int32(i), func(to int32) { waits[to]++ })
	}
	queue := keyed{}
	for i := range lists {
		if waits[i] == 0 {
			queue.add(keys[i], int32(i))
		}
	}
	done := 0
	for ; len(queue.num) > 0; done++ {
		i := queue.take()
		if !s.inside(g, lists[i], base+i) {
			return false
		}
		s.out.ends = append(s.out.ends, len(s.out.nodes))
		each(i, func(to int32) {
			if waits[to]--; waits[to] == 0 {
				queue.add(keys[to], to)
			}
		})
	}
	return done == len(lists)
}
