// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Input is what capacity is computed from. Nothing in it is changed.
type Input struct {
	State    *scheduler.State
	Now      Tick
	Plan     *scheduler.Plan     // finite plan beside which the numbers are put; nil: none
	Forecast *resources.Forecast // nil: none
	Weeks    int                 // 1 to MaxWeeks; 0: as far as forecast and orders reach
}

// ErrWeeks says that a number of weeks is out of range.
var ErrWeeks = errors.New("weeks are 1 to 52")

// model holds what the parts of a report share.
type model struct {
	in    Input
	plant *resources.Plant
	g     grid
	cal   calendars
	clock clock
	show  evidence
	asked asked
	rests []rest

	hours    []hours // by station
	there    [][]float64
	crewIx   map[string][]int // crews by skill
	skillIx  map[string]int
	skills   []string
	heads    [][]float64 // by crew: hours by week
	works    [][]stationWork
	people   [][]float64     // by skill: hours asked by week
	calls    [][]stationWork // by skill: how often somebody is asked for
	anybody  [][]float64     // by skill: hours in which somebody with it is there
	crewAsk  [][]float64     // by crew: hours shared out
	members  map[memberKey]*average
	recipes  map[string][]Cell
	roundsOf []float64
}

// Of computes a report.
func Of(in Input) (*Report, error) {
	m, r, err := loads(in)
	if err != nil {
		return nil, err
	}
	m.demand(r)
	if r.Dates, err = lastDates(m, r); err != nil {
		return nil, err
	}
	m.figures(r)
	return r, nil
}

// loads computes the rows of a report, and what they come from.
func loads(in Input) (*model, *Report, error) {
	m, err := newModel(in)
	if err != nil {
		return nil, nil, err
	}
	r := NoReport(in.Now)
	r.Weeks = m.g.weeks
	m.work()
	m.crews()
	m.rows(r)
	m.finite(r)
	r.finish()
	return m, r, nil
}

// NoReport is the report of a shop without a plant.
func NoReport(now Tick) *Report {
	return &Report{Now: now, Weeks: []Week{}, Rows: []Row{}, Bottlenecks: []Bottleneck{}, Demand: []Demand{}, Dates: []LastDate{}, Figures: []StationFigures{}}
}

func newModel(in Input) (*model, error) {
	if in.State == nil || in.State.Plant == nil {
		return nil, errors.New("capacity: there is no plant")
	}
	if in.Weeks == 0 {
		in.Weeks = reach(in)
	}
	if in.Weeks < 1 || in.Weeks > MaxWeeks {
		return nil, fmt.Errorf("capacity: %w, not %d", ErrWeeks, in.Weeks)
	}
	m := &model{in: in, plant: in.State.Plant}
	m.g = newGrid(m.plant.Zone, in.Now, in.Weeks)
	// Work due soon after the last week may have to begin in it.
	far := m.g.end + Tick(8*7*resources.Day)
	m.cal = calendars{plant: m.plant, from: in.Now, to: far, windows: map[string][]resources.Interval{}}
	m.clock = clock{
		plant: m.plant, now: in.Now, hours: map[string]*hours{}, routings: map[string]*routing{},
		known: map[timingKey]*timing{}, runs: map[runKey]Seconds{},
	}
	m.hours = make([]hours, len(m.plant.Stations))
	for i := range m.plant.Stations {
		st := &m.plant.Stations[i]
		h, err := m.cal.station(st, in.State.Stations[st.ID])
		if err != nil {
			return nil, fmt.Errorf("capacity: station %s: %w", st.ID, err)
		}
		m.hours[i] = h
		m.clock.hours[st.ID] = &m.hours[i]
	}
	for i := range m.plant.Products {
		m.clock.routings[m.plant.Products[i].ID] = newRouting(&m.plant.Products[i])
	}
	if err := m.layCrews(); err != nil {
		return nil, fmt.Errorf("capacity: %w", err)
	}
	m.show = evidenceOf(m.plant, in.State, in.Plan)
	m.asked = asked{g: &m.g, clock: &m.clock, n: map[askKey]float64{}, holds: map[string][]float64{}}
	m.rests = beyond(in.State, in.Forecast)
	m.asked.orders(in.State, far)
	m.asked.forecast(in.State, m.rests, far)
	return m, nil
}

// reach is how many weeks orders and forecast speak of.
func reach(in Input) int {
	last := in.Now + 1
	for _, line := range in.State.Lines {
		if !line.Cancelled {
			last = max(last, line.Due)
		}
	}
	zone := in.State.Plant.Zone
	if in.Forecast != nil {
		last = max(last, in.Forecast.Last.Next().Start(zone)-1)
	}
	weeks := 1
	for w := resources.WeekOf(zone, in.Now); w.Next().Start(zone) <= last && weeks < MaxWeeks; w = w.Next() {
		weeks++
	}
	return weeks
}

// layCrews lays out who is there, by crew and week.
func (m *model) layCrews() error {
	m.crewIx, m.skillIx = map[string][]int{}, map[string]int{}
	for i := range m.plant.Crews {
		crew := &m.plant.Crews[i]
		sum := make([]float64, len(m.g.weeks))
		steps, err := m.in.State.Roster(crew, m.cal.from, m.cal.to, m.cal.of)
		if err != nil {
			return fmt.Errorf("crew %s: %w", crew.ID, err)
		}
		for k, step := range steps {
			until := m.cal.to
			if k+1 < len(steps) {
				until = steps[k+1].At
			}
			m.g.spread(sum, step.At, until, float64(step.Cap)/1000)
		}
		for w := range sum {
			sum[w] *= 1 - crew.Absence
		}
		m.heads = append(m.heads, sum)
		for _, skill := range crew.Skills {
			if _, known := m.skillIx[skill]; !known {
				m.skillIx[skill] = len(m.skills)
				m.skills = append(m.skills, skill)
			}
			m.crewIx[skill] = append(m.crewIx[skill], i)
		}
	}
	m.people = make([][]float64, len(m.skills))
	m.calls = make([][]stationWork, len(m.skills))
	m.anybody = make([][]float64, len(m.skills))
	for i, skill := range m.skills {
		m.people[i] = make([]float64, len(m.g.weeks))
		m.calls[i] = make([]stationWork, len(m.g.weeks))
		m.anybody[i] = make([]float64, len(m.g.weeks))
		for _, w := range m.present(m.crewIx[skill]) {
			m.g.spread(m.anybody[i], w.Start, w.End, 1)
		}
	}
	return nil
}

// present is when anybody of some crews is there.
func (m *model) present(crews []int) []resources.Interval {
	var all []resources.Interval
	for _, k := range crews {
		for _, shift := range m.plant.Crews[k].Shifts {
			windows, err := m.cal.of(shift.Calendar)
			if err == nil { // it was laid out before
				all = append(all, windows...)
			}
		}
	}
	slices.SortFunc(all, func(a, b resources.Interval) int { return cmp.Compare(a.Start, b.Start) })
	return joined(all)
}

// rows writes asked and there of every resource.
func (m *model) rows(r *Report) {
	weeks := len(m.g.weeks)
	add := func(kind Kind, id, name string, units int) []Cell {
		r.Rows = append(r.Rows, Row{Key: string(kind) + ":" + id, Kind: kind, ID: id, Name: cmp.Or(name, id), Units: units, Cells: make([]Cell, weeks)})
		return r.Rows[len(r.Rows)-1].Cells
	}
	for i := range m.plant.Stations {
		st := &m.plant.Stations[i]
		cells := add(Station, st.ID, st.Name, placesOf(st))
		for w := range cells {
			m.stationCell(i, w, &cells[w])
		}
	}
	for i := range m.plant.Crews {
		crew := &m.plant.Crews[i]
		cells := add(Crew, crew.ID, crew.Name, crew.Heads())
		for w := range cells {
			cells[w].There, cells[w].Asked = m.heads[i][w], m.crewAsk[i][w]
		}
	}
	for i, skill := range m.skills {
		units := 0
		for _, k := range m.crewIx[skill] {
			units += m.plant.Crews[k].Heads()
		}
		cells := add(Skill, skill, "", units)
		for w := range cells {
			cells[w].Asked = m.people[i][w]
			for _, k := range m.crewIx[skill] {
				cells[w].There += m.heads[k][w]
			}
			m.skillWait(i, w, &cells[w])
		}
	}
	for i := range m.plant.Tools {
		tool := &m.plant.Tools[i]
		cells := add(Tool, tool.ID, tool.Name, len(tool.Units))
		for w := range cells {
			cells[w].There = float64(len(tool.Units)) * float64(m.g.weeks[w].To-m.g.weeks[w].From) / 3600
			if held := m.asked.holds[tool.ID]; held != nil {
				cells[w].Asked = held[w]
			}
		}
		m.toolsOut(tool, cells)
	}
	for i := range m.plant.Recipes {
		recipe := &m.plant.Recipes[i]
		units := 0
		cells := add(Recipe, recipe.ID, recipe.Name, 0)
		copy(cells, m.recipes[recipe.ID])
		for s := range m.plant.Stations {
			for _, id := range m.plant.Stations[s].Recipes {
				if id == recipe.ID {
					units++
					for w := range cells {
						cells[w].There += m.there[s][w]
					}
				}
			}
		}
		r.Rows[len(r.Rows)-1].Units = units
	}
}

// toolsOut takes the hours of units that are out of use away.
func (m *model) toolsOut(tool *resources.Tool, cells []Cell) {
	for _, mark := range tool.Units {
		unit := m.in.State.Tools[mark]
		if unit == nil || !unit.Out {
			continue
		}
		until := unit.Until
		if until <= m.g.now {
			until = m.g.end // nobody knows
		}
		gone := make([]float64, len(cells))
		m.g.spread(gone, m.g.now, until, 1)
		for w := range cells {
			cells[w].There = max(0, cells[w].There-gone[w])
		}
	}
}

// demand writes the season curve.
func (m *model) demand(r *Report) {
	if f := m.in.Forecast; f != nil {
		r.Forecast = Coverage{First: f.First.String(), Last: f.Last.String()}
	}
	for i := range m.plant.Products {
		id := m.plant.Products[i].ID
		d := Demand{Product: id, Ordered: make([]int, len(m.g.weeks)), Forecast: make([]int, len(m.g.weeks))}
		for _, line := range m.in.State.Lines {
			if w := m.g.of(line.Due); line.Product == id && !line.Cancelled && w >= 0 && line.Due >= m.g.now {
				d.Ordered[w] += line.Quantity
			}
		}
		for k := range m.rests {
			l := &m.rests[k]
			if w := m.g.of(l.Due); l.Product == id && w >= 0 && l.Due >= m.g.now {
				d.Forecast[w] += l.left
			}
		}
		r.Demand = append(r.Demand, d)
	}
}
