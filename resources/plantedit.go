// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"maps"
	"math"
	"slices"
)

// Copy is a plant whose lists may be edited without touching the plant given:
// calendars, stations, crews with their shifts, tools, recipes, materials and
// products with their routings. What lies deeper (maps, lists of an operation)
// is shared; the editing methods below put changed copies in place.
func (p *Plant) Copy() *Plant {
	q := *p
	q.Calendars = slices.Clone(p.Calendars)
	q.Stations = slices.Clone(p.Stations)
	q.Crews = slices.Clone(p.Crews)
	for i := range q.Crews {
		q.Crews[i].Shifts = slices.Clone(q.Crews[i].Shifts)
	}
	q.Tools = slices.Clone(p.Tools)
	q.Recipes = slices.Clone(p.Recipes)
	q.Materials = slices.Clone(p.Materials)
	q.Products = slices.Clone(p.Products)
	for i := range q.Products {
		q.Products[i].Routing = slices.Clone(q.Products[i].Routing)
	}
	return &q
}

// SetUnits has so many units in a pool: those at its end go first, new ones get
// marks of their own.
func (p *Plant) SetUnits(tool string, count int) {
	t := p.Tool(tool)
	t.Units = slices.Clone(t.Units)
	for len(t.Units) > count {
		t.Units = t.Units[:len(t.Units)-1]
	}
	taken := map[string]bool{}
	for i := range p.Tools {
		for _, mark := range p.Tools[i].Units {
			taken[mark] = true
		}
	}
	for n := len(t.Units) + 1; len(t.Units) < count; n++ {
		if mark := fmt.Sprintf("%s-%d", t.ID, n); !taken[mark] {
			t.Units = append(t.Units, mark)
		}
	}
}

// AddStationLike adds a station that does what another does, and says its ID.
func (p *Plant) AddStationLike(id string) string {
	st := *p.Station(id)
	st.Like = or(st.Like, id)
	for n := 2; p.Station(st.ID) != nil; n++ {
		st.ID = fmt.Sprintf("%s-%d", id, n)
	}
	if st.Name != "" {
		st.Name += ", one more"
	}
	p.Stations = append(p.Stations, st)
	p.eachOperation(func(op *Operation) {
		if !slices.Contains(op.Stations, id) {
			return
		}
		op.Stations = append(slices.Clone(op.Stations), st.ID)
		if d, ok := op.RunAt[id]; ok {
			op.RunAt = maps.Clone(op.RunAt)
			op.RunAt[st.ID] = d
		}
	})
	return st.ID
}

// StationsLike lists a station and those that AddStationLike made of it, or of
// what it was made of itself, in their order.
func (p *Plant) StationsLike(id string) []string {
	first := or(p.Station(id).Like, id)
	var list []string
	for i := range p.Stations {
		if st := &p.Stations[i]; st.ID == first || st.Like == first {
			list = append(list, st.ID)
		}
	}
	return list
}

// DropStation takes a station out of the plant and of every routing.
func (p *Plant) DropStation(id string) {
	p.Stations = slices.DeleteFunc(p.Stations, func(s Station) bool { return s.ID == id })
	p.eachOperation(func(op *Operation) {
		if slices.Contains(op.Stations, id) {
			op.Stations = slices.DeleteFunc(slices.Clone(op.Stations), func(s string) bool { return s == id })
		}
		if _, ok := op.RunAt[id]; ok {
			op.RunAt = maps.Clone(op.RunAt)
			delete(op.RunAt, id)
		}
	})
}

func (p *Plant) eachOperation(visit func(*Operation)) {
	for i := range p.Products {
		for j := range p.Products[i].Routing {
			visit(&p.Products[i].Routing[j])
		}
	}
}

// OpenCrew has people of a crew work what a calendar says, beside their shifts.
func (p *Plant) OpenCrew(crew string, c Calendar, heads int) {
	if p.Calendar(c.ID) == nil {
		p.Calendars = append(p.Calendars, c)
	}
	k := p.Crew(crew)
	k.Shifts = append(slices.Clone(k.Shifts), CrewShift{Calendar: c.ID, Heads: heads})
}

// OpenStation opens a station at more times, as edit adds them to a calendar
// like its own. A station without a calendar is always open.
func (p *Plant) OpenStation(station, mark string, edit func(*Calendar)) {
	st := p.Station(station)
	c := p.Calendar(st.Calendar)
	if c == nil {
		return
	}
	more := *c
	more.ID = p.freeCalendar(st.ID + "-" + mark)
	more.Shifts, more.Exceptions = slices.Clone(c.Shifts), slices.Clone(c.Exceptions)
	edit(&more)
	p.Calendars = append(p.Calendars, more)
	st.Calendar = more.ID
}

func (p *Plant) freeCalendar(id string) string {
	name := id
	for n := 2; p.Calendar(name) != nil; n++ {
		name = fmt.Sprintf("%s-%d", id, n)
	}
	return name
}

// StationsWanting lists the stations where work needs a skill of the crew, in
// the order of the file.
func (p *Plant) StationsWanting(crew string) []string {
	c := p.Crew(crew)
	wanting := map[string]bool{}
	for i := range p.Resins {
		if c.HasSkill(p.Resins[i].Skill) {
			wanting[p.Resins[i].Station] = true
		}
	}
	p.eachOperation(func(op *Operation) {
		if slices.ContainsFunc(op.Needs, func(n Need) bool { return c.HasSkill(n.Skill) }) {
			for _, st := range op.Stations {
				wanting[st] = true
			}
		}
	})
	var list []string
	for i := range p.Stations {
		if st := &p.Stations[i]; wanting[st.ID] || c.HasSkill(st.SetupSkill) {
			list = append(list, st.ID)
		}
	}
	return list
}

// StretchRun multiplies how long the run of an operation takes, on one station
// or, where that is empty, on all. False where a cure recipe says how long it
// takes, or the station does not do it.
func (p *Plant) StretchRun(op *Operation, station string, factor float64) bool {
	if op.Recipe != "" && len(op.RunAt) == 0 {
		return false
	}
	times := func(d Seconds) Seconds { return Seconds(math.Ceil(float64(d)*factor - 1e-6)) }
	if station != "" {
		if !slices.Contains(op.Stations, station) || op.Recipe != "" {
			return false
		}
		took := p.RunTime(op, p.Station(station))
		at := make(map[string]Seconds, len(op.RunAt)+1)
		maps.Copy(at, op.RunAt)
		at[station] = times(took)
		op.RunAt = at
		return true
	}
	op.Run = times(op.Run)
	if len(op.RunAt) > 0 {
		at := make(map[string]Seconds, len(op.RunAt))
		for id, d := range op.RunAt {
			at[id] = times(d)
		}
		op.RunAt = at
	}
	return true
}
