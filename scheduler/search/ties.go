// SPDX-License-Identifier: Apache-2.0

package search

// ties joins activities that cannot be placed one without the other: the ends
// of a maximum wait, taking a tool and giving it back, and everything that
// waits for one such activity and is waited for by another. These are the
// strongly connected parts of the waits when ties count both ways (Tarjan
// 1972).
func (m *model) ties() {
	p := m.p
	n := len(p.Acts)
	next := make([][]int32, n)
	for i := range p.Arcs {
		a := &p.Arcs[i]
		if p.Acts[a.From].Fixed != nil || p.Acts[a.To].Fixed != nil {
			continue
		}
		next[a.From] = append(next[a.From], a.To)
		if a.HasMax || a.Min < 0 {
			next[a.To] = append(next[a.To], a.From)
		}
	}
	for i := range p.Holds {
		h := &p.Holds[i]
		if h.Take >= 0 && h.Take != h.Give && p.Acts[h.Take].Fixed == nil {
			next[h.Take] = append(next[h.Take], h.Give)
			next[h.Give] = append(next[h.Give], h.Take)
		}
	}
	m.tied = components(next)
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

// components numbers the strongly connected parts of a graph: for each node
// the least node of its part.
func components(next [][]int32) []int32 {
	n := len(next)
	part := make([]int32, n)
	seen := make([]int32, n) // order of discovery, from 1
	low := make([]int32, n)
	at := make([]int, n) // next edge to follow
	var stack, path []int32
	count := int32(0)
	for i := range part {
		part[i] = -1
	}
	for root := range int32(n) {
		if seen[root] != 0 {
			continue
		}
		path = append(path[:0], root)
		for len(path) > 0 {
			v := path[len(path)-1]
			if seen[v] == 0 {
				count++
				seen[v], low[v] = count, count
				stack = append(stack, v)
			}
			if at[v] < len(next[v]) {
				w := next[v][at[v]]
				at[v]++
				if seen[w] == 0 {
					path = append(path, w)
				} else if part[w] < 0 {
					low[v] = min(low[v], seen[w])
				}
				continue
			}
			path = path[:len(path)-1]
			if len(path) > 0 {
				up := path[len(path)-1]
				low[up] = min(low[up], low[v])
			}
			if low[v] == seen[v] {
				stack = closePart(stack, v, part)
			}
		}
	}
	return part
}

// closePart takes one finished part off the stack.
func closePart(stack []int32, v int32, part []int32) []int32 {
	from := len(stack) - 1
	for stack[from] != v {
		from--
	}
	least := v
	for _, w := range stack[from:] {
		least = min(least, w)
	}
	for _, w := range stack[from:] {
		part[w] = least
	}
	return stack[:from]
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
