// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"math"
	"slices"
)

// auction bounds a sum of costs of orders that share one resource. Time on the
// resource is sold in stretches, each at a price per unit of work; every order
// chooses when to be complete and buys its work in the cheapest stretches
// before that. What they pay and cost together, less what all stretches would
// bring in, is never more than any plan costs, whatever the prices (Lagrangian
// duality: Geoffrion 1974; the relaxation with work in pieces: Dyer and Wolsey
// 1990). Prices rise where too much is asked and fall where too little is.
type auction struct {
	c      *curve
	edge   []Tick    // stretch k is [edge[k], edge[k+1])
	room   []float64 // work that fits into each
	price  []float64
	bids   []bid
	rounds int
	floor  int64 // bound of the orders one by one
	others int64 // of those that ask nothing here
	target float64
	event  bool
	gcd    int64
}

// bid is one order.
type bid struct {
	weight float64
	least  float64 // the order's own bound
	slack  Tick    // completion of its work plus this is how late it is
	lots   []lot
	first  int // stretch in which its work can be done at the earliest
	cost   []float64
	work   float64
	done   Tick // earliest completion of its work
}

// mostLots is how many lots an order's work is told apart in; the rest counts as
// if it could be done as soon as the last of them.
const mostLots = 8

// lot is work that may not be done before a stretch.
type lot struct {
	from int
	work float64
}

// newAuction is nil when the orders do not stand in each other's way.
func newAuction(d *dates, x *asked, kind []dated, event bool, effort int) *auction {
	lists := d.claimsOf(x, event)
	a := &auction{c: x.cap, event: event}
	a.floor, _ = sums(kind)
	var total int64
	orders := 0
	for o := range lists {
		if len(lists[o]) > 0 {
			orders++
			for i := range lists[o] {
				total += lists[o][i].work
			}
		}
	}
	if orders < 2 || total == 0 {
		return nil
	}
	a.gcd = 1
	if event {
		a.gcd = gcdOf(kind, func(l int32) int64 { return d.r.p.Lines[l].Weight })
	}
	last := a.c.when(total)
	for o := range lists {
		if len(lists[o]) > 0 {
			last = max(last, earliest(lists[o], a.c))
		}
	}
	a.cut(d.r.p.Now, last, max(20, min(400, effort/(200*orders))))
	a.others = a.floor
	for o := range lists {
		if len(lists[o]) > 0 {
			a.bids = append(a.bids, a.bid(d, lists[o], &kind[o]))
			a.others -= kind[o].least
		}
	}
	a.target = a.greedy()
	if a.target <= float64(a.floor-a.others)*1.0001 {
		return nil
	}
	a.rounds = max(10, min(150, effort/(len(a.bids)*len(a.room)+1)))
	return a
}

// cut lays out the stretches: of equal room, so that nights and weekends cost
// none.
func (a *auction) cut(from, to Tick, n int) {
	all := a.c.done(to)
	a.edge = append(a.edge, from)
	for k := 1; k <= n; k++ {
		a.edge = append(a.edge, min(max(a.c.when(all/int64(n)*int64(k)), from), to))
	}
	a.edge[n] = to
	slices.Sort(a.edge)
	a.edge = slices.Compact(a.edge)
	for k := 0; k+1 < len(a.edge); k++ {
		a.room = append(a.room, float64(a.c.done(a.edge[k+1])-a.c.done(a.edge[k])))
	}
	a.price = make([]float64, len(a.room))
}

func (a *auction) stretch(t Tick) int {
	k, exact := slices.BinarySearch(a.edge, t)
	if !exact {
		k--
	}
	return min(max(k, 0), len(a.room)-1)
}

func (a *auction) bid(d *dates, claims []claim, x *dated) bid {
	b := bid{weight: float64(x.weight), least: float64(x.least), slack: d.slackOf(claims)}
	for i := range claims {
		k := a.stretch(claims[i].head)
		b.work += float64(claims[i].work)
		if n := len(b.lots); n > 0 && (b.lots[n-1].from == k || n == mostLots) {
			b.lots[n-1].work += float64(claims[i].work)
		} else {
			b.lots = append(b.lots, lot{k, float64(claims[i].work)})
		}
	}
	b.done = earliest(claims, a.c)
	b.first = max(0, a.stretch(b.done-1))
	b.cost = make([]float64, len(a.room)+1)
	for k := range b.cost {
		b.cost[k] = a.cost(&b, max(a.edge[min(k, len(a.room))], b.done))
	}
	return b
}

// cost is what an order costs at least when its work here is complete at t.
func (a *auction) cost(b *bid, t Tick) float64 {
	late := t + b.slack
	switch {
	case late <= 0:
		return b.least
	case a.event:
		return max(b.least, b.weight)
	}
	return max(b.least, b.weight*float64(late))
}

// greedy works the orders off one after the other, by due date and by weight
// for work. What the better way costs is a target for the prices, and what
// inserting work would do to those who come later is where they start.
func (a *auction) greedy() float64 {
	best := math.Inf(1)
	var order []int
	for rule := range 2 {
		try := a.order(rule)
		var sum float64
		var now int64
		for _, i := range try {
			b := &a.bids[i]
			now += int64(b.work)
			sum += a.cost(b, max(a.c.when(now), b.done))
		}
		if sum < best {
			best, order = sum, try
		}
	}
	if a.event {
		return min(best, a.drop(a.order(0)))
	}
	var now int64
	for _, i := range order {
		b := &a.bids[i]
		now += int64(b.work)
		done := max(a.c.when(now), b.done)
		if a.cost(b, done) <= b.least {
			continue
		}
		for k := range a.room {
			if a.edge[k+1] <= done {
				a.price[k] += b.weight * float64(a.edge[k+1]-a.edge[k]) / a.room[k]
			}
		}
	}
	return best
}

// order is the orders by due date (0) or by weight for work (1).
func (a *auction) order(rule int) []int {
	order := make([]int, len(a.bids))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		x, y := &a.bids[i], &a.bids[j]
		if rule == 0 {
			return cmp.Compare(y.slack, x.slack)
		}
		return cmp.Compare(x.work*y.weight, y.work*x.weight)
	})
	return order
}

// drop goes through the orders by due date and, whenever one comes too late,
// gives up whoever has least weight for work so far (after Moore 1968). The
// price before that date is what was given up for it.
func (a *auction) drop(order []int) float64 {
	var lost, work float64
	var kept []int
	for _, i := range order {
		b := &a.bids[i]
		kept = append(kept, i)
		work += b.work
		for len(kept) > 0 && a.c.when(int64(work))+b.slack > 0 {
			worst := 0
			for k := range kept {
				x, y := &a.bids[kept[k]], &a.bids[kept[worst]]
				if x.weight*y.work < y.weight*x.work {
					worst = k
				}
			}
			x := &a.bids[kept[worst]]
			lost += x.weight
			work -= x.work
			kept = slices.Delete(kept, worst, worst+1)
			for k := range a.room {
				if a.edge[k+1]+b.slack <= 0 {
					a.price[k] = max(a.price[k], x.weight/x.work)
				}
			}
		}
	}
	return lost
}

// run moves the prices for a number of rounds and returns the best bound met.
func (a *auction) run() int64 {
	best := float64(0)
	asked := make([]float64, len(a.room))
	theta, stuck := 0.5, 0
	for range a.rounds {
		clear(asked)
		value := 0.0
		for i := range a.bids {
			value += a.choose(&a.bids[i], asked)
		}
		for k := range a.room {
			value -= a.price[k] * a.room[k]
		}
		if value > best*1.0005 {
			best, stuck = value, 0
		} else if stuck++; stuck >= 5 {
			theta, stuck = theta*0.7, 0
		}
		if a.target <= best {
			break
		}
		norm := 0.0
		for k := range asked {
			asked[k] -= a.room[k]
			if asked[k] < 0 && a.price[k] == 0 {
				asked[k] = 0
			}
			norm += asked[k] * asked[k]
		}
		if norm == 0 {
			break
		}
		step := theta * (a.target - value) / norm
		for k := range a.price {
			a.price[k] = max(0, a.price[k]+step*asked[k])
		}
	}
	// Sums of floating point numbers are a little off.
	sum := a.others + int64(math.Floor(best*(1-1e-9)-1e-6))
	if a.event {
		// Whole orders are lost, never parts of one.
		sum = a.others + int64(math.Ceil(best*(1-1e-9)-1e-3))
		sum = (sum + a.gcd - 1) / a.gcd * a.gcd
	}
	return max(sum, a.floor)
}

// choose is an order's best answer to the prices: its cost and what it pays.
// It adds what it buys to asked.
func (a *auction) choose(b *bid, asked []float64) float64 {
	n := len(a.room)
	cheapest := make([]int, len(b.lots))
	next := 0
	pay := 0.0
	best, at := math.Inf(1), 0
	for i := range cheapest {
		cheapest[i] = -1
	}
	consider := func(k int, pay float64) {
		if v := b.cost[k] + pay; v < best {
			best, at = v, k
		}
	}
	for k := range n {
		for next < len(b.lots) && b.lots[next].from <= k {
			cheapest[next] = k
			pay += b.lots[next].work * a.price[k]
			next++
		}
		for i := range next {
			if a.price[k] < a.price[cheapest[i]] {
				pay += b.lots[i].work * (a.price[k] - a.price[cheapest[i]])
				cheapest[i] = k
			}
		}
		if k >= b.first {
			consider(k, pay)
		}
	}
	consider(n, 0) // after everything: it buys nothing
	if at == n {
		return best
	}
	a.buy(b, at, asked)
	return best
}

// buy books an order's work in the cheapest stretches up to one.
func (a *auction) buy(b *bid, until int, asked []float64) {
	for _, l := range b.lots {
		k := l.from
		for j := l.from + 1; j <= until; j++ {
			if a.price[j] < a.price[k] {
				k = j
			}
		}
		asked[min(k, until)] += l.work
	}
}
