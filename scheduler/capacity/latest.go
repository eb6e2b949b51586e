// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"towpath/resources"
)

// routing is what every piece of a product shares.
type routing struct {
	product *resources.Product
	order   []int // operations, each after those it waits for
	after   [][]int
	next    [][]follow // operations that wait for this one
	last    []bool     // its end completes the order
	split   int        // shafts from a tube, 1 when it is not cut
	reach   []float64  // how often the operation is begun for one good piece
	fails   []float64  // chance that a piece begun here is lost here
	runs    []float64  // how often it is run for a piece that comes here
}

type follow struct {
	op   int
	link *resources.Link
}

func newRouting(p *resources.Product) *routing {
	n := len(p.Routing)
	r := &routing{product: p, after: make([][]int, n), next: make([][]follow, n), last: make([]bool, n), split: 1}
	gives := map[string]bool{}
	for i := range p.Routing {
		op := &p.Routing[i]
		if op.Split > 0 {
			r.split = op.Split
		}
		for k := range op.After {
			from := p.OperationIndex(op.After[k].Operation)
			r.after[i] = append(r.after[i], from)
			if from >= 0 {
				r.next[from] = append(r.next[from], follow{i, &op.After[k]})
			}
		}
		for _, t := range op.Takes {
			if t.Until != op.ID {
				gives[t.Until] = true
			}
		}
	}
	for i := range p.Routing {
		r.last[i] = len(r.next[i]) == 0 && !gives[p.Routing[i].ID]
	}
	r.sort()
	r.yields()
	return r
}

// sort puts operations behind what they wait for; a plant that was read has no
// cycle among them.
func (r *routing) sort() {
	seen := make([]bool, len(r.after))
	var visit func(int)
	visit = func(i int) {
		if seen[i] {
			return
		}
		seen[i] = true
		for _, from := range r.after[i] {
			if from >= 0 {
				visit(from)
			}
		}
		r.order = append(r.order, i)
	}
	for i := range r.after {
		visit(i)
	}
}

// yields works out how much is begun for one good piece. Of what fails at its
// first pass, some passes when it is done again there; the rest is lost and made
// again from the start.
func (r *routing) yields() {
	n := len(r.after)
	r.reach, r.fails, r.runs = make([]float64, n), make([]float64, n), make([]float64, n)
	good := 1.0
	for i := range n {
		r.fails[i], r.runs[i] = failing(&r.product.Routing[i])
		good *= 1 - r.fails[i]
	}
	for i := range n {
		r.reach[i] = r.survive(i, nil) / good
	}
}

// failing is the chance that a piece is lost at an operation, and how often it
// is run for a piece that comes there. Where the plant says nothing of second
// passes, one at a gate passes as often as the first, and there is none
// elsewhere.
func failing(op *resources.Operation) (lost, runs float64) {
	y := op.Yield
	if y <= 0 || y >= 1 || op.Per == resources.PerSample {
		return 0, 1
	}
	second := op.SecondPass
	if second == 0 && op.Gate != "" {
		second = y
	}
	if second == 0 {
		return 1 - y, 1
	}
	return (1 - y) * (1 - second), 2 - y
}

// survive is the chance that a piece gets as far as operation i, from where
// the operations in done are behind it; nil: from the start.
func (r *routing) survive(i int, done []bool) float64 {
	seen := make([]bool, len(r.after))
	chance := 1.0
	var visit func(int)
	visit = func(k int) {
		for _, from := range r.after[k] {
			if from >= 0 && !seen[from] {
				seen[from] = true
				if done == nil || !done[from] {
					chance *= 1 - r.fails[from]
				}
				visit(from)
			}
		}
	}
	visit(i)
	return chance
}

// timing is when each operation of a product must begin and end at the latest
// for a due date, with nothing in the way but calendars and waits.
type timing struct {
	start, end []Tick
	late       bool // it should have begun before now
}

// clock places the operations of products backwards from their due dates.
type clock struct {
	plant    *resources.Plant
	now      Tick
	hours    map[string]*hours // by station
	routings map[string]*routing
	known    map[timingKey]*timing
	runs     map[runKey]Seconds
}

type runKey struct {
	op      *resources.Operation
	station *resources.Station
}

// runOf is how long an operation runs on a station.
func (c *clock) runOf(op *resources.Operation, st *resources.Station) Seconds {
	key := runKey{op, st}
	d, ok := c.runs[key]
	if !ok {
		d = c.plant.RunTime(op, st)
		c.runs[key] = d
	}
	return d
}

type timingKey struct {
	product string
	due     Tick
}

// jobOf is one piece's work on a station.
func (c *clock) jobOf(op *resources.Operation, st *resources.Station) job {
	return job{
		load: op.Load + op.LoadEach, run: c.runOf(op, st), unload: op.Unload + op.UnloadEach,
		pauses: op.MayPause, waits: op.WaitInside,
	}
}

// tightenings bounds how often operations are moved together for the sake of a
// maximum wait.
const tightenings = 30

// latest is the timing of a product for a due date.
func (c *clock) latest(product string, due Tick) *timing {
	key := timingKey{product, due}
	if t, ok := c.known[key]; ok {
		return t
	}
	r := c.routings[product]
	caps := make([]Tick, len(r.after)) // latest start asked for by a maximum wait
	t := c.backward(r, due, caps)
	for range tightenings {
		if !c.tighten(r, t, caps) {
			break
		}
		t = c.backward(r, due, caps)
	}
	c.known[key] = t
	return t
}

func (c *clock) backward(r *routing, due Tick, caps []Tick) *timing {
	n := len(r.after)
	t := &timing{start: make([]Tick, n), end: make([]Tick, n)}
	for k := n - 1; k >= 0; k-- {
		i := r.order[k]
		if len(r.next[i]) == 0 && !r.last[i] {
			continue // only gives a tool back: as soon as it can be, below
		}
		by := due
		for _, f := range r.next[i] {
			if len(r.next[f.op]) == 0 && !r.last[f.op] {
				continue
			}
			limit := t.start[f.op] - Tick(f.link.Min)
			if f.link.FromStart {
				limit += Tick(c.shortest(r, i))
			}
			by = min(by, limit)
		}
		c.place(r, t, i, by, caps[i])
	}
	for _, i := range r.order {
		if len(r.next[i]) > 0 || r.last[i] {
			continue
		}
		from := c.now
		for k, p := range r.after[i] {
			if p >= 0 {
				from = max(from, t.end[p]+Tick(r.product.Routing[i].After[k].Min))
			}
		}
		op := &r.product.Routing[i]
		if st := c.plant.Station(op.Stations[0]); st != nil {
			j := c.jobOf(op, st)
			t.start[i] = c.hours[st.ID].earliest(j, from)
			t.end[i] = t.start[i] + Tick(j.total())
		}
	}
	return t
}

// place puts an operation as late as one of its stations allows.
func (c *clock) place(r *routing, t *timing, i int, by, cap Tick) {
	op := &r.product.Routing[i]
	t.start[i] = c.now - 1
	t.end[i] = c.now - 1
	found := false
	for _, id := range op.Stations {
		st := c.plant.Station(id)
		if st == nil {
			continue
		}
		j := c.jobOf(op, st)
		limit := by
		if cap > 0 {
			limit = min(limit, cap+Tick(j.total()))
		}
		if start, ok := c.hours[id].latest(j, limit); ok && (!found || start > t.start[i]) {
			found = true
			t.start[i], t.end[i] = start, start+Tick(j.total())
		}
	}
	if t.start[i] < c.now {
		t.late = true
	}
}

// tighten caps the start of what would come too long after what it follows. It
// tells whether anything was capped.
func (c *clock) tighten(r *routing, t *timing, caps []Tick) bool {
	again := false
	for i := range r.after {
		for k, from := range r.after[i] {
			link := &r.product.Routing[i].After[k]
			if from < 0 || !link.HasMax || t.start[from] < c.now {
				continue
			}
			limit := t.end[from] + Tick(link.Max)
			if link.FromStart {
				limit = t.start[from] + Tick(link.Max)
			}
			if t.start[i] > limit && (caps[i] == 0 || limit < caps[i]) {
				caps[i], again = limit, true
			}
		}
	}
	return again
}

// shortest is the least time an operation takes on any of its stations.
func (c *clock) shortest(r *routing, i int) Seconds {
	op := &r.product.Routing[i]
	best := Seconds(0)
	for k, id := range op.Stations {
		if st := c.plant.Station(id); st != nil {
			if d := c.jobOf(op, st).total(); k == 0 || d < best {
				best = d
			}
		}
	}
	return best
}
