// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/resources"
)

// jump is how much later than it was told work must be to have jumped, unjumps
// how often a repair looks for a way that it does not; where all of a large shop
// is timed again each time, or has been before, unjumpsWide.
const (
	jump        = Tick(resources.Hour)
	unjumps     = 6
	unjumpsWide = 2
)

// inFront is added to the keys of what has jumped, so that it is placed before
// all else of its sort that it need not wait for.
const inFront = firstKey / 10

// unjump looks for what has jumped in the solution on the board, which is that
// of kept. Work that hangs together is placed whole, its last step before the
// first of others: a load pushed by half a minute finds its oven taken by the
// evening's and comes after that, tomorrow. Placed first, it takes half a minute
// from the other, which may jump in its turn: what was told for the soonest is
// looked at first, and what was found on the way is remembered. Kept becomes the
// best way, and the board holds it.
func (d *decoder) unjump(kept *genome) {
	next := kept.clone()
	if !d.bringFirst(next) {
		return
	}
	tries := unjumps
	if d.brisk || d.m.wide() {
		tries = unjumpsWide
	}
	best := d.calm()
	for more := true; more && tries > 0 && d.decode(next); tries-- {
		if is := d.calm(); is.better(&best) {
			best = is
			kept.copyFrom(next)
		}
		more = d.bringFirst(next)
	}
	if !d.decode(kept) {
		panic("a solution that was on the board does not fit it any more")
	}
}

// calm is what a repaired solution is judged by.
type calm struct {
	value
	dates Cost // the part of the cost that is dates
	moved int  // how much of what people near now were told has jumped, or changed its station
}

func (d *decoder) calm() calm {
	c := calm{value: d.assess()}
	d.assessDates(&c.dates, d.completion)
	for a := range d.m.p.Acts {
		act := &d.m.p.Acts[a]
		if was := act.Was; act.Fixed == nil && was != nil && was.Near {
			at := &d.b.at[a]
			if at.start > max(was.Start, d.m.p.Now)+jump || !d.sameStation(int32(a), at) {
				c.moved++
			}
		}
	}
	return c
}

// better says whether a repaired solution is better than another: it breaks
// fewer waits or is noticeably better for the dates; else, it leaves more people
// with what they were told.
func (c *calm) better(than *calm) bool {
	switch {
	case c.breached != than.breached:
		return c.breached < than.breached
	case noticeable(&c.dates, &than.dates) || noticeable(&than.dates, &c.dates):
		return noticeable(&than.dates, &c.dates)
	case c.moved != than.moved:
		return c.moved < than.moved
	}
	return c.value.better(&than.value)
}

// noticeable says whether dates are noticeably worse than others: another order
// lost, or a twentieth more tardiness.
func noticeable(is, than *Cost) bool {
	for i := range is {
		if is[i] > than[i]+than[i]/20 {
			return true
		}
	}
	return false
}

// bringFirst brings forward what was told for the soonest of what has jumped,
// with what hangs together with it; false when there is nothing.
func (d *decoder) bringFirst(g *genome) bool {
	first := int32(-1)
	for a := range g.floor {
		if a := int32(a); d.jumped(g, a) && (first < 0 || g.floor[a] < g.floor[first]) && d.forward(g, a) < g.key[a] {
			first = a
		}
	}
	if first < 0 {
		return false
	}
	for _, n := range d.blockOf(g.node[first]) {
		for _, a := range n.acts {
			g.key[a] = d.forward(g, a)
		}
	}
	return true
}

// jumped says whether an activity is much later on the board than it was told.
func (d *decoder) jumped(g *genome, a int32) bool {
	return d.m.p.Acts[a].Fixed == nil && g.floor[a] != 0 && d.b.at[a].start > max(g.floor[a], d.m.p.Now)+jump
}

// blockOf is what was placed together with a node.
func (d *decoder) blockOf(n *node) []*node {
	at := slices.Index(d.done, n)
	from := 0
	for _, end := range d.ends {
		if at < end {
			return d.done[from:end]
		}
		from = end
	}
	return nil
}

// forward is the key of an activity that is to be placed first, in the order
// in which such were told; its own when nobody was told or it is first already.
func (d *decoder) forward(g *genome, a int32) float64 {
	if d.m.p.Acts[a].Fixed != nil || g.floor[a] == 0 {
		return g.key[a]
	}
	key := inFront + float64(g.floor[a])
	if d.m.first[a] {
		key += firstKey
	}
	return min(key, g.key[a])
}
