// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"

	"towpath/events"
	"towpath/resources"
)

// shiftOf refuses a crew that the plant has not, or a calendar none of its
// shifts works by; "" is any.
func (t *change) shiftOf(id, calendar string) *Refusal {
	crew := t.plant.Crew(id)
	if crew == nil {
		return refuse(RefusedUnknown, "crew "+id, "check the name", "the plant has no such crew")
	}
	if calendar != "" && crew.HeadsBy(calendar) == 0 {
		return refuse(RefusedUnknown, "crew "+id, "leave the calendar out, or name that of one of its shifts", "nobody of it works by calendar %q", calendar)
	}
	return nil
}

func (t *change) crewAbsent(d events.AbsentData) *Refusal {
	if r := t.shiftOf(d.Crew, d.Calendar); r != nil {
		return r
	}
	about, crew := "crew "+d.Crew, t.plant.Crew(d.Crew)
	a := &Absence{Crew: d.Crew, People: d.People, Calendar: d.Calendar, From: cmp.Or(d.From, t.e.At), Until: d.Until, Why: d.Why, By: t.e.By}
	heads, of := crew.Heads(), "it"
	if d.Calendar != "" {
		heads, of = crew.HeadsBy(d.Calendar), "its shift "+d.Calendar
	}
	if a.People < 1 || a.People > heads {
		return refuse(RefusedMalformed, about, "count those of it who are away", "%d of %s are away, and it has %d", a.People, of, heads)
	}
	if a.Until != 0 && a.Until <= a.From || a.Until > lastInstant || a.From > lastInstant {
		return refuse(RefusedMalformed, about, "leave it out if nobody knows", "they are expected back before they go")
	}
	key := t.e.ID
	if d.Absence != "" {
		was := t.absences.look(d.Absence)
		if was == nil || was.Crew != d.Crew {
			return t.notAway(d.Crew, d.Absence)
		}
		if d.From == 0 {
			a.From = min(was.From, a.From)
		}
		key = d.Absence
	}
	for _, id := range sortedKeys(t.s.Absences) {
		if was := t.s.Absences[id]; was.sameAs(a, t.e.At) {
			return refuse(RefusedAlready, about, "nothing to do; where others are away too, say so in the reason", "%d of it are reported away already, since %s%s", was.People, t.s.clock(was.From), because(was.Why))
		}
	}
	t.forgetOver(d.Crew)
	t.absences.put(key, a)
	if by := crew.Calendars(); d.Calendar == "" && len(by) > 1 {
		t.note(about, "counted as away from whichever shift is at work: %s; name the calendar if they belong to one", list(by))
	}
	return nil
}

// sameAs tells whether two reports, the second told at an instant, speak of
// the same people, as far as anybody can see.
func (a *Absence) sameAs(b *Absence, told Tick) bool {
	begun := a.From <= told && b.From <= told && !a.Over(told)
	return a.Crew == b.Crew && a.People == b.People && a.Calendar == b.Calendar && a.Until == b.Until && a.Why == b.Why && (a.From == b.From || begun)
}

// notAway refuses a report about people who are not reported away.
func (t *change) notAway(crew, absence string) *Refusal {
	about := "crew " + crew
	if by, ok := t.s.voided[absence]; ok {
		return refuse(RefusedAlready, about, "nothing to do", "the report that they are away, %s, is voided by %s", absence, by)
	}
	if absence != "" {
		return refuse(RefusedAlready, about, "nothing to do; check the id if they are", "nobody of it is away by report %s", absence)
	}
	return refuse(RefusedAlready, about, "nothing to do", "nobody of it is reported away")
}

func (t *change) crewPresent(d events.PresentData) *Refusal {
	if r := t.shiftOf(d.Crew, ""); r != nil {
		return r
	}
	found := false
	for _, id := range sortedKeys(t.s.Absences) {
		a := t.s.Absences[id]
		if a.Crew != d.Crew || a.Over(t.e.At) {
			continue
		}
		if d.Absence == id || d.Absence == "" && a.From <= t.e.At {
			t.absences.drop(id)
			found = true
		}
	}
	if !found {
		return t.notAway(d.Crew, d.Absence)
	}
	t.forgetOver(d.Crew)
	return nil
}

// forgetOver drops what is known of people of a crew who were expected back
// long ago: nothing asks for it any more.
func (t *change) forgetOver(crew string) {
	for _, id := range sortedKeys(t.s.Absences) {
		if a := t.s.Absences[id]; a.Crew == crew && a.Over(t.e.At-Tick(resources.Day)) {
			t.absences.drop(id)
		}
	}
}
