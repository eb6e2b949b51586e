// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"towpath/resources"
	"towpath/scheduler"
)

// Days that the people page shows, and how far it looks for the next shift.
const (
	peopleDays  = 7
	peopleAhead = 28 * resources.Day
)

// People is every crew, with who of it is on shift and who is away.
type People struct {
	Days  []resources.Tick `json:"days" doc:"beginnings of the days that each crew has, today first"`
	There int              `json:"there" doc:"people on shift now, less those who are away"`
	Of    int              `json:"of" doc:"people whom the shifts have on now"`
	Away  int              `json:"away" doc:"people reported away now, on shift or not"`
	Later int              `json:"later" doc:"people reported away later on"`
	Crews []CrewSheet      `json:"crews" doc:"in the order of the plant file"`
}

// CrewSheet is one crew. Breaks do not count as being off shift.
type CrewSheet struct {
	ID       string         `json:"id" doc:"crew's ID"`
	Name     string         `json:"name" doc:"crew's name"`
	Skills   []string       `json:"skills" doc:"what everybody of it can do"`
	Heads    int            `json:"heads" doc:"people in all its shifts"`
	There    int            `json:"there" doc:"people on shift now, less those who are away"`
	Of       int            `json:"of" doc:"people whom its shifts have on now"`
	Until    resources.Tick `json:"until" doc:"when one of the two changes; empty: not within four weeks"`
	Next     resources.Tick `json:"next" doc:"when its shifts have somebody on, while they have nobody; empty: somebody now, or nobody within four weeks"`
	Days     []CrewDay      `json:"days" doc:"today from now on, then whole days"`
	Absences []CrewAbsence  `json:"absences" doc:"what is reported and not over, the first to go first"`
	Report   Action         `json:"report" doc:"how somebody is reported away"`
}

// CrewDay is a crew on one day.
type CrewDay struct {
	Day   resources.Tick `json:"day" doc:"its beginning"`
	Hours []CrewHours    `json:"hours" doc:"stretches on which its shifts have somebody on; empty: none"`
}

// CrewHours is a stretch of time on which as many people are there all along.
type CrewHours struct {
	From  resources.Tick `json:"from" doc:"begin"`
	To    resources.Tick `json:"to" doc:"end"`
	There int            `json:"there" doc:"people on shift, less those who are away"`
	Of    int            `json:"of" doc:"people whom the shifts have on"`
}

// CrewAbsence is people of a crew who are or will be away.
type CrewAbsence struct {
	ID      string         `json:"id" doc:"ID of the event that told of it first; a change or the end of it names it"`
	People  int            `json:"people" doc:"how many"`
	Shift   string         `json:"shift" doc:"calendar of the shift they belong to; empty: they are missed from each"`
	From    resources.Tick `json:"from" doc:"begin"`
	Until   resources.Tick `json:"until" doc:"when they are expected back; empty: nobody knows"`
	Counted resources.Tick `json:"counted" doc:"until when the plan counts without them"`
	Away    bool           `json:"away" doc:"true: it has begun"`
	Why     string         `json:"why" doc:"as reported"`
	By      string         `json:"by" doc:"who reported it"`
	Actions []Action       `json:"actions" doc:"what can be reported of it"`
}

// People computes the people page.
func (v *View) People() People {
	p := People{Days: []resources.Tick{v.zone.Midnight(v.zone.Now)}, Crews: []CrewSheet{}}
	for len(p.Days) < peopleDays {
		p.Days = append(p.Days, v.zone.NextMidnight(p.Days[len(p.Days)-1]))
	}
	shifts := v.shifts()
	for i := range v.plant.Crews {
		c := v.crewSheet(&v.plant.Crews[i], p.Days, shifts)
		p.There, p.Of = p.There+c.There, p.Of+c.Of
		for _, a := range c.Absences {
			if a.Away {
				p.Away += a.People
			} else {
				p.Later += a.People
			}
		}
		p.Crews = append(p.Crews, c)
	}
	return p
}

func (v *View) crewSheet(crew *resources.Crew, days []resources.Tick, shifts opening) CrewSheet {
	c := CrewSheet{ID: crew.ID, Name: crewName(crew), Skills: []string{}, Heads: crew.Heads(), Days: []CrewDay{}}
	for _, skill := range crew.Skills {
		c.Skills = append(c.Skills, strings.ReplaceAll(skill, "_", " "))
	}
	hours := v.crewHours(crew, shifts)
	c.There, c.Of = hours[0].There, hours[0].Of
	if len(hours) > 1 {
		c.Until = hours[0].To
	}
	if i := slices.IndexFunc(hours, func(h CrewHours) bool { return h.Of > 0 }); i > 0 {
		c.Next = hours[i].From
	}
	for _, day := range days {
		c.Days = append(c.Days, v.crewDay(day, hours))
	}
	c.Absences = v.absences(crew, hours)
	c.Report = v.awayAction(crew, hours, v.shiftNow(crew, shifts))
	return c
}

func crewName(c *resources.Crew) string { return cmp.Or(c.Name, c.ID) }

// opening says when a calendar is open from now on.
type opening func(calendar string) ([]resources.Interval, error)

// shifts lays out calendars without their breaks: who has a break is on shift.
func (v *View) shifts() opening {
	known := map[string][]resources.Interval{}
	return func(id string) ([]resources.Interval, error) {
		if open, ok := known[id]; ok {
			return open, nil
		}
		var whole *resources.Calendar
		if calendar := v.plant.Calendar(id); calendar != nil {
			c := *calendar
			c.Shifts = slices.Clone(c.Shifts)
			for i := range c.Shifts {
				c.Shifts[i].Breaks = nil
			}
			whole = &c
		}
		open, err := whole.Windows(v.plant.Zone, v.zone.Now, v.zone.Now+resources.Tick(peopleAhead))
		known[id] = open
		return open, err
	}
}

// crewHours is who is on shift from now on, stretch by stretch, also those with
// nobody. A calendar that cannot be laid out, which no plant that was read has,
// has nobody on.
func (v *View) crewHours(crew *resources.Crew, shifts opening) []CrewHours {
	to := v.zone.Now + resources.Tick(peopleAhead)
	nobody := []scheduler.CapStep{{At: v.zone.Now}}
	there, err := v.Picture.State.Roster(crew, v.zone.Now, to, shifts)
	if err != nil {
		there = nobody
	}
	of, err := (&scheduler.State{}).Roster(crew, v.zone.Now, to, shifts)
	if err != nil {
		of = nobody
	}
	out := []CrewHours{}
	for at := v.zone.Now; at < to; at = out[len(out)-1].To {
		h := CrewHours{From: at, To: to, There: int(there[0].Cap / 1000), Of: int(of[0].Cap / 1000)}
		for _, steps := range []*[]scheduler.CapStep{&there, &of} {
			if len(*steps) > 1 {
				h.To = min(h.To, (*steps)[1].At)
			}
		}
		for _, steps := range []*[]scheduler.CapStep{&there, &of} {
			if len(*steps) > 1 && (*steps)[1].At == h.To {
				*steps = (*steps)[1:]
			}
		}
		out = append(out, h)
	}
	return out
}

// crewDay is what lies of a crew's hours in one day.
func (v *View) crewDay(day resources.Tick, hours []CrewHours) CrewDay {
	d, end := CrewDay{Day: day, Hours: []CrewHours{}}, v.zone.NextMidnight(day)
	for _, h := range hours {
		h.From, h.To = max(h.From, day), min(h.To, end)
		if h.From < h.To && h.Of > 0 {
			d.Hours = append(d.Hours, h)
		}
	}
	return d
}

// reported lists the reports of people of a crew being away that are not over, by
// the IDs of their events, the first to go first.
func (v *View) reported(crew string) []string {
	all := v.Picture.State.Absences
	var ids []string
	for id, a := range all {
		if a.Crew == crew && !a.Over(v.zone.Now) {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, func(a, b string) int {
		return cmp.Or(cmp.Compare(all[a].From, all[b].From), strings.Compare(a, b))
	})
	return ids
}

// absences says what is reported of a crew and not over, and what can be done
// about it.
func (v *View) absences(crew *resources.Crew, hours []CrewHours) []CrewAbsence {
	out := []CrewAbsence{}
	for _, id := range v.reported(crew.ID) {
		a := v.Picture.State.Absences[id]
		out = append(out, CrewAbsence{
			ID: id, People: a.People, Shift: a.Calendar, From: a.From, Until: a.Until, Counted: a.Counted(v.zone.Now),
			Away: a.From <= v.zone.Now, Why: a.Why, By: a.By, Actions: v.absenceActions(crew, id, a, hours),
		})
	}
	return out
}

// shiftNow is the calendar of a crew's shift that is on, or else of the next.
func (v *View) shiftNow(crew *resources.Crew, shifts opening) string {
	first, at := "", resources.Tick(0)
	for _, id := range crew.Calendars() {
		if open, err := shifts(id); err == nil && len(open) > 0 && (at == 0 || open[0].Start < at) {
			first, at = id, open[0].Start
		}
	}
	return first
}

// awayAt says of each crew that works at a station who of it is away now.
func (v *View) awayAt(st *resources.Station) []string {
	skills := v.skillsAt(st)
	out := []string{}
	for i := range v.plant.Crews {
		crew := &v.plant.Crews[i]
		if !slices.ContainsFunc(skills, crew.HasSkill) {
			continue
		}
		for _, id := range v.reported(crew.ID) {
			a := v.Picture.State.Absences[id]
			if a.From > v.zone.Now {
				continue
			}
			until := "nobody knows until when"
			if a.Until != 0 {
				until = "until " + v.zone.Time(a.Until)
			}
			out = append(out, crewName(crew)+" "+strconv.Itoa(a.People)+" of "+strconv.Itoa(crew.Heads())+", "+until)
		}
	}
	return out
}

// skillsAt lists the skills that work at a station asks for.
func (v *View) skillsAt(st *resources.Station) []string {
	skills := appendNew(nil, st.SetupSkill)
	for i := range v.plant.Resins {
		if r := &v.plant.Resins[i]; r.Station == st.ID {
			skills = appendNew(skills, r.Skill)
		}
	}
	for i := range v.plant.Products {
		for k := range v.plant.Products[i].Routing {
			op := &v.plant.Products[i].Routing[k]
			if !slices.Contains(op.Stations, st.ID) {
				continue
			}
			for n := range op.Needs {
				skills = appendNew(skills, op.Needs[n].Skill)
			}
		}
	}
	return skills
}

// Hours says a stretch of a day in short, "06–14" or "06:30–24"; from now on it
// is "now–14".
func (c Clock) Hours(h CrewHours) string {
	short := func(t resources.Tick) string {
		text, _ := strings.CutSuffix(c.Hour(t), ":00")
		return text
	}
	from, to := short(h.From), short(h.To)
	if h.From == c.Now {
		from = "now"
	}
	if to == "00" {
		to = "24"
	}
	return from + "–" + to
}

// Weekday is the name of a day and its number, "Thu 14".
func (c Clock) Weekday(t resources.Tick) string { return c.local(t).Format("Mon 2") }

// nextMonday is the beginning of the next week.
func (c Clock) nextMonday() resources.Tick {
	t := c.NextMidnight(c.Now)
	for c.local(t).Weekday() != time.Monday {
		t = c.NextMidnight(t)
	}
	return t
}
