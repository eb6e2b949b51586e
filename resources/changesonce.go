// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"strings"
)

// Of two changes of one thing the last would win, and nobody would see that the
// other was not made. So a set changes each thing once. What stands on top of a
// plant was made once, as it was understood then, and is not asked again.

// plannedStop is a station that stands still, by the change of that number.
type plannedStop struct {
	station string
	span    Interval
	number  int
}

// once reports what was changed before in the same file.
func (r *changesReader) once(o *object, what, name string) {
	if name == "" || r.onTop {
		return // told already
	}
	key := what + " " + name
	if first := r.seen[key]; first > 0 {
		r.twice(o, key, first)
		return
	}
	r.seen[key] = r.number
}

func (r *changesReader) twice(o *object, key string, first int) {
	r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: fmt.Sprintf("%s is changed twice, first by change %d", key, first), Hint: "put both in one change"})
}

// onceDropped asks that of a line, or of an order with every line that it has and
// that the set has added.
func (r *changesReader) onceDropped(o *object, name *OrderName) {
	key := "order " + name.Order
	if name.Line != "" || name.Order == "" || r.seen[key] > 0 {
		r.once(o, "order", strings.TrimSuffix(name.Order+"/"+name.Line, "/"))
		return
	}
	r.once(o, "order", name.Order)
	first := 0
	for line, number := range r.seen {
		if strings.HasPrefix(line, key+"/") && (first == 0 || number < first) {
			first = number
		}
	}
	if first > 0 {
		r.twice(o, key, first)
	}
	for i := range r.orders {
		if l := &r.orders[i]; l.Order == name.Order {
			r.seen[key+"/"+l.Line] = r.number
		}
	}
}

// onceCrew tells the shifts of a crew apart by their calendars. The only shift
// may be named or not.
func (r *changesReader) onceCrew(o *object, x *CrewChange) {
	name, calendar := x.ID, x.Calendar
	if crew := r.plant.Crew(x.ID); calendar == "" && crew != nil && len(crew.Shifts) == 1 {
		calendar = crew.Shifts[0].Calendar
	}
	if name != "" && calendar != "" {
		name += ", calendar " + calendar + ","
	}
	r.once(o, "crew", name)
}

// onceDown lets a station stand still several times, each apart from the others.
func (r *changesReader) onceDown(o *object, x *DownChange) {
	stop := plannedStop{x.Station, x.Span(r.now), r.number}
	if r.onTop || x.Station == "" || stop.span.End <= stop.span.Start {
		return // told already
	}
	for _, s := range r.stops {
		if s.station == stop.station && s.span.Start < stop.span.End && stop.span.Start < s.span.End {
			r.twice(o, "station "+x.Station+" at that time", s.number)
			return
		}
	}
	r.stops = append(r.stops, stop)
}

// onceShift lets a crew work several extra shifts, but the same one only once: of
// one that is given twice the crew would be there twice.
func (r *changesReader) onceShift(o *object, x *ShiftChange) {
	at := fmt.Sprintf(" from %s to %s", dueText(r.zone, x.Start), dueText(r.zone, x.End))
	what, names := "the extra shift of crew", x.Crews
	if len(names) == 0 {
		what, names = "the extra opening of station", x.Stations
	}
	for _, name := range names {
		r.once(o, what, name+at)
	}
}

// onceFactor lets factors of all and of one thing come together, but not two of
// the same.
func (r *changesReader) onceFactor(o *object, what string, x *FactorChange) {
	name := "of"
	for _, of := range []struct{ what, name string }{{"product", x.Product}, {"operation", x.Operation}, {"station", x.Station}} {
		if of.name != "" {
			name += " " + of.what + " " + of.name
		}
	}
	if name == "of" {
		name += " all"
	}
	r.once(o, what, name)
}
