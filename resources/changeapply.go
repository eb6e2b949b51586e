// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
)

// ApplyPlant makes the changes of the set that are of the plant, in their
// order, on a copy; orders, a station that stands still from now on and people who
// are away are left to whoever knows them. Findings say what names nothing, changes
// nothing or makes a plant that cannot work, and who is away that the changed plant
// lacks; with any of them there is no plant. A Finding has the line of the change
// it is about.
func (set *ChangeSet) ApplyPlant(p *Plant, now Tick) (*Plant, []Finding) {
	return set.applyPlant(p, now, false)
}

// applyPlant makes the changes of the plant. What stands on top of a plant was
// made once: a change of it that changes nothing any more, as a set below it was
// taken off, is no mistake.
func (set *ChangeSet) applyPlant(p *Plant, now Tick, onTop bool) (*Plant, []Finding) {
	q := p.Copy()
	var found []Finding
	changed := false
	tell := func(i int, f *Finding) {
		if c := &set.Changes[i]; f != nil && !(onTop && f.Text == changesNothing) {
			f.Line, f.Field = c.Line, fmt.Sprintf("changes[%d].%s%s", i, c.Kind(), f.Field)
			found = append(found, *f)
		}
	}
	for i := range set.Changes {
		if c := &set.Changes[i]; c.OfPlant(now) {
			changed = true
			tell(i, c.apply(q, now))
		}
	}
	for i := range set.Changes {
		if a := set.Changes[i].Absent; a != nil {
			tell(i, a.check(q))
		}
	}
	if len(found) > 0 || !changed {
		return unlessFound(q, found)
	}
	known := map[string]bool{}
	for _, f := range ValidatePlant(p) {
		known[f.String()] = true
	}
	for _, f := range ValidatePlant(q) {
		if f.Severity == Error && !known[f.String()] {
			f.Text = "in the changed plant: " + f.Field + ": " + f.Text
			f.Field = "changes"
			found = append(found, f)
		}
	}
	return unlessFound(q, found)
}

func unlessFound(p *Plant, found []Finding) (*Plant, []Finding) {
	if len(found) > 0 {
		return nil, found
	}
	return p, nil
}

// apply makes the change on a plant that may be edited.
func (c *Change) apply(p *Plant, now Tick) *Finding {
	switch {
	case c.Station != nil:
		return c.Station.apply(p)
	case c.Crew != nil:
		return c.Crew.apply(p)
	case c.Tool != nil:
		return c.Tool.apply(p)
	case c.Down != nil:
		return c.Down.apply(p, now)
	case c.Shift != nil:
		return c.Shift.apply(p)
	case c.Duration != nil:
		return c.Duration.duration(p)
	case c.Yield != nil:
		return c.Yield.yield(p)
	case c.Recipe != nil:
		i := slices.IndexFunc(p.Recipes, func(r Recipe) bool { return r.ID == c.Recipe.ID })
		if i < 0 {
			return nothing(".id", "recipe", c.Recipe.ID, idsOf(p.Recipes, func(r *Recipe) string { return r.ID }))
		}
		if sameRecipe(&p.Recipes[i], c.Recipe) {
			return asIs("", c.Recipe.ID)
		}
		p.Recipes[i] = *c.Recipe
	case c.Calendar != nil:
		i := slices.IndexFunc(p.Calendars, func(r Calendar) bool { return r.ID == c.Calendar.ID })
		if i < 0 {
			return nothing(".id", "calendar", c.Calendar.ID, idsOf(p.Calendars, func(r *Calendar) string { return r.ID }))
		}
		if sameCalendar(&p.Calendars[i], c.Calendar) {
			return asIs("", c.Calendar.ID)
		}
		p.Calendars[i] = *c.Calendar
	default:
		return &Finding{Text: "is no change", Allowed: list(ChangeKinds())}
	}
	return nil
}

// nothing is the finding of a change that names nothing.
func nothing(field, what, name string, names []string) *Finding {
	return &Finding{Field: field, Text: "names no " + what + " of the plant", Found: name, Allowed: list(names), Hint: hint(name, names)}
}

const changesNothing = "is so already: the change changes nothing"

// asIs is the finding of a change that changes nothing.
func asIs(field string, found any) *Finding {
	return &Finding{Field: field, Text: changesNothing, Found: fmt.Sprint(found), Hint: "take it out, or give another value"}
}

func sameRecipe(was, is *Recipe) bool {
	return was.Name == is.Name && was.Group == is.Group && was.StartC == is.StartC && was.CoolRate == is.CoolRate && was.OpenC == is.OpenC &&
		was.Tolerance == is.Tolerance && was.Fixed == is.Fixed && slices.Equal(was.Steps, is.Steps)
}

// sameCalendar tells whether a calendar to which exceptions may have been added
// is open as it was: each was there before.
func sameCalendar(was, is *Calendar) bool {
	same := func(a, b Shift) bool {
		return slices.Equal(a.Days, b.Days) && a.Start == b.Start && a.End == b.End && slices.Equal(a.Breaks, b.Breaks)
	}
	return slices.EqualFunc(was.Shifts, is.Shifts, same) && !slices.ContainsFunc(is.Exceptions, func(e Exception) bool { return !slices.Contains(was.Exceptions, e) })
}

func idsOf[T any](list []T, id func(*T) string) []string {
	names := make([]string, len(list))
	for i := range list {
		names[i] = id(&list[i])
	}
	return names
}

func stationIDs(p *Plant) []string {
	return idsOf(p.Stations, func(s *Station) string { return s.ID })
}

func crewIDs(p *Plant) []string { return idsOf(p.Crews, func(c *Crew) string { return c.ID }) }

func (x *StationChange) apply(p *Plant) *Finding {
	st := p.Station(x.ID)
	if st == nil {
		return nothing(".id", "station", x.ID, stationIDs(p))
	}
	like := p.StationsLike(x.ID)
	switch {
	case x.Places > 0 && st.Batch != nil:
		return &Finding{Field: ".places", Text: "does not go with a station that runs loads", Found: fmt.Sprint(x.Places), Hint: "say how many such stations there are with count:"}
	case x.Count >= 0 && x.Count != len(like), x.Places > 0 && x.Places != st.Places, x.Speed > 0 && x.Speed != st.Speed:
	case x.Places > 0:
		return asIs(".places", x.Places)
	case x.Speed > 0:
		return asIs(".speed", x.Speed)
	default:
		return asIs(".count", len(like))
	}
	if x.Places > 0 {
		st.Places = x.Places
	}
	if x.Speed > 0 {
		st.Speed = x.Speed
	}
	x.recount(p, like)
	return nil
}

// recount has as many stations like it as the change says, given those that
// there are: what was added before is counted, and the last added goes first.
func (x *StationChange) recount(p *Plant, like []string) {
	if x.Count == 0 {
		p.DropStation(x.ID)
		return
	}
	for range x.Count - len(like) {
		p.AddStationLike(x.ID)
	}
	for i := len(like) - 1; x.Count > 0 && len(like) > x.Count && i >= 0; i-- {
		if like[i] != x.ID {
			p.DropStation(like[i])
			like = slices.Delete(like, i, i+1)
		}
	}
}

func (x *CrewChange) apply(p *Plant) *Finding {
	crew := p.Crew(x.ID)
	if crew == nil {
		return nothing(".id", "crew", x.ID, crewIDs(p))
	}
	calendars := idsOf(crew.Shifts, func(s *CrewShift) string { return s.Calendar })
	if x.Calendar == "" && len(calendars) != 1 {
		return &Finding{Field: ".calendar", Text: "is missing: the crew works several calendars", Allowed: list(calendars)}
	}
	i := 0
	if x.Calendar != "" {
		i = slices.Index(calendars, x.Calendar)
	}
	switch {
	case i >= 0 && crew.Shifts[i].Heads == x.Heads:
		return asIs(".heads", x.Heads)
	case i >= 0:
		crew.Shifts = slices.Clone(crew.Shifts)
		crew.Shifts[i].Heads = x.Heads
	case p.Calendar(x.Calendar) == nil:
		names := idsOf(p.Calendars, func(c *Calendar) string { return c.ID })
		return nothing(".calendar", "calendar", x.Calendar, names)
	default:
		crew.Shifts = append(slices.Clone(crew.Shifts), CrewShift{Calendar: x.Calendar, Heads: x.Heads})
	}
	return nil
}

func (x *ToolChange) apply(p *Plant) *Finding {
	t := p.Tool(x.ID)
	if t == nil {
		return nothing(".id", "tool", x.ID, idsOf(p.Tools, func(t *Tool) string { return t.ID }))
	}
	if len(t.Units) == x.Count {
		return asIs(".count", x.Count)
	}
	p.SetUnits(x.ID, x.Count)
	return nil
}

// apply plans a stop that is yet to come.
func (x *DownChange) apply(p *Plant, now Tick) *Finding {
	st := p.Station(x.Station)
	if st == nil {
		return nothing(".station", "station", x.Station, stationIDs(p))
	}
	span := x.Span(now)
	st.Stops = append(slices.Clone(st.Stops), Exception{Open: true, Start: span.Start, Long: Seconds(span.End - span.Start), Why: or(x.Why, "stop")})
	return nil
}

func or(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

func (x *ShiftChange) apply(p *Plant) *Finding {
	mark := "extra-" + wallOf(p.Zone, x.Start).time().Format("2006-01-02")
	open := Exception{Open: true, Start: x.Start, Long: Seconds(x.End - x.Start), Why: "extra shift"}
	stations := x.Stations
	for i, id := range x.Crews {
		crew := p.Crew(id)
		if crew == nil {
			return nothing(fmt.Sprintf(".crews[%d]", i), "crew", id, crewIDs(p))
		}
		heads := x.Heads
		if heads == 0 && len(crew.Shifts) > 0 {
			heads = crew.Shifts[0].Heads
		}
		if heads == 0 {
			return &Finding{Field: ".heads", Text: "is missing: the crew has no shift whose people could work", Found: id}
		}
		if x.Stations == nil {
			stations = append(stations, p.StationsWanting(id)...)
		}
		p.OpenCrew(id, Calendar{ID: p.freeCalendar(id + "-" + mark), Exceptions: []Exception{open}}, heads)
	}
	slices.Sort(stations)
	for i, id := range slices.Compact(stations) {
		if p.Station(id) == nil {
			return nothing(fmt.Sprintf(".stations[%d]", i), "station", id, stationIDs(p))
		}
		p.OpenStation(id, mark, func(c *Calendar) { c.Exceptions = append(c.Exceptions, open) })
	}
	return nil
}

// matching calls visit for every operation meant, and says what is not there.
func (x *FactorChange) matching(p *Plant, visit func(*Product, *Operation)) *Finding {
	if x.Product != "" && p.Product(x.Product) == nil {
		return nothing(".product", "product", x.Product, idsOf(p.Products, func(t *Product) string { return t.ID }))
	}
	if x.Station != "" && p.Station(x.Station) == nil {
		return nothing(".station", "station", x.Station, stationIDs(p))
	}
	var names []string
	found := false
	for i := range p.Products {
		product := &p.Products[i]
		if x.Product != "" && product.ID != x.Product {
			continue
		}
		for k := range product.Routing {
			op := &product.Routing[k]
			if !slices.Contains(names, op.ID) {
				names = append(names, op.ID)
			}
			if x.Operation == "" || op.ID == x.Operation {
				found = true
				visit(product, op)
			}
		}
	}
	if !found {
		return nothing(".operation", "operation", x.Operation, names)
	}
	return nil
}

func (x *FactorChange) duration(p *Plant) *Finding {
	if x.Factor == 1 {
		return asIs(".factor", 1)
	}
	changed := false
	f := x.matching(p, func(_ *Product, op *Operation) {
		changed = p.StretchRun(op, x.Station, x.Factor) || changed
	})
	if f == nil && !changed {
		f = &Finding{Text: "names no run that could be longer or shorter: the station does not do the operation, or its recipe says how long it takes", Hint: "a cure's length is changed with recipe:"}
	}
	return f
}

// yield changes the share of an operation, or without one the share of pieces
// started by which the shop decides how many to start.
func (x *FactorChange) yield(p *Plant) *Finding {
	if x.Factor == 1 {
		return asIs(".factor", 1)
	}
	above := 0.0
	scaled := func(share float64) float64 {
		above = max(above, share*x.Factor)
		return share * x.Factor
	}
	done := map[string]bool{}
	f := x.matching(p, func(product *Product, op *Operation) {
		switch {
		case x.Operation != "":
			if op.Yield == 0 {
				op.Yield = 1
			}
			op.Yield = scaled(op.Yield)
			done[product.ID] = true
		case product.Starts != nil && !done[product.ID]:
			rule := *product.Starts
			rule.Yield = scaled(rule.Yield)
			product.Starts = &rule
			done[product.ID] = true
		}
	})
	switch {
	case f != nil:
		return f
	case len(done) == 0:
		return &Finding{Field: ".operation", Text: "is missing: no such product says by which yield pieces are started", Hint: "name the operation whose yield changes"}
	case above > 1:
		return &Finding{Field: ".factor", Text: "makes a yield of more than 100 %", Found: fmt.Sprint(x.Factor)}
	}
	return nil
}
