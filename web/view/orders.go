// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Standing says how an order's predicted completion compares with its date.
type Standing string

// Standings, worst first.
const (
	Lost      Standing = "lost"    // worthless: an event order that will miss its date
	Late      Standing = "late"    // a firm order that will miss its date
	Held      Standing = "held"    // a piece is on hold, so nobody can say
	NoDate    Standing = "no-date" // not planned yet
	Tight     Standing = "tight"   // on time with less than TightSlack to spare
	OnTime    Standing = "on-time"
	Complete  Standing = "complete"
	Cancelled Standing = "cancelled"
)

// Standings lists all of them, worst first.
func Standings() []Standing {
	return []Standing{Lost, Late, Held, NoDate, Tight, OnTime, Complete, Cancelled}
}

// TightSlack is how little slack is worth a word of warning.
const TightSlack = resources.Day

// Word is the standing as pages say it.
func (s Standing) Word() string {
	switch s {
	case Held:
		return "on hold"
	case NoDate:
		return "no date yet"
	case OnTime:
		return "on time"
	}
	return string(s)
}

// Bad says whether somebody should look at it.
func (s Standing) Bad() bool { return s == Lost || s == Late || s == Held }

func (s Standing) rank() int { return slices.Index(Standings(), s) }

func worse(a, b Standing) Standing {
	if b.rank() < a.rank() {
		return b
	}
	return a
}

// Order is a customer's order with its dates.
type Order struct {
	ID        string            `json:"id" doc:"order number"`
	Customer  string            `json:"customer" doc:"who ordered"`
	Standing  Standing          `json:"standing" doc:"how the prediction compares with the date" enum:"standing"`
	Event     bool              `json:"event" doc:"true: worthless after its date; false: late costs per day"`
	Due       resources.Tick    `json:"due" doc:"last carrier cut-off that keeps the date, of the line that decides"`
	ShipBy    resources.Tick    `json:"ship_by" doc:"as asked by the customer"`
	Predicted resources.Tick    `json:"predicted" doc:"predicted or actual completion; empty: not known"`
	Slack     resources.Seconds `json:"slack_s" doc:"due minus predicted, seconds; negative: late; 0 when not known"`
	Weight    int64             `json:"weight" doc:"how much the date weighs"`
	Pieces    int               `json:"pieces" doc:"tubes and shafts, without the scrapped"`
	Ops       int               `json:"operations" doc:"operations of these pieces"`
	OpsDone   int               `json:"operations_done" doc:"of these, done"`
	Done      bool              `json:"done" doc:"true: nothing is left to do for it, in time or late"`
	Lines     []OrderLine       `json:"lines" doc:"what was ordered"`
}

// OrderLine is one line of an order.
type OrderLine struct {
	Line      string            `json:"line" doc:"line number"`
	Product   string            `json:"product" doc:"product's ID"`
	Name      string            `json:"name" doc:"product's name"`
	Quantity  int               `json:"quantity" doc:"shafts to ship"`
	Due       resources.Tick    `json:"due" doc:"last carrier cut-off that keeps the date"`
	Predicted resources.Tick    `json:"predicted" doc:"predicted or actual completion; empty: not known"`
	Slack     resources.Seconds `json:"slack_s" doc:"due minus predicted, seconds; negative: late"`
	Standing  Standing          `json:"standing" doc:"how the prediction compares with the date" enum:"standing"`
	Event     bool              `json:"event" doc:"true: worthless after its date"`
	Note      string            `json:"note" doc:"note on the order line"`
}

// buildOrders makes the orders of the state, earliest date first.
func (v *View) buildOrders() {
	s := v.Picture.State
	keys := make([]string, 0, len(s.Lines))
	for key := range s.Lines {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for _, key := range keys {
		line := s.Lines[key]
		o := v.order[line.Order]
		if o == nil {
			o = &Order{ID: line.Order, Standing: Cancelled}
			v.order[line.Order] = o
			v.orders = append(v.orders, o)
		}
		v.addLine(o, line)
	}
	for _, o := range v.orders {
		slices.SortStableFunc(o.Lines, func(a, b OrderLine) int { return compareNatural(a.Line, b.Line) })
	}
	slices.SortStableFunc(v.orders, func(a, b *Order) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), compareNatural(a.ID, b.ID))
	})
}

func (v *View) addLine(o *Order, line *scheduler.Line) {
	l := OrderLine{
		Line: line.Line, Product: line.Product, Name: line.Product, Quantity: line.Quantity,
		Due: line.Due, Event: line.Kind == resources.Event, Note: line.Note,
	}
	if p := v.product[line.Product]; p != nil {
		l.Name = cmp.Or(p.Name, p.ID)
	}
	var done bool
	var held bool
	l.Predicted, done, held = v.completion(line)
	l.Standing = standing(line, l.Predicted, done, held)
	if l.Predicted != 0 {
		l.Slack = resources.Seconds(l.Due - l.Predicted)
	}
	first, alive := len(o.Lines) == 0, o.Standing != Cancelled
	o.Lines = append(o.Lines, l)
	o.Customer = cmp.Or(o.Customer, line.Customer)
	o.Standing = worse(o.Standing, l.Standing)
	for _, serial := range line.Pieces {
		v.countPiece(o, serial)
	}
	// The open line with the least slack speaks for the order; one without a date
	// leaves the order without one. Cancelled lines speak where there are no others.
	switch {
	case line.Cancelled && !first:
		return
	case first, !alive:
		o.Event, o.Weight, o.Done = l.Event, line.Weight, done && !held && l.Predicted != 0 && !line.Cancelled
		o.Due, o.ShipBy, o.Predicted, o.Slack = l.Due, line.ShipBy, l.Predicted, l.Slack
		return
	case o.Predicted != 0 && (l.Predicted == 0 || l.Slack < o.Slack):
		o.Due, o.ShipBy, o.Predicted, o.Slack = l.Due, line.ShipBy, l.Predicted, l.Slack
	}
	o.Done = o.Done && done && !held && l.Predicted != 0
	o.Event = o.Event || l.Event
	o.Weight = max(o.Weight, line.Weight)
}

func (v *View) countPiece(o *Order, serial string) {
	piece := v.piece(serial)
	if piece == nil || piece.Scrapped {
		return
	}
	o.Pieces++
	for i := range piece.Ops {
		o.Ops++
		if piece.Ops[i].Status == scheduler.Done {
			o.OpsDone++
		}
	}
}

// completion is when a line's last operation ends: done when all have ended,
// 0 when some end is not known; held when a hold is the reason.
func (v *View) completion(line *scheduler.Line) (at resources.Tick, done, held bool) {
	final := v.final[line.Product]
	done = true
	known, any, tubes, shafts := true, false, 0, 0
	for _, serial := range line.Pieces {
		piece := v.piece(serial)
		if piece == nil || piece.Scrapped || piece.Sample {
			continue
		}
		if piece.Shaft {
			shafts++
		} else {
			tubes++
		}
		for i := range piece.Ops {
			op := &piece.Ops[i]
			if !final[op.Operation] {
				continue
			}
			any = true
			held = held || piece.Held || v.heldParent(piece)
			_, end := v.span(serial, op.Operation)
			if op.Status != scheduler.Done {
				done = false
				if end == 0 || piece.Held {
					known = false
				}
			}
			at = max(at, end)
		}
	}
	if shafts == 0 {
		shafts = tubes // the product is not cut
	}
	if !known || !any || shafts < line.Quantity {
		return 0, false, held
	}
	return at, done, held
}

func (v *View) heldParent(piece *scheduler.Piece) bool {
	parent := v.piece(piece.Parent)
	return parent != nil && parent.Held
}

func standing(line *scheduler.Line, predicted resources.Tick, done, held bool) Standing {
	switch {
	case line.Cancelled:
		return Cancelled
	case predicted == 0 && held:
		return Held
	case predicted == 0:
		return NoDate
	case predicted > line.Due && line.Kind == resources.Event:
		return Lost
	case predicted > line.Due:
		return Late
	case held: // even when all is done: a failed last gate waits for a decision
		return Held
	case done:
		return Complete
	case line.Due-predicted < resources.Tick(TightSlack):
		return Tight
	}
	return OnTime
}

// standingOf is the standing of the order a piece belongs to.
func (v *View) standingOf(order string) Standing {
	if o := v.order[order]; o != nil {
		return o.Standing
	}
	return NoDate
}

// Head counts orders by standing and tells which plan this is. Each order but a
// cancelled one is counted once, the tight and the completed late besides; each
// count is that of the orders that the filter of its name lists.
type Head struct {
	OnTime   int            `json:"on_time" doc:"open orders predicted on time, the tight ones included"`
	Tight    int            `json:"tight" doc:"of these, with less than a day to spare"`
	Late     int            `json:"late" doc:"open firm orders predicted late"`
	Lost     int            `json:"lost" doc:"open event orders that will miss their date"`
	Held     int            `json:"held" doc:"orders on hold"`
	NoDate   int            `json:"no_date" doc:"orders not planned yet"`
	Complete int            `json:"complete" doc:"orders completed, in time or late"`
	DoneLate int            `json:"complete_late" doc:"of these, completed after their date"`
	Plan     int64          `json:"plan" doc:"version of the published plan; 0: none yet"`
	Made     resources.Tick `json:"made" doc:"instant the plan was made for"`
	Planning string         `json:"planning" doc:"what planning does now: idle, repairing, improving"`
	Alerts   []Alert        `json:"alerts" doc:"what wants a person, the first to act first"`
}

// Head is the summary at the top of the floor and the dates.
func (v *View) Head() Head {
	h := Head{Planning: v.Picture.Planning, Alerts: append([]Alert{}, v.Picture.Alerts...)}
	if p := v.Picture.Plan; p != nil {
		h.Plan, h.Made = p.Version, p.Made
	}
	for _, c := range []struct {
		n      *int
		filter string
	}{
		{&h.OnTime, "on-time"}, {&h.Tight, "tight"}, {&h.Late, "late"}, {&h.Lost, "lost"}, {&h.Held, "held"}, {&h.NoDate, "no-date"},
		{&h.Complete, "complete"}, {&h.DoneLate, "complete-late"},
	} {
		for _, o := range v.orders {
			if shows(c.filter, o) {
				*c.n++
			}
		}
	}
	return h
}

// DoneLate says whether it was completed after its date.
func (o *Order) DoneLate() bool { return o.Done && (o.Standing == Late || o.Standing == Lost) }

// Open counts orders that are neither complete nor cancelled.
func (h Head) Open() int { return h.OnTime + h.Late + h.Lost + h.Held + h.NoDate }
