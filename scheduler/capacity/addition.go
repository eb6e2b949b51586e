// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"towpath/resources"
	"towpath/scheduler"
)

// Addition is one more of a thing.
type Addition struct {
	Key  string  `json:"key" doc:"what is added, e.g. tool:M-36, person:bonders, shift:bonders, station:O1"`
	Kind string  `json:"kind" doc:"a tool's kind (mandrel, fixture), person, shift, or the station's kind (oven, winder)"`
	Name string  `json:"name" doc:"in words"`
	Peak float64 `json:"peak" doc:"greatest load ratio of the row it relieves"`

	change func(*resources.Plant)
}

// Additions lists one more of everything: a unit of each tool pool, a person
// in each crew, a Saturday shift for each crew, a station like each, or a place
// more where there are several. Those that relieve the most loaded come first.
func Additions(plant *resources.Plant, r *Report) []Addition {
	var out []Addition
	peak := func(kind Kind, id string) float64 {
		if row := r.Row(string(kind) + ":" + id); row != nil {
			return row.Peak
		}
		return 0
	}
	for i := range plant.Tools {
		tool := &plant.Tools[i]
		kind := cmp.Or(tool.Kind, "tool")
		out = append(out, Addition{
			Key: "tool:" + tool.ID, Kind: kind, Name: fmt.Sprintf("one more %s %s", kind, tool.ID), Peak: peak(Tool, tool.ID),
			change: func(p *resources.Plant) { oneMoreUnit(p, i) },
		})
	}
	for i := range plant.Crews {
		crew := &plant.Crews[i]
		if len(crew.Shifts) == 0 {
			continue
		}
		name := cmp.Or(crew.Name, crew.ID)
		out = append(out, Addition{
			Key: "person:" + crew.ID, Kind: "person", Name: fmt.Sprintf("one more person: %s, calendar %s", name, cmp.Or(crew.Shifts[0].Calendar, "always")), Peak: peak(Crew, crew.ID),
			change: func(p *resources.Plant) { p.Crews[i].Shifts[0].Heads++ },
		})
		if _, ok := saturday(plant, crew); ok {
			out = append(out, Addition{
				Key: "shift:" + crew.ID, Kind: "shift", Name: fmt.Sprintf("Saturday shift: %s, with the stations they work on", name), Peak: peak(Crew, crew.ID),
				change: func(p *resources.Plant) { oneMoreShift(p, i) },
			})
		}
	}
	for i := range plant.Stations {
		st := &plant.Stations[i]
		kind := cmp.Or(st.Kind, "station")
		a := Addition{
			Key: "station:" + st.ID, Kind: kind, Name: fmt.Sprintf("one more %s like %s", kind, st.ID), Peak: peak(Station, st.ID),
			change: func(p *resources.Plant) { oneMoreStation(p, i) },
		}
		if placesOf(st) > 1 {
			a.Name = fmt.Sprintf("one more place at %s", st.ID)
			a.change = func(p *resources.Plant) { p.Stations[i].Places++ }
		}
		out = append(out, a)
	}
	slices.SortStableFunc(out, func(a, b Addition) int { return cmp.Compare(b.Peak, a.Peak) })
	return out
}

// Apply is the plant with the addition; the plant given stays as it is.
func (a *Addition) Apply(plant *resources.Plant) *resources.Plant {
	p := *plant
	p.Calendars = slices.Clone(plant.Calendars)
	p.Stations = slices.Clone(plant.Stations)
	p.Crews = slices.Clone(plant.Crews)
	for i := range p.Crews {
		p.Crews[i].Shifts = slices.Clone(p.Crews[i].Shifts)
	}
	p.Tools = slices.Clone(plant.Tools)
	p.Products = slices.Clone(plant.Products)
	for i := range p.Products {
		p.Products[i].Routing = slices.Clone(p.Products[i].Routing)
	}
	a.change(&p)
	return &p
}

func oneMoreUnit(p *resources.Plant, i int) {
	tool := &p.Tools[i]
	mark := tool.ID + "-more"
	for p.ToolOfUnit(mark) != nil {
		mark += "-more"
	}
	tool.Units = append(slices.Clone(tool.Units), mark)
}

func oneMoreStation(p *resources.Plant, i int) {
	st := p.Stations[i]
	old := st.ID
	st.ID += "-more"
	for p.Station(st.ID) != nil {
		st.ID += "-more"
	}
	p.Stations = append(p.Stations, st)
	for k := range p.Products {
		for j := range p.Products[k].Routing {
			op := &p.Products[k].Routing[j]
			if !slices.Contains(op.Stations, old) {
				continue
			}
			op.Stations = append(slices.Clone(op.Stations), st.ID)
			if d, ok := op.RunAt[old]; ok {
				op.RunAt = maps.Clone(op.RunAt)
				op.RunAt[st.ID] = d
			}
		}
	}
}

// saturday is a crew's ordinary shift moved to Saturday; false when it works
// then already, or has no shift to move.
func saturday(p *resources.Plant, crew *resources.Crew) (resources.Calendar, bool) {
	c := p.Calendar(crew.Shifts[0].Calendar)
	if c == nil || len(c.Shifts) == 0 {
		return resources.Calendar{}, false
	}
	for _, shift := range crew.Shifts {
		if other := p.Calendar(shift.Calendar); other != nil {
			for _, s := range other.Shifts {
				if slices.Contains(s.Days, time.Saturday) {
					return resources.Calendar{}, false
				}
			}
		}
	}
	s := c.Shifts[0]
	s.Days = []time.Weekday{time.Saturday}
	closed := slices.DeleteFunc(slices.Clone(c.Exceptions), func(e resources.Exception) bool { return e.Open })
	return resources.Calendar{ID: "saturday-" + crew.ID, Shifts: []resources.Shift{s}, Exceptions: closed}, true
}

// oneMoreShift has a crew, and the stations that want its skills, work on
// Saturdays.
func oneMoreShift(p *resources.Plant, i int) {
	crew := &p.Crews[i]
	day, _ := saturday(p, crew)
	p.Calendars = append(p.Calendars, day)
	crew.Shifts = append(crew.Shifts, resources.CrewShift{Calendar: day.ID, Heads: crew.Shifts[0].Heads})
	open := day.Shifts[0]
	open.Breaks = nil
	for k := range p.Stations {
		st := &p.Stations[k]
		c := p.Calendar(st.Calendar)
		if c == nil || !wants(p, st, crew) {
			continue
		}
		more := *c
		more.ID = c.ID + "-saturday-" + st.ID
		more.Shifts = append(slices.Clone(c.Shifts), open)
		p.Calendars = append(p.Calendars, more)
		st.Calendar = more.ID
	}
}

// wants tells whether work at a station needs a skill of the crew.
func wants(p *resources.Plant, st *resources.Station, crew *resources.Crew) bool {
	if crew.HasSkill(st.SetupSkill) {
		return true
	}
	for i := range p.Resins {
		if p.Resins[i].Station == st.ID && crew.HasSkill(p.Resins[i].Skill) {
			return true
		}
	}
	for i := range p.Products {
		for j := range p.Products[i].Routing {
			op := &p.Products[i].Routing[j]
			if !slices.Contains(op.Stations, st.ID) {
				continue
			}
			for _, need := range op.Needs {
				if crew.HasSkill(need.Skill) {
					return true
				}
			}
		}
	}
	return false
}

// onPlant is a state as if the plant were another with more in it.
func onPlant(s *scheduler.State, p *resources.Plant) *scheduler.State {
	out := s.Clone()
	out.Plant = p
	for i := range p.Stations {
		st := &p.Stations[i]
		old := out.Stations[st.ID]
		switch {
		case old == nil:
			out.Stations[st.ID] = &scheduler.StationState{On: make([]scheduler.Member, max(1, st.Places)), Setup: maps.Clone(st.Initial)}
		case len(old.On) < st.Places:
			wider := *old
			wider.On = append(slices.Clone(old.On), make([]scheduler.Member, st.Places-len(old.On))...)
			out.Stations[st.ID] = &wider
		}
	}
	for i := range p.Tools {
		for _, mark := range p.Tools[i].Units {
			if out.Tools[mark] == nil {
				out.Tools[mark] = &scheduler.ToolState{Pool: p.Tools[i].ID}
			}
		}
	}
	return out
}

// Named finds an addition by its key, in any case.
func Named(list []Addition, key string) (Addition, bool) {
	i := slices.IndexFunc(list, func(a Addition) bool { return strings.EqualFold(a.Key, strings.TrimSpace(key)) })
	if i < 0 {
		return Addition{}, false
	}
	return list[i], true
}
