// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"

	"towpath/resources"
)

// Shop is a job shop in the wide sense: each job passes its steps in order,
// each step on one of its machines. With one machine a step it is the job
// shop of Muth and Thompson (1963), with the same order of machines for every
// job a flow shop, with several machines a step a flexible job shop
// (Brandimarte 1993), with stages of like machines a hybrid flow shop.
type Shop struct {
	Name     string
	Machines int
	Jobs     [][]Step
}

// Step is one operation of a job.
type Step struct {
	Options []Option
	Wait    Wait // since the end of the step before
}

// Option is a machine, numbered from 0, and the time the step takes there.
type Option struct {
	Machine int
	Time    int64
}

// Wait is a time lag between the end of one step and the start of the next,
// zero to any length unless it says otherwise (Mitten 1959).
type Wait struct {
	Min    int64
	Max    int64
	HasMax bool
}

// Flow is a flow shop of stages with like machines in parallel. Times and
// Waits are by job; the first wait of a job lies between its first two stages.
type Flow struct {
	Name   string
	Stages []int // machines of each stage
	Times  [][]int64
	Waits  [][]Wait // nil: none
}

// Shop is the flow shop as a job shop: machines count through the stages.
func (f *Flow) Shop() (*Shop, error) {
	s := &Shop{Name: f.Name}
	for _, m := range f.Stages {
		if m < 1 {
			return nil, fmt.Errorf("%s: a stage has %d machines; it needs at least one", f.Name, m)
		}
		s.Machines += m
	}
	if f.Waits != nil && len(f.Waits) != len(f.Times) {
		return nil, fmt.Errorf("%s: waits for %d jobs, times for %d", f.Name, len(f.Waits), len(f.Times))
	}
	for j, times := range f.Times {
		if err := sized(fmt.Sprintf("%s: job %d", f.Name, j), len(f.Stages), times); err != nil {
			return nil, err
		}
		var steps []Step
		first := 0
		for k, time := range times {
			step := Step{}
			for m := range f.Stages[k] {
				step.Options = append(step.Options, Option{Machine: first + m, Time: time})
			}
			if f.Waits != nil && k > 0 {
				if len(f.Waits[j]) != len(times)-1 {
					return nil, fmt.Errorf("%s: job %d has %d waits; it needs one between each two stages", f.Name, j, len(f.Waits[j]))
				}
				step.Wait = f.Waits[j][k-1]
			}
			steps = append(steps, step)
			first += f.Stages[k]
		}
		s.Jobs = append(s.Jobs, steps)
	}
	return s, nil
}

// Makespan casts the shop as a plant: a station M and its number for each
// machine, a product J and its number for each job with operations O0, O1, …,
// and one firm order of a line per job, due at the start.
func (s *Shop) Makespan() (*Case, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	var work int64
	for _, steps := range s.Jobs {
		for k := range steps {
			work += steps[k].longest() + max(0, steps[k].Wait.Min)
		}
	}
	p := newPlant(s.Name, work)
	for m := range s.Machines {
		p.Stations = append(p.Stations, resources.Station{
			ID: s.machine(m), Name: fmt.Sprintf("Machine %d", m), Kind: "machine", Places: 1, Speed: 1,
		})
	}
	for j := range s.Jobs {
		p.Products = append(p.Products, s.product(j))
	}
	return makespan(s.Name, p), nil
}

func (s *Shop) validate() error {
	if len(s.Jobs) == 0 {
		return fmt.Errorf("%s: no jobs", s.Name)
	}
	for j, steps := range s.Jobs {
		if len(steps) == 0 {
			return fmt.Errorf("%s: job %d has no steps", s.Name, j)
		}
		for k := range steps {
			what := fmt.Sprintf("%s: job %d, step %d", s.Name, j, k)
			if len(steps[k].Options) == 0 {
				return fmt.Errorf("%s: no machine", what)
			}
			for _, o := range steps[k].Options {
				if o.Machine < 0 || o.Machine >= s.Machines {
					return fmt.Errorf("%s: machine %d; allowed are 0 to %d", what, o.Machine, s.Machines-1)
				}
				if err := inRange(what+": time", 0, o.Time); err != nil {
					return err
				}
			}
			w := steps[k].Wait
			if err := inRange(what+": wait", 0, w.Min, w.Max); err != nil {
				return err
			}
			if w.HasMax && w.Max < w.Min {
				return fmt.Errorf("%s: wait of at least %d and at most %d", what, w.Min, w.Max)
			}
		}
	}
	return nil
}

func (s *Shop) machine(m int) string { return numbered("M", m, s.Machines-1) }

func (s *Shop) product(j int) resources.Product {
	steps := s.Jobs[j]
	id := numbered("J", j, len(s.Jobs)-1)
	p := resources.Product{ID: id, Name: fmt.Sprintf("Job %d", j)}
	for k := range steps {
		op := resources.Operation{
			ID: numbered("O", k, len(steps)-1), Name: fmt.Sprintf("Step %d", k),
			Run: span(steps[k].Options[0].Time), RunAt: map[string]resources.Seconds{},
		}
		for _, o := range steps[k].Options {
			op.Stations = append(op.Stations, s.machine(o.Machine))
			op.RunAt[s.machine(o.Machine)] = span(o.Time)
		}
		if k > 0 {
			w := steps[k].Wait
			op.After = []resources.Link{{
				Operation: p.Routing[k-1].ID, Min: span(w.Min), Max: span(w.Max), HasMax: w.HasMax,
			}}
		}
		p.Routing = append(p.Routing, op)
	}
	return p
}

func (s *Step) longest() int64 {
	var t int64
	for _, o := range s.Options {
		t = max(t, o.Time)
	}
	return t
}
