// SPDX-License-Identifier: Apache-2.0

package view

import (
	"strconv"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// awayReasons are as much as the log needs to know.
var awayReasons = []string{"Not in today", "Holiday", "Training", "Works elsewhere"}

// mindAway stands beside what is written of people.
const mindAway = "Write no names and no illnesses: the log keeps this for good."

// awayAction reports people of a crew away, of the shift that is on.
func (v *View) awayAction(crew *resources.Crew, hours []CrewHours, shift string) Action {
	data := events.AbsentData{Crew: crew.ID, People: 1}
	if len(crew.Calendars()) > 1 {
		data.Calendar = shift
	}
	return Action{
		Key: "away", Word: "Report away", Ask: "Who of " + crewName(crew) + " is away?", Detail: []Attribute{}, Reasons: awayReasons, Fields: []Field{},
		Blanks: v.awayBlanks(crew, hours), Mind: mindAway, Reports: []Report{{Kind: events.CrewAbsent, Data: data}},
	}
}

// absenceActions change what is reported, or end it.
func (v *View) absenceActions(crew *resources.Crew, id string, a *scheduler.Absence, hours []CrewHours) []Action {
	who := Heads(a.People) + " of " + crewName(crew)
	back := Action{
		Key: "back", Word: "Back", Ask: "Is " + who + " back?", Detail: []Attribute{{Name: "away since", Value: v.zone.When(a.From)}}, Reasons: []string{}, Fields: []Field{},
		Reports: []Report{{Kind: events.CrewPresent, Data: events.PresentData{Crew: crew.ID, Absence: id}}},
	}
	if a.People > 1 {
		back.Ask = "Are " + who + " back?"
	}
	if a.From > v.zone.Now {
		back.Word, back.Ask = "Stays after all", "Will "+who+" be there after all?"
		back.Detail[0].Name = "away from"
	}
	if a.Why != "" {
		back.Detail = append(back.Detail, Attribute{Name: "why", Value: a.Why})
	}
	change := Action{
		Key: "away", Word: "Change", Ask: "What is right about " + who + "?", Detail: []Attribute{}, Reasons: awayReasons, Fields: []Field{},
		Blanks: v.awayBlanks(crew, hours), Mind: mindAway,
		Reports: []Report{{Kind: events.CrewAbsent, Data: events.AbsentData{
			Crew: crew.ID, People: a.People, Calendar: a.Calendar, From: a.From, Until: a.Until, Why: a.Why, Absence: id,
		}}},
	}
	return []Action{back, change}
}

// awayBlanks asks what the crew leaves open: of one person nobody asks how
// many, and of one shift nobody asks which.
func (v *View) awayBlanks(crew *resources.Crew, hours []CrewHours) []Blank {
	var out []Blank
	if heads := crew.Heads(); heads > 1 {
		out = append(out, Blank{Field: "people", Label: "How many", Type: "number", Most: heads, Usual: []Choice{}})
	}
	if calendars := crew.Calendars(); len(calendars) > 1 {
		b := Blank{Field: "calendar", Label: "Of which shift", Type: "choice", Usual: []Choice{}}
		for _, id := range calendars {
			if id != "" {
				b.Usual = append(b.Usual, Choice{Key: id, Word: id + ", " + Heads(crew.HeadsBy(id))})
			}
		}
		b.Usual = append(b.Usual, Choice{Key: "", Word: "each shift meanwhile"})
		out = append(out, b)
	}
	return append(out,
		Blank{Field: "from", Label: "From", Type: "instant", Empty: "now", Usual: []Choice{}},
		Blank{Field: "until", Label: "Back at", Type: "instant", Empty: "nobody knows", Usual: v.backs(hours)})
}

// Heads writes a number of people: "1 person", "3 people".
func Heads(n int) string {
	if n == 1 {
		return "1 person"
	}
	return strconv.Itoa(n) + " people"
}

// backs are the instants at which people are usually back: when the crew's
// next two days begin, and its next week.
func (v *View) backs(hours []CrewHours) []Choice {
	out := []Choice{}
	week, day := v.zone.nextMonday(), v.zone.Midnight(v.zone.Now)
	for i := 1; i < len(hours); i++ {
		at := hours[i].From
		if hours[i].Of == 0 || hours[i-1].Of > 0 || v.zone.Midnight(at) == day || len(out) >= 2 && at < week {
			continue
		}
		day = v.zone.Midnight(at)
		out = append(out, Choice{Key: v.zone.ISO(at), Word: v.zone.Time(at)})
		if len(out) >= 2 && at >= week {
			break
		}
	}
	return out
}
