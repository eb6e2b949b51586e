// SPDX-License-Identifier: Apache-2.0

package whatif

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// Tick and Seconds are the engine's time, whole seconds UTC.
type (
	Tick    = resources.Tick
	Seconds = resources.Seconds
)

// Fault is a change that the shop as it stands does not allow.
type Fault struct {
	Line   int    // of the file the change was read from; 0: made in code
	Change string // in words
	Err    error  // why; a *scheduler.Refusal where the rules of the log say no
}

// Error says which change, and why not.
func (f *Fault) Error() string {
	if f.Line > 0 {
		return fmt.Sprintf("line %d: %s: %v", f.Line, f.Change, f.Err)
	}
	return fmt.Sprintf("%s: %v", f.Change, f.Err)
}

// Unwrap is why.
func (f *Fault) Unwrap() error { return f.Err }

// Lines lists the order lines that changes may speak of: those that are open
// and no longer, or not only, a promise to be confirmed; by order and line.
func Lines(s *scheduler.State) []resources.OrderLine {
	lines := []resources.OrderLine{}
	for _, key := range slices.Sorted(maps.Keys(s.Lines)) {
		l := s.Lines[key]
		reserved := l.Promise != nil && l.Promise.Status == scheduler.Reserved
		if !l.Cancelled && !reserved && l.Order != scheduler.StockOrder {
			lines = append(lines, l.OrderLine)
		}
	}
	return lines
}

// Changed is the state with the changes, by the rules for declaring a plant and
// for reporting orders, stops and people away: changes of the plant first, then
// those of orders, then what stands still from now on and who is or will be away.
// The state given stays as it is,
// and the result is for planning alone. The error joins a *Fault for every
// change that is not allowed.
func Changed(s *scheduler.State, now Tick, set *resources.ChangeSet) (*scheduler.State, error) {
	out := s.Clone()
	if slices.ContainsFunc(set.Changes, func(c resources.Change) bool { return c.OfPlant(now) }) {
		plant, found := set.ApplyPlant(s.Plant, now)
		var errs []error
		for _, f := range found {
			errs = append(errs, &Fault{Line: f.Line, Change: f.Field, Err: errors.New(f.Text)})
		}
		if len(errs) > 0 {
			return nil, errors.Join(errs...)
		}
		on, err := out.OnPlant(plant)
		if err != nil {
			return nil, &Fault{Change: "the changed plant", Err: err}
		}
		out = on
	}
	var errs []error
	for i, e := range Events(s, now, set) {
		e.ID = fmt.Sprintf("what-if-%d", i)
		e.Seq = out.Seq + 1
		if _, err := out.Apply(e.Event); err != nil {
			errs = append(errs, &Fault{Line: e.Change.Line, Change: e.Change.Words(s.Plant.Zone), Err: err})
		}
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	out.Seq = s.Seq
	return out, nil
}

// Reported is an event that makes a change, with the change it makes.
type Reported struct {
	events.Event
	Change *resources.Change
}

// Events lists what would be reported for the changes that are of orders, of
// people who are or will be away, or begin now, in the order in which it must be
// believed. IDs are the caller's.
func Events(s *scheduler.State, now Tick, set *resources.ChangeSet) []Reported {
	at := max(now, s.At)
	var orders, away []Reported // away: what, or who, is not there
	for i := range set.Changes {
		c := &set.Changes[i]
		e := events.Event{Plant: s.PlantName(), At: at}
		switch {
		case c.AddOrder != nil:
			e.Kind, e.Data = events.OrderAdded, events.NewOrderData(c.AddOrder)
		case c.ChangeOrder != nil:
			e.Kind, e.Data = events.OrderChanged, events.OrderDataOf(c.ChangeOrder)
		case c.DropOrder != nil:
			e.Kind, e.Data = events.OrderCancelled, events.CancelData{Order: c.DropOrder.Order, Line: c.DropOrder.Line, Why: set.Name}
		case c.Down != nil && !c.OfPlant(now):
			e.Kind, e.Station = events.StationDown, c.Down.Station
			e.Data = events.StationData{Why: c.Down.Why, Until: c.Down.Span(now).End}
			away = append(away, Reported{e, c})
			continue
		case c.Absent != nil:
			a := c.Absent
			e.Kind = events.CrewAbsent
			e.Data = events.AbsentData{Crew: a.Crew, People: a.People, Calendar: a.Calendar, From: a.From, Until: a.Span(now).End, Why: a.Why}
			away = append(away, Reported{e, c})
			continue
		default:
			continue
		}
		orders = append(orders, Reported{e, c})
	}
	return append(orders, away...)
}
