// SPDX-License-Identifier: Apache-2.0

package search

import "math"

// ceiling is how much a solution may cost, in guide units, for a search to take
// it. What is placed says how late its lines will be at least: as soon as that
// costs more, the rest need not be placed.
type ceiling struct {
	d     *decoder
	most  float64
	done  []Tick  // per line: complete no sooner
	lost  []int64 // per order, as assessDates has it
	tardy []int64
	guide float64 // of what is known
}

func newCeiling(d *decoder) *ceiling {
	p := d.m.p
	return &ceiling{
		d: d, most: math.Inf(1), done: make([]Tick, len(p.Lines)),
		lost: make([]int64, len(p.Orders)), tardy: make([]int64, len(p.Orders)),
	}
}

// begin counts what is on the board.
func (c *ceiling) begin() bool {
	clear(c.lost)
	clear(c.tardy)
	c.guide = 0
	for l := range c.done {
		c.done[l] = 0
		c.known(int32(l), c.d.m.p.Lines[l].Done)
	}
	return c.count(c.d.done)
}

// count counts some nodes on the board; true: that is more than may be.
func (c *ceiling) count(nodes []*node) bool {
	for _, n := range nodes {
		for _, a := range n.acts {
			act, at := &c.d.m.p.Acts[a], &c.d.b.at[a]
			if act.Line < 0 {
				continue
			}
			done := at.start + c.d.m.rest[a]
			if act.Last {
				done = max(done, at.end)
			}
			if done > c.done[act.Line] {
				c.known(act.Line, done)
			}
		}
	}
	return c.guide > c.most
}

// known notes that a line is complete no sooner than an instant.
func (c *ceiling) known(l int32, done Tick) {
	p, goal := c.d.m.p, &c.d.m.p.Goal
	line := &p.Lines[l]
	was := int64(c.done[l] - line.Due)
	c.done[l] = done
	late := int64(done - line.Due)
	if late <= 0 {
		return
	}
	o := line.Order
	if !line.Event {
		if worst := line.Weight * late; worst > c.tardy[o] {
			c.guide += price(goal.Tardiness) * float64(worst-c.tardy[o])
			c.tardy[o] = worst
		}
		return
	}
	if line.Weight > c.lost[o] {
		c.guide += price(goal.Lost) * float64(line.Weight-c.lost[o])
		c.lost[o] = line.Weight
	}
	if goal.Tardiness.Level > goal.Lost.Level {
		c.guide += farWorth * float64(farLost(line.Weight, late)-farLost(line.Weight, was))
	}
}
