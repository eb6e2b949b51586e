// SPDX-License-Identifier: Apache-2.0

package whatif

import (
	"fmt"
	"maps"
	"slices"

	"towpath/scheduler"
)

// Holds tells whether the comparison still speaks of the shop s. Work that goes
// on and new plans do not end it, as nobody could adopt anything in a shop that
// works. It ends, with ErrMoved and what it was, when any of these is another
// than when the question was asked: the plant; an order; a stop of a station; a
// tool being out; people being away; a piece or batch being on hold, or a piece scrapped; whether
// the plan in force has an order in time.
func (q *Question) Holds(s *scheduler.State) error {
	was := q.Before
	if err := SamePlant(was, s); err != nil {
		return err
	}
	if key := differs(was.Lines, s.Lines, sameLine); key != "" {
		return moved("order %s is another one now", key)
	}
	if key := differs(was.Stations, s.Stations, func(a, b *scheduler.StationState) bool { return a.Down == b.Down && a.Until == b.Until }); key != "" {
		return moved("%s is up or down otherwise now", key)
	}
	if key := differs(was.Tools, s.Tools, func(a, b *scheduler.ToolState) bool { return a.Out == b.Out }); key != "" {
		return moved("tool %s is out, or back", key)
	}
	if key := differs(was.Absences, s.Absences, func(a, b *scheduler.Absence) bool { return *a == *b }); key != "" {
		return moved("people are away, or back, by report %s", key)
	}
	if key := differs(was.Batches, s.Batches, func(a, b *scheduler.BatchHold) bool { return a.Held == b.Held }); key != "" {
		return moved("%s is on hold, or released", key)
	}
	for _, serial := range slices.Sorted(maps.Keys(was.Pieces)) {
		a, b := was.Pieces[serial], s.Pieces[serial]
		if b == nil || a.Scrapped != b.Scrapped || a.Held != b.Held {
			return moved("piece %s is scrapped, on hold or released", serial)
		}
	}
	return q.standings(s)
}

// standings compares which orders the plans in force have in time.
func (q *Question) standings(s *scheduler.State) error {
	if q.Before.Plan == nil || s.Plan == nil || s.Plan == q.Before.Plan {
		return nil
	}
	was := map[string]string{}
	for _, o := range scheduler.MeasureOrders(q.Before, q.Before.Plan) {
		was[o.Order] = o.Status.String()
	}
	for _, o := range scheduler.MeasureOrders(s, s.Plan) {
		if before, known := was[o.Order]; known && before != o.Status.String() {
			return moved("order %s was %s and is %s now", o.Order, before, o.Status)
		}
	}
	return nil
}

func moved(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrMoved, fmt.Sprintf(format, args...))
}

func sameLine(a, b *scheduler.Line) bool {
	if (a.Promise == nil) != (b.Promise == nil) || a.Promise != nil && a.Promise.Status != b.Promise.Status {
		return false
	}
	return a.OrderLine == b.OrderLine && a.Cancelled == b.Cancelled
}

// differs names the first key that is on one side only or is not the same on
// both; empty: there is none.
func differs[V any](was, is map[string]*V, same func(a, b *V) bool) string {
	for _, key := range slices.Sorted(maps.Keys(was)) {
		if is[key] == nil || !same(was[key], is[key]) {
			return key
		}
	}
	for _, key := range slices.Sorted(maps.Keys(is)) {
		if was[key] == nil {
			return key
		}
	}
	return ""
}
