// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
)

// AbsentChange has people of a crew be away for a time. From 0 is now; To 0 is
// From and For. It is no change of the plant: it is reported, also when it is yet
// to come.
type AbsentChange struct {
	Crew     string
	People   int
	Calendar string // of the shift they belong to; empty: of whichever works
	From     Tick
	To       Tick
	For      Seconds
	Why      string
}

// Span is when they are away, given what time it is.
func (a *AbsentChange) Span(now Tick) Interval { return spanOf(a.From, a.To, a.For, now) }

func (a *AbsentChange) words(at func(Tick) string) string {
	of := a.Crew
	if a.Calendar != "" {
		of += ", calendar " + a.Calendar + ","
	}
	from, until := "now", "for "+Spell(a.For)
	if a.From != 0 {
		from = at(a.From)
	}
	if a.To != 0 {
		until = "until " + at(a.To)
	}
	return fmt.Sprintf("%d of %s away from %s %s", a.People, of, from, until)
}

func (r *changesReader) absent(o *object) *AbsentChange {
	o.need("crew")
	a := &AbsentChange{
		Crew: o.text("crew"), People: o.count("people", 1, 1, MostHeads), Calendar: o.text("calendar"),
		From: o.local("from"), To: o.local("to"), For: o.duration("for", 0),
	}
	c := r.cells(o, []string{"why"})
	a.Why = c.text("why", maxNote, "\n\r\t")
	r.told(o, c)
	if r.keys != nil {
		return a
	}
	r.lasts(o, a.To, a.For, a.Span(r.now), "change how many of them there are with crew: {id: …, heads: …}")
	r.known(o, "crew", a.Crew, crewIDs(r.plant))
	return a
}

// check says what is wrong with people being away from a crew of the plant as it
// will be.
func (a *AbsentChange) check(p *Plant) *Finding {
	crew := p.Crew(a.Crew)
	if crew == nil {
		return nothing(".crew", "crew", a.Crew, crewIDs(p))
	}
	heads, of := crew.Heads(), "the crew has"
	if a.Calendar != "" {
		if heads = crew.HeadsBy(a.Calendar); heads == 0 {
			calendars := slices.DeleteFunc(crew.Calendars(), func(id string) bool { return id == "" || crew.HeadsBy(id) == 0 })
			return &Finding{Field: ".calendar", Text: "is none that people of the crew work by", Found: a.Calendar, Allowed: list(calendars), Hint: hint(a.Calendar, calendars)}
		}
		of = "work by that calendar"
	}
	switch {
	case heads == 0:
		return &Finding{Field: ".crew", Text: "has nobody who could be away", Found: a.Crew}
	case a.People < 1:
		return &Finding{Field: ".people", Text: "are none", Found: fmt.Sprint(a.People), Allowed: fmt.Sprintf("a whole number from 1 to %d", heads)}
	case a.People > heads:
		return &Finding{Field: ".people", Text: "are more than " + of, Found: fmt.Sprint(a.People), Allowed: fmt.Sprintf("a whole number from 1 to %d", heads)}
	}
	return nil
}
