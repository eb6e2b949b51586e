// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
)

// regroup makes one node of these activities in g; false when no station takes
// them together.
func (m *model) regroup(g *genome, acts []int32) bool {
	n := m.nodeOf(acts)
	if n == nil {
		return false
	}
	for _, a := range acts {
		g.node[a] = n
	}
	return true
}

// nodeOf is the node of these activities, the shared one for a lone activity.
func (m *model) nodeOf(acts []int32) *node {
	if len(acts) == 1 {
		return m.singles[acts[0]]
	}
	own := slices.Clone(acts)
	slices.Sort(own)
	return m.make(own)
}

// grouping says how loads are formed for a start.
type grouping struct {
	clusters int     // most upstream loads that go into one load
	spread   float64 // largest difference of keys within one load
}

// plain gives every activity its own node, settled loads theirs.
func (m *model) plain() []*node {
	nodes := slices.Clone(m.singles)
	for i := range m.p.Loads {
		for _, a := range m.p.Loads[i].Members {
			nodes[a] = m.settled[i]
		}
	}
	return nodes
}

// stage is the free activities that may share loads with one another.
type stage struct {
	key   int32
	depth int32
	acts  []int32
}

// stages lists them in the order in which pieces meet them.
func (m *model) stages() []stage {
	depth := make([]int32, len(m.p.Acts))
	for _, a := range m.topo {
		for _, i := range m.p.Out[m.p.OutAt[a]:m.p.OutAt[a+1]] {
			arc := &m.p.Arcs[i]
			if m.rank[arc.To] > m.rank[a] {
				depth[arc.To] = max(depth[arc.To], depth[a]+1)
			}
		}
	}
	byKey := map[int32]int{}
	var out []stage
	for _, a := range m.topo {
		act := &m.p.Acts[a]
		if act.Key < 0 || act.Fixed != nil || act.Load >= 0 || act.Frozen {
			continue
		}
		i, ok := byKey[act.Key]
		if !ok {
			i = len(out)
			byKey[act.Key] = i
			out = append(out, stage{key: act.Key})
		}
		out[i].acts = append(out[i].acts, a)
		out[i].depth = max(out[i].depth, depth[a])
	}
	slices.SortStableFunc(out, func(a, b stage) int { return cmp.Compare(a.depth, b.depth) })
	return out
}

// form fills loads in the order of keys: pieces that shared a load before stay
// together, and a load takes as many as fit.
func (m *model) form(key []float64, how grouping) []*node {
	return m.formOf(nil, key, how)
}

// formOf is form among some activities only; nil: all. The others stay single.
func (m *model) formOf(only []int32, key []float64, how grouping) []*node {
	nodes := m.plain()
	some := make([]bool, len(m.p.Acts))
	for _, a := range only {
		some[a] = true
	}
	joined := make([]int32, m.p.Pieces) // per piece: the load it was in last
	at := make([]float64, m.p.Pieces)   // and that load's key
	for i := range joined {
		joined[i] = -1
	}
	next := int32(0)
	for _, st := range m.stages() {
		acts := slices.Clone(st.acts)
		if only != nil {
			acts = slices.DeleteFunc(acts, func(a int32) bool { return !some[a] })
		}
		prio := func(a int32) float64 {
			if piece := m.p.Acts[a].PieceIx; joined[piece] >= 0 {
				return at[piece]
			}
			return key[a]
		}
		slices.SortStableFunc(acts, func(a, b int32) int {
			return cmp.Or(
				cmp.Compare(prio(a), prio(b)),
				cmp.Compare(joined[m.p.Acts[a].PieceIx], joined[m.p.Acts[b].PieceIx]),
				cmp.Compare(key[a], key[b]),
				cmp.Compare(a, b),
			)
		})
		for _, load := range m.fill(acts, key, joined, how) {
			low := key[load[0]]
			for _, a := range load {
				low = min(low, prio(a))
			}
			n := m.nodeOf(load)
			for _, a := range load {
				nodes[a] = n
				joined[m.p.Acts[a].PieceIx] = next
				at[m.p.Acts[a].PieceIx] = low
			}
			next++
		}
	}
	return nodes
}

// fill cuts sorted activities into loads.
func (m *model) fill(acts []int32, key []float64, joined []int32, how grouping) [][]int32 {
	var loads [][]int32
	var load []int32
	clusters := 0
	shut := func() {
		if len(load) > 0 {
			loads = append(loads, load)
		}
		load, clusters = nil, 0
	}
	for len(acts) > 0 {
		k := 1
		if j := joined[m.p.Acts[acts[0]].PieceIx]; j >= 0 {
			for k < len(acts) && joined[m.p.Acts[acts[k]].PieceIx] == j {
				k++
			}
		}
		cluster := acts[:k]
		acts = acts[k:]
		if len(load) > 0 && (clusters >= how.clusters && joined[m.p.Acts[cluster[0]].PieceIx] >= 0 ||
			key[cluster[0]]-key[load[0]] > how.spread ||
			m.make(append(slices.Clone(load), cluster...)) == nil) {
			shut()
		}
		for _, a := range cluster {
			if len(load) > 0 && m.make(append(slices.Clone(load), a)) == nil {
				shut()
			}
			load = append(load, a)
		}
		clusters++
	}
	shut()
	return loads
}
