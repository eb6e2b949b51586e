// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"maps"
	"slices"

	"towpath/events"
	"towpath/resources"
)

func (t *change) orderAdded(d events.OrderData) *Refusal {
	line, r := orderLine(d)
	if r != nil {
		return r
	}
	if r := t.addLine(line); r != nil || d.Asked == nil {
		return r
	}
	l := t.lines.edit(LineKey(d.Order, d.Line))
	l.Promise = &Promise{
		Status: Confirmed, Made: t.e.At, By: t.e.By, Wish: d.Asked.Wish, ShipBy: l.ShipBy, Due: l.Due, Quantity: l.Quantity,
		Plan: d.Asked.Plan, PerMille: d.Asked.PerMille, Closed: t.e.At, Closer: t.e.By,
	}
	return nil
}

// orderLine reads the payload.
func orderLine(d events.OrderData) (resources.OrderLine, *Refusal) {
	line := resources.OrderLine{
		Order: d.Order, Line: d.Line, Customer: d.Customer, Product: d.Product, Quantity: d.Quantity,
		ShipBy: d.ShipBy, Due: d.Due, Weight: d.Weight, EarliestStart: d.EarliestStart, Note: d.Note,
	}
	about := "order " + LineKey(d.Order, d.Line)
	switch d.Kind {
	case "firm":
		line.Kind = resources.Firm
	case "event":
		line.Kind = resources.Event
	default:
		return line, refuse(RefusedMalformed, about, "firm or event", "unknown kind %q", d.Kind)
	}
	dates := []Tick{d.ShipBy, d.Due, d.EarliestStart}
	if d.Asked != nil {
		dates = append(dates, d.Asked.Wish)
	}
	for _, at := range dates {
		if at < 0 || at > lastInstant {
			return line, refuse(RefusedMalformed, about, "", "a date of it lies outside the years 1970 to 9999")
		}
	}
	return line, nil
}

// openLine finds an order line that may change, as a copy.
func (t *change) openLine(order, line string, on events.Kind) (*Line, *Refusal) {
	key := LineKey(order, line)
	about := "order " + key
	l := t.lines.look(key)
	state := lineState(l)
	if m := lineLife.move(state, on, never); m == nil || m.Refuse != "" {
		switch state {
		case stateNone:
			return nil, refuse(RefusedUnknown, about, "check the numbers, or add it", "there is no such order line")
		case "cancelled":
			return nil, refuse(m.Refuse, about, "add a new line", "it was cancelled already")
		case string(Reserved):
			return nil, refuse(m.Refuse, about, "confirm the promise first, or let it go", "it is a promise that is not confirmed")
		}
	}
	return t.lines.edit(key), nil
}

func lineState(l *Line) string {
	switch {
	case l == nil:
		return stateNone
	case l.Cancelled:
		return "cancelled"
	case l.Reserved():
		return string(Reserved)
	}
	return "open"
}

func never(string) bool { return false }

func (t *change) orderChanged(d events.OrderData) *Refusal {
	line, r := orderLine(d)
	if r != nil {
		return r
	}
	l, r := t.openLine(d.Order, d.Line, events.OrderChanged)
	if r != nil {
		return r
	}
	if r := t.checkLine(&line); r != nil {
		return r
	}
	if line.Due == 0 {
		line.Due = t.plant.Due(line.ShipBy)
	}
	if line.Product != l.Product {
		if p := t.firstBegun(l); p != nil {
			return refuse(RefusedBegun, "order "+LineKey(l.Order, l.Line), "cancel this line and add another",
				"it cannot become product %q: piece %s has begun as %q", line.Product, p.Serial, l.Product)
		}
		t.dropAll(l)
	}
	more := line.Quantity != l.Quantity || line.Product != l.Product
	l.OrderLine = line
	return t.settle(l, nil, more)
}

// firstBegun is a piece of the line that anything was done to or said of; nil
// if none.
func (t *change) firstBegun(l *Line) *Piece {
	for _, serial := range l.Pieces {
		if p := t.pieces.look(serial); p.Scrapped || p.Held || begun(p) {
			return p
		}
	}
	return nil
}

// dropAll drops the pieces of a line that has not begun.
func (t *change) dropAll(l *Line) {
	for _, serial := range l.Pieces {
		t.pieces.drop(serial)
	}
	l.Pieces = nil
}

func (t *change) orderCancelled(d events.CancelData) *Refusal {
	if d.Line != "" {
		return t.cancelLine(d.Order, d.Line, d.Why)
	}
	found := false
	for _, key := range slices.Sorted(maps.Keys(t.s.Lines)) {
		if l := t.s.Lines[key]; l.Order == d.Order && !l.Cancelled {
			found = true
			if r := t.cancelLine(l.Order, l.Line, d.Why); r != nil {
				return r
			}
		}
	}
	if !found {
		return refuse(RefusedUnknown, "order "+d.Order, "check the number", "there is no open line of that order")
	}
	return nil
}

// cancelLine drops what has not begun, also out of loads that are closed and
// have not started.
func (t *change) cancelLine(order, line, why string) *Refusal {
	l, r := t.openLine(order, line, events.OrderCancelled)
	if r != nil {
		return r
	}
	t.dropLine(l, why)
	return nil
}

// dropLine is the rest of it, for a line that is a copy.
func (t *change) dropLine(l *Line, why string) {
	l.Cancelled = true
	stays := map[string]bool{}
	for _, serial := range l.Pieces {
		t.leaveLoad(serial, "its order was cancelled")
		if p := t.pieces.look(serial); p.MadeFor != "" && t.good(p) {
			t.toStock(p, l)
			continue
		}
		if p := t.pieces.look(serial); p.Scrapped || begun(p) {
			stays[serial] = true
			stays[p.Parent] = true // also of a scrapped shaft
		}
	}
	kept := make([]string, 0, len(stays))
	for _, serial := range l.Pieces {
		if stays[serial] {
			kept = append(kept, serial)
		} else {
			t.pieces.drop(serial)
		}
	}
	l.Pieces = kept
	t.note("order "+LineKey(l.Order, l.Line), "cancelled%s; %d pieces have begun and stay", because(why), len(kept))
}
