// SPDX-License-Identifier: Apache-2.0

package search

// ties joins activities that cannot be placed one without the other: the ends
// of a maximum wait, taking a tool and giving it back, and everything that
// waits for one such activity and is waited for by another. These are the
// strongly connected parts of the waits when ties count both ways (Tarjan
// 1972).
func (m *model) ties() {
	var g graph
	g.begin(len(m.p.Acts))
	m.eachTie(g.count)
	g.lay()
	m.eachTie(g.add)
	m.tied = g.components()
}

// eachTie tells the edges of that graph.
func (m *model) eachTie(tell func(from, to int32)) {
	p := m.p
	for i := range p.Arcs {
		a := &p.Arcs[i]
		if m.singles[a.From].fixed != nil || m.singles[a.To].fixed != nil {
			continue
		}
		tell(a.From, a.To)
		if a.HasMax || a.Min < 0 {
			tell(a.To, a.From)
		}
	}
	for i := range p.Holds {
		h := &p.Holds[i]
		if h.Take >= 0 && h.Take != h.Give && p.Acts[h.Take].Fixed == nil {
			tell(h.Take, h.Give)
			tell(h.Give, h.Take)
		}
	}
}

// tangled tells whether anything ties activities together: loads, tools or
// maximum waits.
func (m *model) tangled() bool {
	if !m.alone() || len(m.p.Holds) > 0 {
		return true
	}
	for a := range m.tied {
		if m.tied[a] != int32(a) {
			return true
		}
	}
	return false
}

// urgent marks what goes before everything else: the frozen window, what must
// start by a date that facts have set, what gives back a tool somebody has in
// hand, and whatever these wait for or share a settled load with.
func (m *model) urgent() {
	p := m.p
	m.first = make([]bool, len(p.Acts))
	var stack []int32
	mark := func(a int32) {
		if !m.first[a] {
			m.first[a] = true
			stack = append(stack, a)
		}
	}
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.Frozen || act.Deadline != 0 {
			mark(int32(a))
		}
	}
	m.handingBack(mark)
	for len(stack) > 0 {
		a := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
			mark(p.Arcs[i].From)
		}
		if load := p.Acts[a].Load; load >= 0 {
			for _, other := range p.Loads[load].Members {
				mark(other)
			}
		}
	}
}

// lapsed counts the maximum waits begun by facts that no plan keeps: even the
// waits before it alone let an activity start too late.
func (m *model) lapsed() int {
	count := 0
	m.mustStart(func(a int32, by Tick) {
		start := max(m.head[a], m.p.Now)
		if f := m.p.Acts[a].Fixed; f != nil {
			start = f.Start
		}
		if start > by {
			count++
		}
	})
	return count
}

// sets is a union of disjoint sets.
type sets struct{ up []int32 }

func (s *sets) find(a int32) int32 {
	for s.up[a] != a {
		s.up[a] = s.up[s.up[a]]
		a = s.up[a]
	}
	return a
}

func (s *sets) join(a, b int32) {
	a, b = s.find(a), s.find(b)
	if a != b {
		s.up[max(a, b)] = min(a, b)
	}
}
