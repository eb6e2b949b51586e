// SPDX-License-Identifier: Apache-2.0

package search

import "slices"

// stays is the least time each tool is away.
func (m *model) stays() {
	p := m.p
	m.stay = make([]Seconds, len(p.Holds))
	x := paths{m: m, reach: make([]int32, len(p.Acts)), back: make([]int32, len(p.Acts)), long: make([]Seconds, len(p.Acts))}
	for i := range p.Holds {
		if h := &p.Holds[i]; h.Take >= 0 {
			m.stay[i] = x.longest(h.Take, h.Give) + m.shortest(h.Give) + p.Pools[h.Pool].Turnaround
		}
	}
}

// paths finds its way along forward waits.
type paths struct {
	m           *model
	now         int32     // number of the question in hand
	reach, back []int32   // per act: the last question in which it was met from the front, from the back
	long        []Seconds // per act: the longest way to it, for what both have met
	stack, acts []int32
}

// longest is the least time from the start of one activity to that of another by the
// waits that lead there.
func (x *paths) longest(from, to int32) Seconds {
	m, p := x.m, x.m.p
	x.between(from, to)
	for _, a := range x.acts {
		x.long[a] = 0
	}
	for _, a := range x.acts {
		for _, i := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			if arc := &p.Arcs[i]; forward(arc) && x.back[arc.To] == x.now {
				x.long[arc.To] = max(x.long[arc.To], x.long[a]+m.lag(arc))
			}
		}
	}
	return x.long[to]
}

// between lists the activities on the ways from one to another, both included, in
// their order.
func (x *paths) between(from, to int32) {
	m, p := x.m, x.m.p
	x.now++
	x.reach[from] = x.now
	x.stack = append(x.stack[:0], from)
	for len(x.stack) > 0 {
		a := x.stack[len(x.stack)-1]
		x.stack = x.stack[:len(x.stack)-1]
		for _, i := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[i]
			if forward(arc) && x.reach[arc.To] != x.now && m.rank[arc.To] <= m.rank[to] {
				x.reach[arc.To] = x.now
				x.stack = append(x.stack, arc.To)
			}
		}
	}
	x.reach[from], x.reach[to] = x.now, x.now // a tool may be given back without a wait
	x.back[from], x.back[to] = x.now, x.now
	x.acts = append(x.acts[:0], from, to)
	x.stack = append(x.stack, to)
	for len(x.stack) > 0 {
		a := x.stack[len(x.stack)-1]
		x.stack = x.stack[:len(x.stack)-1]
		for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
			arc := &p.Arcs[i]
			if forward(arc) && x.back[arc.From] != x.now && x.reach[arc.From] == x.now {
				x.back[arc.From] = x.now
				x.acts = append(x.acts, arc.From)
				x.stack = append(x.stack, arc.From)
			}
		}
	}
	slices.SortFunc(x.acts, func(a, b int32) int { return int(m.rank[a] - m.rank[b]) })
}
