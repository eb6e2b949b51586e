// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"cmp"
	"maps"
	"slices"

	"towpath/scheduler"
)

// Held is an answer whose capacity is kept.
type Held struct {
	*Answer
	Promise string `json:"promise" doc:"number of the promise, and of the order it becomes"`
	ShipBy  Tick   `json:"ship_by" doc:"shipment promised"`
	Expires Tick   `json:"expires" doc:"until when its capacity is kept"`
	Seq     uint64 `json:"seq" doc:"its number in the log"`
}

// Record is what was promised, and what came of it.
type Record struct {
	Reserved  int     `json:"reserved" doc:"promises whose capacity is kept now"`
	Confirmed int     `json:"confirmed" doc:"promises that became orders which are not cancelled"`
	Complete  int     `json:"complete" doc:"of those, orders that are complete"`
	Achieved  int     `json:"achieved" doc:"of those, orders that were ready for the promised shipment"`
	Cancelled int     `json:"cancelled" doc:"promises that became orders and were cancelled; nothing else counts them"`
	Entries   []Entry `json:"promises" doc:"newest first"`
}

// Entry is one promise.
type Entry struct {
	Promise  string            `json:"promise" doc:"its number, and that of the order"`
	Line     string            `json:"line" doc:"line of the order, one for each shipment promised"`
	Status   string            `json:"status" doc:"reserved, confirmed, cancelled, released or expired"`
	Customer string            `json:"customer" doc:"who asked"`
	Product  string            `json:"product" doc:"product"`
	Quantity int               `json:"quantity" doc:"pieces promised"`
	Made     Tick              `json:"made" doc:"when it was given"`
	By       string            `json:"by" doc:"who gave it"`
	Wish     Tick              `json:"wish" doc:"shipment wished"`
	ShipBy   Tick              `json:"ship_by" doc:"shipment promised"`
	PerMille int64             `json:"per_mille" doc:"it was to hold in so many of 1000 courses; 0: that was not asked"`
	Plan     int64             `json:"plan_version" doc:"plan it was fitted into"`
	Expires  Tick              `json:"expires" doc:"until when capacity is, or was, kept unconfirmed"`
	Closed   Tick              `json:"closed" doc:"when it was confirmed, let go or expired"`
	Expected Tick              `json:"expected" doc:"when it will be ready by the plan, or was ready; empty: not known, or nothing is kept"`
	Complete bool              `json:"complete" doc:"all its pieces are done"`
	Kept     bool              `json:"kept" doc:"ready, or expected to be ready, for the promised shipment"`
	Slack    scheduler.Seconds `json:"slack" doc:"seconds between being ready and the promised shipment; negative: too late"`
}

// Recorded compares what was promised with what came of it, or will by the
// plan.
func Recorded(s *scheduler.State) Record {
	r := Record{Entries: []Entry{}}
	if s == nil || s.Plant == nil {
		return r
	}
	if !slices.ContainsFunc(slices.Collect(maps.Values(s.Lines)), func(l *scheduler.Line) bool { return l.Promise != nil }) {
		return r
	}
	ends := scheduler.MeasureLines(s, s.Plan)
	for key, l := range s.Lines {
		p := l.Promise
		if p == nil {
			continue
		}
		e := entry(s, l, ends[key])
		switch {
		case e.Cancelled():
			r.Cancelled++
		case p.Status == scheduler.Reserved:
			r.Reserved++
		case p.Status == scheduler.Confirmed:
			r.Confirmed++
			if e.Complete {
				r.Complete++
				if e.Kept {
					r.Achieved++
				}
			}
		}
		r.Entries = append(r.Entries, e)
	}
	slices.SortFunc(r.Entries, func(a, b Entry) int {
		return cmp.Or(cmp.Compare(b.Made, a.Made), cmp.Compare(b.Promise, a.Promise), byShipment(a, b))
	})
	return r
}

// RecordOf is what was promised of one order, by its lines: a shipment each.
// It is empty when nobody asked for it.
func RecordOf(s *scheduler.State, order string) []Entry {
	list := []Entry{}
	if s == nil || s.Plant == nil {
		return list
	}
	var ends map[string]scheduler.LineEnd
	for key, l := range s.Lines {
		if l.Order != order || l.Promise == nil {
			continue
		}
		if ends == nil {
			ends = scheduler.MeasureLines(s, s.Plan)
		}
		list = append(list, entry(s, l, ends[key]))
	}
	slices.SortFunc(list, byShipment)
	return list
}

func byShipment(a, b Entry) int {
	return cmp.Or(cmp.Compare(a.ShipBy, b.ShipBy), cmp.Compare(a.Line, b.Line))
}

// Name is the promise, and its line where that is not its only one.
func (e Entry) Name() string {
	if e.Line == scheduler.PromiseLine {
		return e.Promise
	}
	return scheduler.LineKey(e.Promise, e.Line)
}

// cancelled is the status of a promise that became an order, and the order was
// taken back: it is neither kept nor broken.
const cancelled = "cancelled"

// Cancelled tells whether the order it became was taken back.
func (e Entry) Cancelled() bool { return e.Status == cancelled }

func entry(s *scheduler.State, l *scheduler.Line, end scheduler.LineEnd) Entry {
	p := l.Promise
	e := Entry{
		Promise: l.Order, Line: l.Line, Status: string(p.Status), Customer: l.Customer, Product: l.Product, Quantity: p.Quantity,
		Made: p.Made, By: p.By, Wish: p.Wish, ShipBy: p.ShipBy, PerMille: p.PerMille, Plan: p.Plan, Expires: p.Expires, Closed: p.Closed,
	}
	if l.Cancelled && p.Status == scheduler.Confirmed {
		e.Status = cancelled
	}
	if end.Known && !l.Cancelled {
		e.Expected, e.Complete = end.End, done(s, l)
		e.Kept, e.Slack = end.End <= p.Due, scheduler.Seconds(p.Due-end.End)
	}
	return e
}

// done tells whether nothing of a line is left to do.
func done(s *scheduler.State, l *scheduler.Line) bool {
	some := false
	for _, serial := range l.Pieces {
		p := s.Pieces[serial]
		if p == nil || p.Scrapped || p.Sample {
			continue
		}
		some = true
		for i := range p.Ops {
			if p.Ops[i].Status != scheduler.Done {
				return false
			}
		}
	}
	return some
}

// Share is the share of possible courses in which it was to hold.
func (e Entry) Share() float64 { return float64(e.PerMille) / 1000 }
