// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"towpath/resources"
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
			change: func(p *resources.Plant) { p.SetUnits(tool.ID, len(tool.Units)+1) },
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
			change: func(p *resources.Plant) { p.AddStationLike(st.ID) },
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
	p := plant.Copy()
	a.change(p)
	return p
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
	wanting := p.StationsWanting(crew.ID)
	p.OpenCrew(crew.ID, day, crew.Shifts[0].Heads)
	open := day.Shifts[0]
	open.Breaks = nil
	for _, st := range wanting {
		p.OpenStation(st, "saturday", func(c *resources.Calendar) { c.Shifts = append(c.Shifts, open) })
	}
}

// Named finds an addition by its key, in any case.
func Named(list []Addition, key string) (Addition, bool) {
	i := slices.IndexFunc(list, func(a Addition) bool { return strings.EqualFold(a.Key, strings.TrimSpace(key)) })
	if i < 0 {
		return Addition{}, false
	}
	return list[i], true
}
