// SPDX-License-Identifier: Apache-2.0

package search

import "slices"

// genome is a solution before it is timed: who shares a load, and who goes
// first. Keys are times or anything ordered like them; a lower key goes first
// as far as waits allow.
type genome struct {
	node []*node   // per act
	key  []float64 // per act
	want []int32   // per act: the station its node should go to; -1: where it ends first
	// floor is the earliest start of each activity, 0 for none: what is to stay
	// where a schedule has it although something else moves.
	floor []Tick
	// out is the earliest unloading, likewise, of what may wait inside.
	out  []Tick
	fine []fine // per act
}

// newGenome is a genome without wishes for stations.
func newGenome(nodes []*node, key []float64) *genome {
	g := &genome{node: nodes, key: key, want: make([]int32, len(key)), floor: make([]Tick, len(key)), out: make([]Tick, len(key)), fine: make([]fine, len(key))}
	for i := range g.want {
		g.want[i] = -1
	}
	return g
}

func (g *genome) clone() *genome {
	return &genome{node: slices.Clone(g.node), key: slices.Clone(g.key), want: slices.Clone(g.want), floor: slices.Clone(g.floor), out: slices.Clone(g.out), fine: slices.Clone(g.fine)}
}

// copyFrom makes g equal to other without allocating.
func (g *genome) copyFrom(other *genome) {
	copy(g.node, other.node)
	copy(g.key, other.key)
	copy(g.want, other.want)
	copy(g.floor, other.floor)
	copy(g.out, other.out)
	copy(g.fine, other.fine)
}

// nodeKey is the lowest key of a node's activities.
func (g *genome) nodeKey(n *node) float64 {
	k := g.key[n.acts[0]]
	for _, a := range n.acts[1:] {
		k = min(k, g.key[a])
	}
	return k
}

// hold keeps a node from starting, and from being unloaded, sooner, and says
// what a fine search has settled of it.
type hold struct {
	start, out Tick
	fine       fine
}

// sequence is the order in which nodes are placed, cut into blocks that are
// placed whole.
type sequence struct {
	nodes []*node
	want  []int32 // station each node should go to
	floor []hold  // before which it should not start and be unloaded
	ends  []int   // block i is nodes[ends[i-1]:ends[i]]
}

// sequencer turns genomes into sequences, reusing its memory.
type sequencer struct {
	m       *model
	sets    sets
	blockOf []int32 // per act
	list    [][]*node
	key     []float64
	waits   []int32
	left    []int32 // working space
	line    []int32 // working space
	local   []int32 // per act: forward waits inside the block not yet met, by the node's first act
	queue   keyed
	inner   keyed
	out     sequence
}

func newSequencer(m *model) *sequencer {
	n := len(m.p.Acts)
	return &sequencer{m: m, sets: sets{up: make([]int32, n)}, blockOf: make([]int32, n), local: make([]int32, n)}
}

// keyed is a heap of numbered things by key, then number.
type keyed struct {
	key []float64
	num []int32
}

// before tells whether the thing at i comes out before that at j.
func (q *keyed) before(i, j int) bool {
	if q.key[i] != q.key[j] {
		return q.key[i] < q.key[j]
	}
	return q.num[i] < q.num[j]
}

func (q *keyed) swap(i, j int) {
	q.key[i], q.key[j] = q.key[j], q.key[i]
	q.num[i], q.num[j] = q.num[j], q.num[i]
}

func (q *keyed) add(key float64, num int32) {
	q.key, q.num = append(q.key, key), append(q.num, num)
	for i := len(q.num) - 1; i > 0; {
		up := (i - 1) / 2
		if !q.before(i, up) {
			return
		}
		q.swap(i, up)
		i = up
	}
}

func (q *keyed) take() int32 {
	num := q.num[0]
	last := len(q.num) - 1
	q.swap(0, last)
	q.num, q.key = q.num[:last], q.key[:last]
	for i := 0; ; {
		down := 2*i + 1
		if down >= last {
			return num
		}
		if down+1 < last && q.before(down+1, down) {
			down++
		}
		if !q.before(down, i) {
			return num
		}
		q.swap(i, down)
		i = down
	}
}

// order lists the nodes of a genome in placing order. It is false when loads
// wait for each other in a circle.
func (s *sequencer) order(g *genome) (*sequence, bool) {
	blocks := s.cut(g)
	s.wait()
	s.inherit(blocks)
	s.out.nodes, s.out.want, s.out.floor, s.out.ends = s.out.nodes[:0], s.out.want[:0], s.out.floor[:0], s.out.ends[:0]
	s.queue.key, s.queue.num = s.queue.key[:0], s.queue.num[:0]
	for i := range blocks {
		if s.waits[i] == 0 {
			s.queue.add(s.key[i], int32(i))
		}
	}
	done := 0
	for len(s.queue.num) > 0 {
		i := s.queue.take()
		done++
		if !s.inside(g, s.list[i], i) {
			return nil, false
		}
		s.out.ends = append(s.out.ends, len(s.out.nodes))
		s.release(i)
	}
	return &s.out, done == blocks
}

// cut groups the free activities into blocks: what is tied, and what shares a
// load with it.
func (s *sequencer) cut(g *genome) int {
	m := s.m
	copy(s.sets.up, m.tied)
	for a, n := range g.node {
		if len(n.acts) > 1 && n.acts[0] == int32(a) && n.fixed == nil {
			for _, other := range n.acts[1:] {
				s.sets.join(int32(a), other)
			}
		}
	}
	blocks := 0
	for a := range g.node {
		s.blockOf[a] = -1
	}
	if len(s.list) == 0 {
		s.lists(g)
	}
	for _, a := range m.topo {
		n := g.node[a]
		if n.fixed != nil {
			continue
		}
		root := s.sets.find(a)
		i := s.blockOf[root]
		if i < 0 {
			i = int32(blocks)
			s.blockOf[root] = i
			blocks++
			if blocks > len(s.list) {
				s.list = append(s.list, nil)
				s.key = append(s.key, 0)
				s.waits = append(s.waits, 0)
			}
			s.list[i] = s.list[i][:0]
			s.key[i] = g.key[a]
			s.waits[i] = 0
		}
		s.blockOf[a] = i
		s.key[i] = min(s.key[i], g.key[a])
		if n.acts[0] == a {
			s.list[i] = append(s.list[i], n)
		}
	}
	return blocks
}

// lists makes room for the nodes of each block of the first genome, all in one piece
// of memory: the blocks of later ones are much the same.
func (s *sequencer) lists(g *genome) {
	size, nodes := s.local, 0 // of each block, by its root
	clear(size)
	for a, n := range g.node {
		if n.fixed == nil && n.acts[0] == int32(a) {
			size[s.sets.find(int32(a))]++
			nodes++
		}
	}
	memory := make([]*node, nodes)
	for _, a := range s.m.topo {
		if g.node[a].fixed != nil {
			continue
		}
		if root := s.sets.find(a); size[root] > 0 {
			s.list = append(s.list, memory[:0:size[root]])
			memory, size[root] = memory[size[root]:], 0
		}
	}
	s.key, s.waits = make([]float64, len(s.list)), make([]int32, len(s.list))
}

// wait counts, for each block, the waits from other blocks.
func (s *sequencer) wait() {
	p := s.m.p
	for i := range p.Arcs {
		from, to := s.blockOf[p.Arcs[i].From], s.blockOf[p.Arcs[i].To]
		if from != to && from >= 0 && to >= 0 {
			s.waits[to]++
		}
	}
}

// release lets go the blocks that wait for nothing any more once one is placed.
func (s *sequencer) release(block int32) {
	s.eachNeed(block, func(by int32) {
		if s.waits[by]--; s.waits[by] == 0 {
			s.queue.add(s.key[by], by)
		}
	})
}

// inside orders one block's nodes by their forward waits, then by key.
func (s *sequencer) inside(g *genome, nodes []*node, block int32) bool {
	if len(nodes) == 1 {
		s.append(g, nodes[0])
		return true
	}
	s.inner.key, s.inner.num = s.inner.key[:0], s.inner.num[:0]
	for _, n := range nodes {
		waits := int32(0)
		s.eachArc(n, block, true, func(int32) { waits++ }, g)
		s.local[n.acts[0]] = waits
		if waits == 0 {
			s.inner.add(g.nodeKey(n), n.acts[0])
		}
	}
	before := len(s.out.nodes)
	for len(s.inner.num) > 0 {
		n := g.node[s.inner.take()]
		s.append(g, n)
		s.eachArc(n, block, false, func(to int32) {
			first := g.node[to].acts[0]
			if s.local[first]--; s.local[first] == 0 {
				s.inner.add(g.nodeKey(g.node[to]), first)
			}
		}, g)
	}
	return len(s.out.nodes)-before == len(nodes)
}

func (s *sequencer) append(g *genome, n *node) {
	s.out.nodes = append(s.out.nodes, n)
	s.out.want = append(s.out.want, g.want[n.acts[0]])
	var floor hold
	for _, a := range n.acts {
		floor.start = max(floor.start, g.floor[a])
		floor.out = max(floor.out, g.out[a])
		floor.fine.rest = max(floor.fine.rest, g.fine[a].rest)
	}
	first := &g.fine[n.acts[0]]
	floor.fine.turn, floor.fine.mix, floor.fine.lead, floor.fine.pour = first.turn, first.mix, first.lead, first.pour
	s.out.floor = append(s.out.floor, floor)
}

// eachArc visits the other ends of a node's forward arcs inside its block.
func (s *sequencer) eachArc(n *node, block int32, in bool, visit func(int32), g *genome) {
	p := s.m.p
	for _, a := range n.acts {
		list := p.Out[p.OutAt[a]:p.OutAt[a+1]]
		if in {
			list = p.In[p.InAt[a]:p.InAt[a+1]]
		}
		for _, i := range list {
			arc := &p.Arcs[i]
			other := arc.To
			if in {
				other = arc.From
			}
			if forward(arc) && s.blockOf[other] == block && g.node[other] != n {
				visit(other)
			}
		}
	}
}
