// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"maps"
	"slices"

	"towpath/resources"
)

// Score is what a plan is worth, in numbers a person can follow. Orders whose
// lines are all cancelled do not count. Orders = OnTime + Late + Lost +
// Waiting.
type Score struct {
	Orders  int
	OnTime  int
	Late    int // a firm line is complete after its due instant, and none is lost
	Lost    int // an event line is complete after its due instant
	Waiting int // a piece is held, missing or lacks a material, so nobody can say when

	LostWeight               int64 // sum over lost orders of their heaviest lost line
	WeightedTardinessSeconds int64 // sum over orders of the worst weight × lateness of its firm lines

	MakespanSeconds   Seconds // from the plan's now to its last end
	Loads             int     // to be run or running, on stations that run cure recipes; on all batch stations where none does
	MeanLoadFill      float64 // of those loads, in the dimension that is fullest; 0..1
	Changeovers       int     // planned changes that take time or cost something
	ChangeoverSeconds Seconds // planned
	ChangeoverCost    int64   // planned, by the setup tables
	DiscardedGrams    int64   // heels of mixes to be made, and what nobody draws from mixes in the pot
	OvenSeconds       Seconds // runs of batch stations, planned and under way
	FlowSeconds       Seconds // sum over unfinished pieces from first start to last end
	Churn             int     // planned operations near now that moved against the published plan; see NearWindow
	Breaches          int     // maximum waits that facts have broken

	Levels [4]int64 // the plant's objective
}

// WeightedTardinessHours is the tardiness in hours.
func (x Score) WeightedTardinessHours() float64 { return float64(x.WeightedTardinessSeconds) / 3600 }

// OrderStatus says whether an order makes its date.
type OrderStatus uint8

// An order with a lost line is lost, else one with a late line is late.
const (
	OrderOnTime OrderStatus = iota
	OrderLate
	OrderLost
	OrderWaiting // a piece is held, missing or lacks a material, so there is no completion
)

// String is the status as people say it.
func (x OrderStatus) String() string {
	switch x {
	case OrderLate:
		return "late"
	case OrderLost:
		return "lost"
	case OrderWaiting:
		return "waiting"
	}
	return "on time"
}

// OrderScore is how an order stands in a plan.
type OrderScore struct {
	Order      string
	Due        Tick    // of the line with the least slack
	Completion Tick    // of the last line; 0 while waiting
	Slack      Seconds // least over the lines, Due − completion; while waiting, from the plan's now
	Status     OrderStatus

	lostWeight int64
	tardiness  int64
}

// Measure scores a plan, feasible or not. Planned work it does not have counts
// as waiting.
func Measure(s *State, p *Plan) Score {
	m := newMeasure(s, p)
	var x Score
	for _, o := range m.orders() {
		x.Orders++
		switch o.Status {
		case OrderOnTime:
			x.OnTime++
		case OrderLate:
			x.Late++
		case OrderLost:
			x.Lost++
		case OrderWaiting:
			x.Waiting++
		}
		x.LostWeight += o.lostWeight
		x.WeightedTardinessSeconds += o.tardiness
	}
	m.work(&x)
	m.loads(&x)
	m.changeovers(&x)
	m.resin(&x)
	x.Breaches = len(p.Breaches)
	x.Levels = levels(&s.Plant.Objective, &x)
	return x
}

// MeasureOrders says for each order, by name, how it stands.
func MeasureOrders(s *State, p *Plan) []OrderScore { return newMeasure(s, p).orders() }

// LineEnd is when an order line is complete in a plan.
type LineEnd struct {
	End   Tick // of its last finishing operation that is done or planned; 0: none is
	Known bool // false: a piece is held, missing or not planned, so that it may be later
}

// MeasureLines says when each line that is not cancelled is complete, by
// LineKey.
func MeasureLines(s *State, p *Plan) map[string]LineEnd {
	m := newMeasure(s, p)
	out := make(map[string]LineEnd, len(s.Lines))
	for key, line := range s.Lines {
		if !line.Cancelled && line.Order != StockOrder {
			end, known := m.completion(line)
			out[key] = LineEnd{end, known}
		}
	}
	return out
}

func levels(goal *resources.Objective, x *Score) [4]int64 {
	var sum [4]int64
	for _, part := range []struct {
		term  resources.Term
		value int64
	}{
		{goal.Lost, x.LostWeight},
		{goal.Tardiness, x.WeightedTardinessSeconds},
		{goal.Churn, int64(x.Churn)},
		{goal.Oven, int64(x.OvenSeconds)},
		{goal.SetupTime, int64(x.ChangeoverSeconds)},
		{goal.SetupCost, x.ChangeoverCost},
		{goal.Discard, x.DiscardedGrams},
		{goal.Flow, int64(x.FlowSeconds)},
	} {
		sum[min(max(part.term.Level, 0), len(sum)-1)] += part.term.Weight * part.value
	}
	return sum
}

// measure holds what Measure looks up.
type measure struct {
	s        *State
	p        *Plan
	at       map[Member]*Work
	stations map[string]*resources.Station
	ops      map[Member]*resources.Operation
	last     map[string][]bool // by product: operations that finish a line
}

func newMeasure(s *State, p *Plan) *measure {
	m := &measure{
		s: s, p: p,
		at:       make(map[Member]*Work, len(p.Work)),
		ops:      make(map[Member]*resources.Operation, len(p.Work)),
		stations: byID(s.Plant.Stations, func(x *resources.Station) string { return x.ID }),
		last:     map[string][]bool{},
	}
	products := byID(s.Plant.Products, func(x *resources.Product) string { return x.ID })
	for id, product := range products {
		m.last[id] = finishing(product)
	}
	for i := range p.Work {
		w := &p.Work[i]
		name := Member{w.Piece, w.Operation}
		m.at[name] = w
		if piece := s.Pieces[w.Piece]; piece != nil && products[piece.Product] != nil {
			m.ops[name] = products[piece.Product].Operation(w.Operation)
		}
	}
	return m
}

// finishing marks the operations whose end completes an order line: those that
// nothing follows on the customer's pieces. One that only gives a tool back,
// such as coating a mandrel again, does not count unless it is all there is.
func finishing(product *resources.Product) []bool {
	followed, gives := map[string]bool{}, map[string]bool{}
	for i := range product.Routing {
		op := &product.Routing[i]
		if op.Per != resources.PerSample {
			for _, l := range op.After {
				followed[l.Operation] = true
			}
		}
		for _, t := range op.Takes {
			if t.Until != op.ID {
				gives[t.Until] = true
			}
		}
	}
	last := make([]bool, len(product.Routing))
	found := false
	for i := range product.Routing {
		op := &product.Routing[i]
		last[i] = op.Per != resources.PerSample && !followed[op.ID] && !gives[op.ID]
		found = found || last[i]
	}
	for i := range product.Routing {
		op := &product.Routing[i]
		if !found {
			last[i] = op.Per != resources.PerSample && !followed[op.ID]
		}
	}
	return last
}

// orders scores each order that is not wholly cancelled, by name.
func (m *measure) orders() []OrderScore {
	byOrder := map[string][]*Line{}
	for _, key := range slices.Sorted(maps.Keys(m.s.Lines)) {
		if line := m.s.Lines[key]; !line.Cancelled && line.Order != StockOrder {
			byOrder[line.Order] = append(byOrder[line.Order], line)
		}
	}
	scores := make([]OrderScore, 0, len(byOrder))
	for _, id := range slices.Sorted(maps.Keys(byOrder)) {
		scores = append(scores, m.order(id, byOrder[id]))
	}
	return scores
}

func (m *measure) order(id string, lines []*Line) OrderScore {
	x := OrderScore{Order: id}
	waiting, late := false, false
	for i, line := range lines {
		completion, known := m.completion(line)
		if !known {
			waiting = true
			completion = max(completion, m.p.Made)
		}
		slack := Seconds(line.Due - completion)
		if i == 0 || slack < x.Slack {
			x.Slack, x.Due = slack, line.Due
		}
		x.Completion = max(x.Completion, completion)
		if slack >= 0 {
			continue
		}
		if line.Kind == resources.Event {
			x.Status = OrderLost
			x.lostWeight = max(x.lostWeight, line.Weight)
		} else {
			late = true
			x.tardiness = max(x.tardiness, line.Weight*int64(-slack))
		}
	}
	if waiting {
		x.Completion = 0
	}
	switch {
	case x.Status == OrderLost:
	case late:
		x.Status = OrderLate
	case waiting:
		x.Status = OrderWaiting
	}
	return x
}

// completion is the latest end of the finishing operations of a line's pieces.
// False when one of them is not planned, or a piece is missing.
func (m *measure) completion(line *Line) (Tick, bool) {
	last := m.last[line.Product]
	var latest Tick
	known := true
	tubes, shafts, ends := 0, 0, 0
	for _, serial := range line.Pieces {
		piece := m.s.Pieces[serial]
		if piece == nil || piece.Scrapped || piece.Sample {
			continue
		}
		if piece.Shaft {
			shafts++
		} else {
			tubes++
		}
		for i := range piece.Ops {
			o := &piece.Ops[i]
			if o.Index < 0 || o.Index >= len(last) || !last[o.Index] {
				continue
			}
			end, ok := m.endOf(serial, o)
			known = known && ok
			if ok && (ends == 0 || end > latest) {
				latest = end
			}
			ends++
		}
	}
	pieces := tubes
	if shafts > 0 {
		pieces = shafts
	}
	return latest, known && ends > 0 && pieces >= line.Quantity
}

func (m *measure) endOf(serial string, o *OpState) (Tick, bool) {
	if o.Status == Done {
		return o.Ended, true
	}
	if w := m.at[Member{serial, o.Operation}]; w != nil {
		return w.End, true
	}
	return 0, false
}
