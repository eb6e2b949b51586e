// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"

	"towpath/events"
	"towpath/resources"
)

// PromiseLine is the line number of a promise, whose order number is its own.
const PromiseLine = "1"

// Overdue lists the keys of the lines whose promise was not confirmed in time
// and is still reserved, sorted.
func (s *State) Overdue(now Tick) []string {
	var keys []string
	for key, l := range s.Lines {
		if l.Reserved() && l.Promise.Expires <= now {
			keys = append(keys, key)
		}
	}
	slices.Sort(keys)
	return keys
}

// promiseReserved keeps capacity for an order that was asked for: it is planned
// as an order is, but no work on it begins before it has expired, so that
// letting it go costs nothing. Of two that were computed from one state the
// first in the log has the capacity.
func (t *change) promiseReserved(d events.ReserveData) *Refusal {
	about := "promise " + d.Promise
	kind := resources.Firm
	switch d.Kind {
	case "firm":
	case "event":
		kind = resources.Event
	default:
		return refuse(RefusedMalformed, about, "firm or event", "unknown kind %q", d.Kind)
	}
	for _, at := range []Tick{d.Wish, d.ShipBy, d.Due, d.Expires} {
		if at < 0 || at > lastInstant {
			return refuse(RefusedMalformed, about, "", "a date of it lies outside the years 1970 to 9999")
		}
	}
	key := LineKey(d.Promise, PromiseLine)
	m := lineLife.move(lineState(t.lines.look(key)), events.PromiseReserved, never)
	switch {
	case t.s.Claimed > d.Base:
		return refuse(RefusedStale, about, "ask again", "another order or promise came first, at number %d of the log; this one was computed for number %d", t.s.Claimed, d.Base)
	case m == nil || m.Refuse != "":
		return refuse(RefusedExists, about, "ask under another number", "there is, or was, an order of that number")
	case d.Expires <= t.e.At:
		return refuse(RefusedMalformed, about, "", "it expires before it is made")
	}
	line := resources.OrderLine{
		Order: d.Promise, Line: PromiseLine, Customer: d.Customer, Product: d.Product, Quantity: d.Quantity,
		ShipBy: d.ShipBy, Due: d.Due, Weight: d.Weight, Kind: kind, EarliestStart: d.Expires,
	}
	if r := t.addLine(line); r != nil {
		return r
	}
	l := t.lines.edit(key)
	l.Promise = &Promise{
		Status: Reserved, Made: t.e.At, By: t.e.By, Wish: d.Wish, ShipBy: d.ShipBy, Due: l.Due, Quantity: d.Quantity,
		Expires: d.Expires, Plan: d.Plan, PerMille: d.PerMille,
	}
	t.note(about, "capacity kept until %s for a shipment by %s", t.s.clock(d.Expires), t.s.clock(d.ShipBy))
	return nil
}

// promise finds the line of a promise to which something may happen, as a copy
// with its own record.
func (t *change) promise(d events.PromiseData) (*Line, *Refusal) {
	key, about := LineKey(d.Promise, PromiseLine), "promise "+d.Promise
	l := t.lines.look(key)
	if m := lineLife.move(lineState(l), t.e.Kind, never); m == nil || m.Refuse != "" {
		switch {
		case l == nil:
			return nil, refuse(RefusedUnknown, about, "check the number", "there is no such promise")
		case l.Promise == nil:
			return nil, refuse(m.Refuse, about, "check the number", "that is an order nobody was promised here")
		case l.Promise.Status == Confirmed:
			return nil, refuse(m.Refuse, about, "change or cancel the order", "it was confirmed at %s%s", t.s.clock(l.Promise.Closed), by(l.Promise.Closer))
		}
		how := "was let go"
		if l.Promise.Status == Expired {
			how = "expired"
		}
		return nil, refuse(m.Refuse, about, "ask again", "it %s at %s%s", how, t.s.clock(l.Promise.Closed), by(l.Promise.Closer))
	}
	l = t.lines.edit(key)
	own := *l.Promise
	own.Closed, own.Closer, own.Why = t.e.At, t.e.By, d.Why
	l.Promise = &own
	return l, nil
}

// promiseConfirmed makes it an order with the promised date.
func (t *change) promiseConfirmed(d events.PromiseData) *Refusal {
	l, r := t.promise(d)
	if r != nil {
		return r
	}
	if t.e.At >= l.Promise.Expires {
		return refuse(RefusedSuperseded, "promise "+d.Promise, "ask again", "it expired at %s", t.s.clock(l.Promise.Expires))
	}
	l.Promise.Status = Confirmed
	l.EarliestStart = 0
	if d.Customer != "" {
		l.Customer = d.Customer
	}
	t.note("promise "+d.Promise, "confirmed: an order to ship by %s", t.s.clock(l.ShipBy))
	return nil
}

// promiseClosed lets its capacity go: nobody wanted it, or its time is over.
func (t *change) promiseClosed(d events.PromiseData) *Refusal {
	l, r := t.promise(d)
	if r != nil {
		return r
	}
	status := Released
	if t.e.Kind == events.PromiseExpired {
		status = Expired
		if t.e.At < l.Promise.Expires {
			return refuse(RefusedNotYet, "promise "+d.Promise, "release it instead", "it is kept until %s", t.s.clock(l.Promise.Expires))
		}
	}
	l.Promise.Status = status
	why := d.Why
	if why == "" {
		why = string(status)
	}
	t.dropLine(l, why)
	return nil
}
