// SPDX-License-Identifier: Apache-2.0

package search

// inherit has no block wait in the order for one that it needs and that is less urgent: a
// block is as urgent as the most urgent of all that comes after it. Else a tube that
// shares a load with one due in a month would wait for that one's winding, behind all
// that is due sooner. The same is done with locks
// (Sha, Rajkumar and Lehoczky, Priority inheritance protocols, 1990).
func (s *sequencer) inherit(blocks int) {
	left := append(s.left[:0], s.waits[:blocks]...) // waits not yet met
	line := s.line[:0]                              // the blocks, each after all that it needs
	for block, n := range left {
		if n == 0 {
			line = append(line, int32(block))
		}
	}
	for at := 0; at < len(line); at++ {
		s.eachNeed(line[at], func(by int32) {
			if left[by]--; left[by] == 0 {
				line = append(line, by)
			}
		})
	}
	for at := len(line) - 1; at >= 0; at-- {
		block := line[at]
		s.eachNeed(block, func(by int32) { s.key[block] = min(s.key[block], s.key[by]) })
	}
	s.left, s.line = left, line
}

// eachNeed visits the blocks that wait for one, once for each wait.
func (s *sequencer) eachNeed(block int32, visit func(by int32)) {
	p := s.m.p
	for _, n := range s.list[block] {
		for _, a := range n.acts {
			for _, i := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
				if by := s.blockOf[p.Arcs[i].To]; by >= 0 && by != block {
					visit(by)
				}
			}
		}
	}
}
