// SPDX-License-Identifier: Apache-2.0

package search

// differences is a linear program whose rows bound differences of two
// variables: the instants of a schedule when every order and choice in it
// stands. Variable 0 is now and stays. Such a program is convex in a strong
// sense (L-natural, Murota 2003): a solution that no set of variables can leave
// together, all by as much, for a better one is best. The set that gains most
// is a closure of greatest profit, hence a least cut (Picard 1976).
type differences struct {
	value []Tick  // of a solution that keeps all rows
	cost  []int64 // of each variable, per second
	rows  []row

	flow cut
}

// row says that one variable is at least so much more than another.
type row struct {
	from, to int32
	least    Tick
}

func (p *differences) reset() {
	p.value, p.cost, p.rows = append(p.value[:0], 0), append(p.cost[:0], 0), p.rows[:0]
}

// add makes a variable.
func (p *differences) add(value Tick, cost int64) int32 {
	p.value, p.cost = append(p.value, value), append(p.cost, cost)
	return int32(len(p.value) - 1)
}

// wait adds a row. What the solution breaks already is no row: a fact may be
// late.
func (p *differences) wait(from, to int32, least Tick) {
	if from != to && p.value[to]-p.value[from] >= least {
		p.rows = append(p.rows, row{from, to, least})
	}
}

// solve moves the solution to the best one; false when it was that.
func (p *differences) solve() bool {
	better := false
	for {
		if !p.move(1) && !p.move(-1) {
			return better
		}
		better = true
	}
}

// move shifts the set of variables that gains most, later or earlier, as far as
// it goes; false when none gains.
func (p *differences) move(way Tick) bool {
	p.flow.begin(len(p.value))
	for v := 1; v < len(p.value); v++ {
		p.flow.profit(int32(v), -p.cost[v]*int64(way))
	}
	for i := range p.rows {
		r := &p.rows[i]
		if p.value[r.to]-p.value[r.from] != r.least {
			continue
		}
		if way > 0 {
			p.flow.needs(r.from, r.to)
		} else {
			p.flow.needs(r.to, r.from)
		}
	}
	if !p.flow.closure() {
		return false
	}
	room := never
	for i := range p.rows {
		r := &p.rows[i]
		from, to := p.flow.in(r.from), p.flow.in(r.to)
		if from != to && from == (way > 0) {
			room = min(room, p.value[r.to]-p.value[r.from]-r.least)
		}
	}
	if room >= never {
		return false
	}
	for v := range p.value {
		if p.flow.in(int32(v)) {
			p.value[v] += way * room
		}
	}
	return true
}

// cut finds closures of greatest profit by a greatest flow (Edmonds and Karp
// 1972). Vertex 0 is in no closure.
type cut struct {
	head []int32 // per vertex: its first arc; -1: none
	next []int32 // per arc
	to   []int32
	left []int64 // capacity not used
	via  []int32 // per vertex: arc it was reached by
	seen []bool
	line []int32
	gain int64
}

const boundless = int64(1) << 60

// begin makes room for so many vertices, and the source and the sink.
func (c *cut) begin(n int) {
	c.head, c.via, c.seen = c.head[:0], c.via[:0], c.seen[:0]
	for range n + 2 {
		c.head, c.via, c.seen = append(c.head, -1), append(c.via, -1), append(c.seen, false)
	}
	c.next, c.to, c.left = c.next[:0], c.to[:0], c.left[:0]
	c.gain = 0
	c.arc(0, c.sink(), boundless)
}

func (c *cut) source() int32 { return int32(len(c.head) - 2) }
func (c *cut) sink() int32   { return int32(len(c.head) - 1) }

func (c *cut) arc(from, to int32, room int64) {
	c.to, c.left, c.next = append(c.to, to), append(c.left, room), append(c.next, c.head[from])
	c.head[from] = int32(len(c.to) - 1)
	c.to, c.left, c.next = append(c.to, from), append(c.left, 0), append(c.next, c.head[to])
	c.head[to] = int32(len(c.to) - 1)
}

// profit of having v in the closure.
func (c *cut) profit(v int32, p int64) {
	switch {
	case p > 0:
		c.gain += p
		c.arc(c.source(), v, p)
	case p < 0:
		c.arc(v, c.sink(), -p)
	}
}

// needs says that a closure with v has w too.
func (c *cut) needs(v, w int32) { c.arc(v, w, boundless) }

// in tells whether v is in the closure found.
func (c *cut) in(v int32) bool { return c.seen[v] }

// closure finds one of greatest profit; false when that is nothing.
func (c *cut) closure() bool {
	if c.gain == 0 {
		return false
	}
	for c.reach() {
		least := boundless
		for v := c.sink(); v != c.source(); v = c.to[c.via[v]^1] {
			least = min(least, c.left[c.via[v]])
		}
		for v := c.sink(); v != c.source(); v = c.to[c.via[v]^1] {
			c.left[c.via[v]] -= least
			c.left[c.via[v]^1] += least
		}
		if c.gain -= least; c.gain <= 0 {
			return false
		}
	}
	return true
}

// reach looks for a way from the source to the sink.
func (c *cut) reach() bool {
	for i := range c.seen {
		c.seen[i] = false
	}
	c.seen[c.source()] = true
	c.line = append(c.line[:0], c.source())
	for i := 0; i < len(c.line); i++ {
		for e := c.head[c.line[i]]; e >= 0; e = c.next[e] {
			if w := c.to[e]; c.left[e] > 0 && !c.seen[w] {
				c.seen[w], c.via[w] = true, e
				if w == c.sink() {
					return true
				}
				c.line = append(c.line, w)
			}
		}
	}
	return false
}
