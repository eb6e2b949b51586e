// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"maps"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// askKey is one operation of a product in one week.
type askKey struct {
	product string
	op      int
	week    int
}

// asked is the work that orders and forecast ask for, each operation in the
// week of its latest start.
type asked struct {
	g     *grid
	clock *clock
	n     map[askKey]float64   // how often an operation is begun
	holds map[string][]float64 // by tool pool: unit hours by week
}

func (a *asked) add(product string, op int, at Tick, n float64) {
	if week := a.g.of(at); week >= 0 && n > 0 {
		a.n[askKey{product, op, week}] += n
	}
}

// orders adds what is not done of every open piece.
func (a *asked) orders(s *scheduler.State, far Tick) {
	for _, key := range slices.Sorted(maps.Keys(s.Lines)) {
		line := s.Lines[key]
		r := a.clock.routings[line.Product]
		if line.Cancelled || r == nil || line.Due > far {
			continue
		}
		t := a.clock.latest(line.Product, line.Due)
		for _, serial := range line.Pieces {
			if p := s.Pieces[serial]; p != nil && !p.Scrapped {
				a.piece(s, r, t, p)
			}
		}
	}
}

func (a *asked) piece(s *scheduler.State, r *routing, t *timing, p *scheduler.Piece) {
	done := make([]bool, len(r.after))
	if tube := s.Pieces[p.Parent]; tube != nil {
		markDone(done, tube)
	}
	markDone(done, p)
	kept := 1.0
	for i := range p.Ops {
		o := &p.Ops[i]
		if o.Status == scheduler.Done {
			continue
		}
		left := 1.0
		if o.Status != scheduler.Planned {
			left = leftOf(s, p, o, a.g.now)
		}
		a.add(r.product.ID, o.Index, t.start[o.Index], left*r.runs[o.Index]*r.survive(o.Index, done))
		kept *= 1 - r.fails[o.Index]
		a.pieceHolds(r, t, p, o)
	}
	if lost := 1 - kept; lost > 1e-9 {
		pieces, tubes := lost, lost/float64(r.split)
		if !p.Shaft && r.split > 1 {
			pieces, tubes = lost*float64(r.split), lost
		}
		a.good(r, t, pieces, tubes, 0)
	}
}

func markDone(done []bool, p *scheduler.Piece) {
	for i := range p.Ops {
		if p.Ops[i].Status == scheduler.Done {
			done[p.Ops[i].Index] = true
		}
	}
}

// leftOf is the share of work under way that is still to come, by the plan.
func leftOf(s *scheduler.State, p *scheduler.Piece, o *scheduler.OpState, now Tick) float64 {
	if s.Plan == nil {
		return 1
	}
	for i := range s.Plan.Work {
		w := &s.Plan.Work[i]
		if w.Piece == p.Serial && w.Operation == o.Operation && w.End > o.Started {
			return min(1, max(0, float64(w.End-now)/float64(w.End-o.Started)))
		}
	}
	return 1
}

// good adds the work for so many good pieces made from the start: pieces of
// them, from so many tubes, and samples beside them.
func (a *asked) good(r *routing, t *timing, pieces, tubes, samples float64) {
	for i := range r.after {
		op := &r.product.Routing[i]
		n := pieces + samples
		switch {
		case op.Per == resources.PerTube && r.split > 1:
			n = tubes
		case op.Per == resources.PerSample:
			n = samples
		case op.SkipSample:
			n = pieces
		}
		n *= r.reach[i]
		a.add(r.product.ID, i, t.start[i], n*r.runs[i])
		a.hold(r, t, i, n)
	}
}

// hold adds the hours that tools are held from operation i on, n times.
func (a *asked) hold(r *routing, t *timing, i int, n float64) {
	for _, take := range r.product.Routing[i].Takes {
		pool := a.clock.plant.Tool(take.Tool)
		until := r.product.OperationIndex(take.Until)
		if pool == nil || until < 0 || n <= 0 {
			continue
		}
		from, to := t.start[i], t.end[until]+Tick(pool.Turnaround)
		if t.start[i] < a.g.now { // overdue: from now on, for as long as it takes
			from, to = a.g.now, a.g.now+Tick(a.nominal(r, i, until)+pool.Turnaround)
		}
		a.g.spread(a.of(pool.ID), from, to, n)
	}
}

// pieceHolds is hold for a piece that is there, and may have its tool already.
func (a *asked) pieceHolds(r *routing, t *timing, p *scheduler.Piece, o *scheduler.OpState) {
	if o.Status == scheduler.Planned {
		a.hold(r, t, o.Index, 1)
	}
	for i := range p.Ops {
		before := &p.Ops[i]
		if before.Status == scheduler.Planned {
			continue
		}
		for _, take := range r.product.Routing[before.Index].Takes {
			pool := a.clock.plant.Tool(take.Tool)
			if pool != nil && take.Until == o.Operation {
				end := max(t.end[o.Index], a.g.now+Tick(a.clock.shortest(r, o.Index)))
				a.g.spread(a.of(pool.ID), a.g.now, end+Tick(pool.Turnaround), 1)
			}
		}
	}
}

// nominal is how long a tool is held when there is time enough.
func (a *asked) nominal(r *routing, take, until int) Seconds {
	t := a.clock.latest(r.product.ID, a.g.now+Tick(5*7*resources.Day))
	return Seconds(max(0, t.end[until]-t.start[take]))
}

func (a *asked) of(pool string) []float64 {
	if a.holds[pool] == nil {
		a.holds[pool] = make([]float64, len(a.g.weeks))
	}
	return a.holds[pool]
}

// Demand is what a season asks of a product in a week.
type Demand struct {
	Product  string `json:"product" doc:"product's ID"`
	Ordered  []int  `json:"ordered" doc:"pieces of orders due, by week"`
	Forecast []int  `json:"forecast" doc:"pieces expected beyond them, by week"`
}

// rest is a forecast line with what is not ordered yet.
type rest struct {
	*resources.ForecastLine
	left int
}

// beyond takes the orders out of the forecast, week by week and product by
// product: those of its kind first.
func beyond(s *scheduler.State, f *resources.Forecast) []rest {
	if f == nil {
		return nil
	}
	ordered := map[string]map[resources.Week][2]int{}
	for _, line := range s.Lines {
		if line.Cancelled {
			continue
		}
		if ordered[line.Product] == nil {
			ordered[line.Product] = map[resources.Week][2]int{}
		}
		w := resources.WeekOf(s.Plant.Zone, line.Due)
		n := ordered[line.Product][w]
		n[line.Kind] += line.Quantity
		ordered[line.Product][w] = n
	}
	out := make([]rest, len(f.Lines))
	for i := range f.Lines {
		out[i] = rest{&f.Lines[i], f.Lines[i].Quantity}
	}
	for _, same := range []bool{true, false} {
		for i := range out {
			l := &out[i]
			n := ordered[l.Product][l.Week]
			for kind := range n {
				if same != (resources.OrderKind(kind) == l.Kind()) {
					continue
				}
				used := min(n[kind], l.left)
				n[kind] -= used
				l.left -= used
			}
			if ordered[l.Product] != nil {
				ordered[l.Product][l.Week] = n
			}
		}
	}
	return out
}

// forecast adds what is expected beyond the orders.
func (a *asked) forecast(s *scheduler.State, rests []rest, far Tick) {
	for i := range rests {
		l := &rests[i]
		r := a.clock.routings[l.Product]
		if r == nil || l.left == 0 || l.Due > far || l.Due < a.g.now {
			continue
		}
		n := float64(l.left)
		samples := float64(r.product.Samples) * max(1, n/lotOf(s, l.Product))
		a.good(r, a.clock.latest(l.Product, l.Due), n, (n+samples)/float64(r.split), samples)
	}
}

// lotOf is the usual quantity of an order line of a product.
func lotOf(s *scheduler.State, product string) float64 {
	lines, pieces := 0, 0
	for _, line := range s.Lines {
		if line.Product == product && !line.Cancelled {
			lines++
			pieces += line.Quantity
		}
	}
	if lines == 0 {
		return 1e9 // nothing known: one lot
	}
	return float64(pieces) / float64(lines)
}
