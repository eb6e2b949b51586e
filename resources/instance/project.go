// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"

	"towpath/resources"
)

// Project is a resource-constrained project with minimum and maximum time lags
// (RCPSP/max, PS|temp|Cmax; Bartusch, Möhring, Radermacher 1988): activities,
// the first and the last of them dummies that stand for its start and end.
type Project struct {
	Name       string
	Durations  []int64
	Demands    [][]int64 // by activity, then resource
	Capacities []int64
	Lags       []Lag
}

// Lag says that To starts at least Time after From starts. A negative time is
// a maximum lag: From starts at most that much after To.
type Lag struct {
	From, To int
	Time     int64
}

// Makespan casts the project as one product with an operation A0, A1, … for
// every activity, on one station with a place for each. A resource is a crew
// R1, R2, … with as many heads as the resource has units and a skill of the
// same name, needed during the run. A time lag is a wait from start to start;
// a negative one is a maximum wait the other way round, so that the last
// activity, whose start is the makespan, waits for others and none for it.
func (p *Project) Makespan() (*Case, error) {
	if err := p.validate(); err != nil {
		return nil, err
	}
	n := len(p.Durations)
	var work int64
	for i := range n {
		work += p.Durations[i]
	}
	for _, l := range p.Lags {
		work += max(0, l.Time)
	}
	plant := newPlant(p.Name, work)
	plant.Stations = []resources.Station{{ID: "site", Name: "Site", Kind: "site", Places: n, Speed: 1}}
	for r, heads := range p.Capacities {
		id := fmt.Sprintf("R%d", r+1)
		plant.Crews = append(plant.Crews, resources.Crew{
			ID: id, Name: fmt.Sprintf("Resource %d", r+1), Skills: []string{id},
			Shifts: []resources.CrewShift{{Heads: int(heads)}},
		})
	}
	product := resources.Product{ID: "P", Name: p.Name}
	for i := range n {
		if i == 0 && p.idleStart() {
			continue
		}
		product.Routing = append(product.Routing, p.operation(i, work))
	}
	plant.Products = []resources.Product{product}
	return makespan(p.Name, plant), nil
}

// idleStart tells that the first activity says no more than that nothing
// starts before the project does.
func (p *Project) idleStart() bool {
	for _, l := range p.Lags {
		if l.To == 0 || l.From == 0 && l.Time > 0 {
			return false
		}
	}
	return p.Durations[0] == 0
}

func (p *Project) operation(i int, work int64) resources.Operation {
	op := resources.Operation{
		ID: p.activity(i), Name: fmt.Sprintf("Activity %d", i), Stations: []string{"site"},
		Run: span(p.Durations[i]),
	}
	for r, d := range p.Demands[i] {
		if d > 0 && p.Durations[i] > 0 {
			op.Needs = append(op.Needs, resources.Need{
				Part: resources.PartRun, Skill: fmt.Sprintf("R%d", r+1), Share: d * 1000,
			})
		}
	}
	for from := range len(p.Durations) {
		if link, ok := p.link(from, i, work); ok {
			op.After = append(op.After, link)
		}
	}
	return op
}

// link joins all lags between two activities that To keeps to.
func (p *Project) link(from, to int, work int64) (resources.Link, bool) {
	last := len(p.Durations) - 1
	link := resources.Link{Operation: p.activity(from), FromStart: true, Min: -span(work)}
	found := false
	for _, l := range p.Lags {
		if l.From == 0 && p.idleStart() {
			continue
		}
		switch {
		case l.From == from && l.To == to && (l.Time >= 0 || to == last):
			link.Min, found = max(link.Min, span(l.Time)), true
		case l.From == to && l.To == from && l.Time < 0 && from != last:
			if m := span(-l.Time); !link.HasMax || m < link.Max {
				link.Max = m
			}
			link.HasMax, found = true, true
		}
	}
	return link, found
}

func (p *Project) activity(i int) string { return numbered("A", i, len(p.Durations)-1) }

func (p *Project) validate() error {
	n := len(p.Durations)
	if n < 2 {
		return fmt.Errorf("%s: %d activities; a project has a first and a last one", p.Name, n)
	}
	if err := inRange(p.Name+": durations", 0, p.Durations...); err != nil {
		return err
	}
	if err := inRange(p.Name+": capacities", 0, p.Capacities...); err != nil {
		return err
	}
	if p.Durations[n-1] != 0 {
		return fmt.Errorf("%s: the last activity lasts %d; it stands for the end of the project and lasts 0", p.Name, p.Durations[n-1])
	}
	if len(p.Demands) != n {
		return fmt.Errorf("%s: demands of %d activities, durations of %d", p.Name, len(p.Demands), n)
	}
	for i, d := range p.Demands {
		if len(d) != len(p.Capacities) {
			return fmt.Errorf("%s: activity %d demands %d resources of %d", p.Name, i, len(d), len(p.Capacities))
		}
		if err := inRange(p.Name+": demands", 0, d...); err != nil {
			return err
		}
	}
	for _, l := range p.Lags {
		if l.From < 0 || l.From >= n || l.To < 0 || l.To >= n || l.From == l.To || l.Time < -limit || l.Time > limit {
			return fmt.Errorf("%s: lag %v is not between two of the %d activities or too long", p.Name, l, n)
		}
		if l.From == n-1 && l.Time >= 0 {
			return fmt.Errorf("%s: activity %d starts after the last one", p.Name, l.To)
		}
	}
	return nil
}
