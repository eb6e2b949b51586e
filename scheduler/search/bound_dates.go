// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
)

// dates bounds lost weight and tardiness. Each order is taken alone first, then
// all orders against each resource. Orders whose dates cannot be told (a piece
// is held) count with what is known of them.
type dates struct {
	r      *reckoner
	firm   []dated // per order, its firm lines
	event  []dated // per order, its event lines
	byLine []int32 // order of each line
}

// dated is what is known of the lines of one kind of one order.
type dated struct {
	lines  []int32
	weight int64   // least of the lines
	least  int64   // bound of the order's part of the objective
	by     string  // what gives it
	near   nearest // the relaxation that comes nearest to making it late
}

// nearest is how late a relaxation has something at least; not above 0: it can be
// in time, with so much to spare.
type nearest struct {
	late Tick
	by   string // empty: nothing is known
}

func (c *nearest) look(late Tick, by string) {
	if c.by == "" || late > c.late {
		c.late, c.by = late, by
	}
}

func newDates(r *reckoner) *dates {
	p := r.p
	d := &dates{r: r, firm: make([]dated, len(p.Orders)), event: make([]dated, len(p.Orders)), byLine: make([]int32, len(p.Lines))}
	for o := range p.Orders {
		for _, l := range p.Orders[o].Lines {
			line := &p.Lines[l]
			d.byLine[l] = int32(o)
			if line.Weight <= 0 {
				continue
			}
			x := &d.firm[o]
			if line.Event {
				x = &d.event[o]
			}
			if x.weight == 0 || line.Weight < x.weight {
				x.weight = line.Weight
			}
			x.lines = append(x.lines, l)
			x.late(line.Event, line.Weight, r.done[l]-line.Due, byWaits)
		}
	}
	return d
}

// late raises the bound of an order one of whose lines, of at least this
// weight, is at least so late.
func (x *dated) late(event bool, weight int64, late Tick, by string) {
	if late > -never {
		x.near.look(late, by)
	}
	if late <= 0 {
		return
	}
	value := weight
	if !event {
		value *= int64(late)
	}
	if value > x.least {
		x.least, x.by = value, by
	}
}

// The relaxations, as people call them.
const (
	byWaits    = "waits and calendars of one piece"
	byOne      = "one order's work on %s"
	byAll      = "all orders' work on %s"
	byFirst    = "all orders' work on %s, the earliest due first"
	byTogether = "all orders' loads on %s"
	bySpare    = "%s, which leaves %s to spare"
	byLoads    = "one order's loads on %s"
	byRoom     = "room and time in loads"
	byMixes    = "grams in mixes"
	byFacts    = "what has happened"
	byChanges  = "least changeover to each piece or load"
)

// alone raises each order's bound by one resource: its own work there when
// nobody else is in the shop (Jackson's preemptive schedule, Carlier 1982).
func (d *dates) alone(x *asked) {
	p := d.r.p
	mine := make([][]claim, len(p.Orders))
	for _, c := range x.claims {
		if c.rest > restless {
			o := d.byLine[c.line]
			mine[o] = append(mine[o], c)
		}
	}
	by := fmt.Sprintf(byOne, x.name)
	for o := range mine {
		if len(mine[o]) < 2 {
			continue
		}
		for _, kind := range []*dated{&d.firm[o], &d.event[o]} {
			if len(kind.lines) == 0 {
				continue
			}
			event := p.Lines[kind.lines[0]].Event
			list := make([]claim, 0, len(mine[o]))
			for _, c := range mine[o] {
				if p.Lines[c.line].Event == event && p.Lines[c.line].Weight > 0 {
					list = append(list, c)
				}
			}
			if len(list) > 1 {
				kind.late(event, kind.weight, d.lateness(list, x.cap), by)
			}
			if x.batch && len(list) > 1 {
				kind.late(event, kind.weight, d.inLoads(list, x.cap), fmt.Sprintf(byLoads, x.name))
			}
			if len(kind.lines) < 2 {
				continue
			}
			for _, l := range kind.lines {
				own := list[:0:0]
				for _, c := range list {
					if c.line == l {
						own = append(own, c)
					}
				}
				if len(own) > 1 {
					kind.late(event, p.Lines[l].Weight, d.lateness(own, x.cap), by)
				}
			}
		}
	}
}

// together bounds a kind by all its orders' work on one resource, when whoever
// is due first goes first: somebody is at least so late, with at least the
// weight of the lightest.
func (d *dates) together(x *asked, event bool, near *nearest) said {
	kind := d.firm
	if event {
		kind = d.event
	}
	var list []claim
	var orders int
	weight := int64(never)
	for o, claims := range d.claimsOf(x, event) {
		if len(claims) > 0 {
			list = append(list, claims...)
			weight = min(weight, kind[o].weight)
			orders++
		}
	}
	if orders < 2 {
		return said{}
	}
	slices.SortFunc(list, byHead)
	best := nearest{d.lateness(list, x.cap), fmt.Sprintf(byFirst, x.name)}
	if x.batch {
		best.look(d.firstInLoads(list, x.cap), fmt.Sprintf(byTogether, x.name))
	}
	if best.late <= -never {
		return said{}
	}
	near.look(best.late, best.by)
	switch {
	case best.late <= 0:
		return said{}
	case event:
		return said{weight, best.by}
	}
	return said{weight * int64(best.late), best.by}
}

// firstInLoads is the least possible of the greatest lateness of claims that must
// all run in loads: of those whose dates are nearest, for a few dates.
func (d *dates) firstInLoads(claims []claim, c *curve) Tick {
	tail := func(x *claim) Tick { return Tick(x.rest) - d.r.p.Lines[x.line].Due }
	list := slices.Clone(claims)
	slices.SortFunc(list, func(a, b claim) int { return cmp.Or(cmp.Compare(tail(&b), tail(&a)), cmp.Compare(a.act, b.act)) })
	const cuts = 8
	worst := -never
	for i := 1; i <= cuts; i++ {
		if n := len(list) * i / cuts; n > 0 {
			some := slices.Clone(list[:n])
			slices.SortFunc(some, byHead)
			worst = max(worst, d.inLoads(some, c))
		}
	}
	return worst
}

// tightest says of a bound of 0 which relaxation comes nearest to one above, and
// what it leaves: so much slack every order has at least, as far as anybody has
// proven the opposite.
func (d *dates) tightest(list []dated, all nearest) string {
	best, order := all, ""
	for o := range list {
		if x := &list[o].near; x.by != "" && (best.by == "" || x.late > best.late) {
			best, order = *x, d.r.p.Orders[o].ID
		}
	}
	if best.by == "" || best.late > 0 {
		return ""
	}
	spare := resources.Spell(Seconds(-best.late))
	if order != "" {
		spare = "order " + order + " " + spare
	}
	return fmt.Sprintf(bySpare, best.by, spare)
}

// lateness is the least possible of the greatest lateness of some claims, by
// head, when work may be interrupted and any of it uses all that is there:
// whoever has least time left goes first.
func (d *dates) lateness(claims []claim, c *curve) Tick {
	p := d.r.p
	tail := func(x *claim) Tick { return Tick(x.rest) - p.Lines[x.line].Due }
	worst := -never
	now := int64(0)
	heap := make([]job, 0, len(claims))
	for next := 0; next < len(claims) || len(heap) > 0; {
		if len(heap) == 0 {
			now = max(now, c.done(claims[next].head))
		}
		for next < len(claims) && c.done(claims[next].head) <= now {
			x := &claims[next]
			heap = push(heap, job{left: x.work, tail: tail(x)})
			next++
		}
		top := &heap[0]
		run := top.left
		if next < len(claims) {
			run = min(run, c.done(claims[next].head)-now)
		}
		now += run
		if top.left -= run; top.left == 0 {
			worst = max(worst, c.when(now)+top.tail)
			heap = pop(heap)
		}
	}
	return worst
}

// inLoads is the least possible of the greatest lateness of claims that must
// all run in loads: those that can begin from some head on, for a few heads.
func (d *dates) inLoads(claims []claim, c *curve) Tick {
	worst := -never
	const cuts = 4
	for i := range cuts {
		from := len(claims) * i / cuts
		if i > 0 && (from == 0 || claims[from].head == claims[from-1].head) {
			continue
		}
		acts := make([]int32, 0, len(claims)-from)
		for _, x := range claims[from:] {
			acts = append(acts, x.act)
		}
		worst = max(worst, d.r.span(acts, c))
	}
	return worst
}

// job is work under way in a preemptive schedule.
type job struct {
	left int64
	tail Tick
}

// push and pop keep the job with the greatest tail first.
func push(heap []job, j job) []job {
	heap = append(heap, j)
	for i := len(heap) - 1; i > 0; {
		up := (i - 1) / 2
		if heap[up].tail >= heap[i].tail {
			break
		}
		heap[up], heap[i] = heap[i], heap[up]
		i = up
	}
	return heap
}

func pop(heap []job) []job {
	last := len(heap) - 1
	heap[0] = heap[last]
	heap = heap[:last]
	for i := 0; ; {
		most := i
		for _, k := range [2]int{2*i + 1, 2*i + 2} {
			if k < last && heap[k].tail > heap[most].tail {
				most = k
			}
		}
		if most == i {
			return heap
		}
		heap[i], heap[most] = heap[most], heap[i]
		i = most
	}
}

// sums adds up what the orders come to one by one.
func sums(list []dated) (sum int64, by string) {
	var most int64
	for i := range list {
		sum += list[i].least
		if list[i].least > most {
			most, by = list[i].least, list[i].by
		}
	}
	return sum, by
}

// shared bounds the sum over all orders of one kind by one resource that they
// all need.
func (d *dates) shared(x *asked, event bool, effort int) int64 {
	kind := d.firm
	if event {
		kind = d.event
	}
	a := newAuction(d, x, kind, event, effort)
	if a == nil {
		return 0
	}
	best := a.run()
	if event {
		best = max(best, d.tooMany(x))
	}
	return best
}

// tooMany bounds lost weight by the least number of orders that must be lost
// (Moore 1968, as if all could begin at the first head), each at least as heavy
// as the lightest.
func (d *dates) tooMany(x *asked) int64 {
	type due struct {
		work int64
		tail Tick
	}
	var list []due
	var weights []int64
	first := never
	for o, claims := range d.claimsOf(x, true) {
		if len(claims) == 0 {
			continue
		}
		y := due{tail: d.slackOf(claims)}
		for i := range claims {
			y.work += claims[i].work
		}
		first = min(first, claims[0].head)
		list = append(list, y)
		weights = append(weights, d.event[o].weight)
	}
	slices.SortStableFunc(list, func(a, b due) int { return cmp.Compare(b.tail, a.tail) })
	now, lost := x.cap.done(first), 0
	var kept []int64
	for _, y := range list {
		kept = append(kept, y.work)
		now += y.work
		if x.cap.when(now)+y.tail > 0 {
			most := 0
			for i := range kept {
				if kept[i] > kept[most] {
					most = i
				}
			}
			now -= kept[most]
			kept[most] = kept[len(kept)-1]
			kept = kept[:len(kept)-1]
			lost++
		}
	}
	slices.Sort(weights)
	var sum int64
	for _, w := range weights[:lost] {
		sum += w
	}
	return sum
}

// claimsOf are the claims of an order's lines of one kind, by head.
func (d *dates) claimsOf(x *asked, event bool) [][]claim {
	p := d.r.p
	out := make([][]claim, len(p.Orders))
	for _, c := range x.claims {
		if line := &p.Lines[c.line]; c.rest > restless && line.Event == event && line.Weight > 0 {
			o := d.byLine[c.line]
			out[o] = append(out[o], c)
		}
	}
	return out
}

// earliest is when the last of an order's claims can be worked off when nobody
// else is there.
func earliest(claims []claim, c *curve) Tick {
	now := int64(0)
	for i := range claims {
		now = max(now, c.done(claims[i].head)) + claims[i].work
	}
	return c.when(now)
}

// slackOf is how late an order is at least when the last of its claims, whichever
// that is, is worked off at instant 0: the least over them.
func (d *dates) slackOf(claims []claim) Tick {
	p := d.r.p
	least := never
	for i := range claims {
		least = min(least, Tick(claims[i].rest)-p.Lines[claims[i].line].Due)
	}
	return least
}

// gcdOf is the greatest common divisor of the weights of a kind: a sum of some
// of them is a multiple of it.
func gcdOf(list []dated, weights func(l int32) int64) int64 {
	var g int64
	for i := range list {
		for _, l := range list[i].lines {
			a, b := g, weights(l)
			for b != 0 {
				a, b = b, a%b
			}
			g = a
		}
	}
	return max(g, 1)
}
