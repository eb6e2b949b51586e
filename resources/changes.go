// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// ChangeSet is a named list of changes to a plant and its orders, to be tried
// on a copy: what-if.
type ChangeSet struct {
	Name    string
	Note    string
	Changes []Change
}

// Change is one change: exactly one of its parts is set.
type Change struct {
	AddOrder    *NewOrder
	ChangeOrder *OrderLine // the line as it will be
	DropOrder   *OrderName
	Station     *StationChange
	Crew        *CrewChange
	Tool        *ToolChange
	Down        *DownChange
	Absent      *AbsentChange
	Shift       *ShiftChange
	Duration    *FactorChange
	Yield       *FactorChange
	Recipe      *Recipe   // as it will be
	Calendar    *Calendar // as it will be

	Line   int    // of the file it was read from; 0: made in code
	Source string // as it was written there, with nothing else needed to read it; empty: made in code
	Given  string // of a recipe or calendar: what was written to differ, on one line; empty: made in code
}

// NewOrder is an order line that is added.
type NewOrder struct {
	OrderLine
	Asked *Asked // nil: nobody was told a date
}

// Asked is what was said to a customer who asked for a date, with the shipment
// that the order names.
type Asked struct {
	Wish     Tick  // shipment wished; 0: as soon as possible
	Plan     int64 // version of the plan it was fitted into; 0: none
	PerMille int64 // it holds in so many of 1000 courses; 0: that was not asked
}

// OrderName names an order, or one line of it.
type OrderName struct {
	Order string
	Line  string // empty: the whole order
}

// StationChange changes how many stations there are like one, itself included,
// or how many places it has. Fields below 0 or 0 stay as they are.
type StationChange struct {
	ID     string
	Count  int     // 0: none, it goes; below 0: unchanged
	Places int     // 0: unchanged
	Speed  float64 // 0: unchanged
}

// CrewChange changes how many people of a crew work a calendar.
type CrewChange struct {
	ID       string
	Calendar string // empty: that of its only shift
	Heads    int
}

// ToolChange changes how many units a pool has.
type ToolChange struct {
	ID    string
	Count int
}

// DownChange has a station stand still for a time. From 0 is now; To 0 is From
// and For.
type DownChange struct {
	Station string
	From    Tick
	To      Tick
	For     Seconds
	Why     string
}

// Span is when the station stands, given what time it is.
func (d *DownChange) Span(now Tick) Interval { return spanOf(d.From, d.To, d.For, now) }

// spanOf is a stretch of time that begins now where it says no from, and lasts
// so long where it says no to.
func spanOf(from, to Tick, long Seconds, now Tick) Interval {
	span := Interval{Start: from, End: to}
	if span.Start == 0 {
		span.Start = now
	}
	if span.End == 0 {
		span.End = span.Start + Tick(long)
	}
	return span
}

// ShiftChange has crews work, and stations be open, one more stretch of time.
// Without stations, those are opened that need a skill of the crews.
type ShiftChange struct {
	Interval
	Crews    []string
	Stations []string
	Heads    int            // of each crew; 0: as many as in its first shift
	Already  map[string]int `json:",omitempty"` // people of a crew who work all or some of it anyway; they are not taken off
}

// meets notes who works all or some of the stretch anyway, by the plant without it.
func (x *ShiftChange) meets(p *Plant) {
	for _, id := range x.Crews {
		crew, n := p.Crew(id), 0
		if crew == nil {
			continue
		}
		for _, s := range crew.Shifts {
			c := p.Calendar(s.Calendar)
			if c == nil || s.Heads == 0 {
				continue
			}
			if open, err := c.Windows(p.Zone, x.Start, x.End); err != nil || len(open) == 0 {
				continue
			}
			n += s.Heads
		}
		if n == 0 {
			continue
		}
		if x.Already == nil {
			x.Already = map[string]int{}
		}
		x.Already[id] = n
	}
}

// words says who works when, and beside whom: more people on a shift that is worked
// anyway may be meant, or a wrong day.
func (x *ShiftChange) words(at func(Tick) string) string {
	var who []string
	for _, id := range x.Crews {
		if n := x.Already[id]; n > 0 {
			id += fmt.Sprintf(" (beside %d of them who work all or some of it already)", n)
		}
		who = append(who, id)
	}
	return fmt.Sprintf("extra shift %s to %s: %s", at(x.Start), at(x.End), strings.Join(slices.Concat(who, x.Stations), ", "))
}

// FactorChange multiplies how long runs take, or which share comes out good.
// Empty fields mean all.
type FactorChange struct {
	Product   string
	Operation string
	Station   string // of durations
	Factor    float64
}

// Kind is the change's name in a file, e.g. "tool".
func (c *Change) Kind() string {
	for _, k := range []struct {
		set  bool
		name string
	}{
		{c.AddOrder != nil, "add_order"}, {c.ChangeOrder != nil, "change_order"}, {c.DropOrder != nil, "drop_order"},
		{c.Station != nil, "station"}, {c.Crew != nil, "crew"}, {c.Tool != nil, "tool"}, {c.Down != nil, "down"},
		{c.Absent != nil, "absent"},
		{c.Shift != nil, "shift"}, {c.Duration != nil, "duration"}, {c.Yield != nil, "yield"},
		{c.Recipe != nil, "recipe"}, {c.Calendar != nil, "calendar"},
	} {
		if k.set {
			return k.name
		}
	}
	return ""
}

// ChangeKinds lists the names of changes, in the order of the documentation.
func ChangeKinds() []string {
	return []string{"add_order", "change_order", "drop_order", "station", "crew", "tool", "down", "absent", "shift", "duration", "yield", "recipe", "calendar"}
}

// OfOrders tells whether the change is one of orders, not of the plant.
func (c *Change) OfOrders() bool {
	return c.AddOrder != nil || c.ChangeOrder != nil || c.DropOrder != nil
}

// OfPlant tells whether the change is one of the plant. A stop that begins by now
// is reported, one to come is planned; people who are or will be away are reported.
func (c *Change) OfPlant(now Tick) bool {
	return !c.OfOrders() && c.Absent == nil && (c.Down == nil || c.Down.Span(now).Start > now)
}

// Words says the change as people do; instants are in the zone, and have their
// year, so that a slip in it shows.
func (c *Change) Words(zone *time.Location) string {
	at := func(t Tick) string { return time.Unix(int64(t), 0).In(orUTC(zone)).Format("Mon 2 Jan 2006 15:04") }
	switch {
	case c.AddOrder != nil:
		l := c.AddOrder
		return fmt.Sprintf("add order %s/%s: %d of %s, ship by %s", l.Order, l.Line, l.Quantity, l.Product, at(l.ShipBy))
	case c.ChangeOrder != nil:
		l := c.ChangeOrder
		return fmt.Sprintf("change order %s/%s: %d of %s, ship by %s, weight %d", l.Order, l.Line, l.Quantity, l.Product, at(l.ShipBy), l.Weight)
	case c.DropOrder != nil && c.DropOrder.Line == "":
		return "drop order " + c.DropOrder.Order
	case c.DropOrder != nil:
		return "drop order " + c.DropOrder.Order + "/" + c.DropOrder.Line
	case c.Station != nil:
		return c.Station.words()
	case c.Crew != nil:
		return strings.TrimSpace(fmt.Sprintf("crew %s: %d people %s", c.Crew.ID, c.Crew.Heads, c.Crew.Calendar))
	case c.Tool != nil:
		return fmt.Sprintf("tool %s: %d of them", c.Tool.ID, c.Tool.Count)
	case c.Down != nil:
		return c.Down.words(at)
	case c.Absent != nil:
		return c.Absent.words(at)
	case c.Shift != nil:
		return c.Shift.words(at)
	case c.Duration != nil:
		return "duration" + c.Duration.words()
	case c.Yield != nil:
		return "yield" + c.Yield.words()
	case c.Recipe != nil:
		return either(c.Given, "recipe "+c.Recipe.ID+": ", "another recipe "+c.Recipe.ID)
	case c.Calendar != nil:
		return either(c.Given, "calendar "+c.Calendar.ID+": ", "another calendar "+c.Calendar.ID)
	}
	return "nothing"
}

// either is what was given, after what it is of, or what to say without it.
func either(given, of, otherwise string) string {
	if given == "" {
		return otherwise
	}
	return of + given
}

func (s *StationChange) words() string {
	var parts []string
	if s.Count == 0 {
		parts = append(parts, "out of the plant")
	} else if s.Count > 0 {
		parts = append(parts, fmt.Sprintf("%d of them", s.Count))
	}
	if s.Places > 0 {
		parts = append(parts, fmt.Sprintf("%d places", s.Places))
	}
	if s.Speed > 0 {
		parts = append(parts, fmt.Sprintf("speed %g", s.Speed))
	}
	return "station " + s.ID + ": " + strings.Join(parts, ", ")
}

func (d *DownChange) words(at func(Tick) string) string {
	from, to := "now", ""
	if d.From != 0 {
		from = at(d.From)
	}
	if d.To != 0 {
		to = " to " + at(d.To)
	} else {
		to = " for " + Spell(d.For)
	}
	return "station " + d.Station + " down from " + from + to
}

func (f *FactorChange) words() string {
	text := ""
	for _, part := range []struct{ what, name string }{{"product", f.Product}, {"operation", f.Operation}, {"station", f.Station}} {
		if part.name != "" {
			text += ", " + part.what + " " + part.name
		}
	}
	return fmt.Sprintf("%s: times %g", text, f.Factor)
}
