// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"

	"towpath/resources"
)

// Ovens is an instance of the oven scheduling problem (M.-L. Lackner,
// C. Mrkvicka, N. Musliu, D. Walkiewicz, F. Winter, "Exact methods for the
// Oven Scheduling Problem", Constraints 28, 2023): every job goes in one batch
// of jobs of one attribute on an eligible oven; a batch fits its oven, starts
// when all its jobs are there, lasts at least as long as each job needs and at
// most as long as each may; the set-up before it and the batch lie inside one
// availability interval of the oven. Jobs, ovens and attributes count from 1.
type Ovens struct {
	Name       string
	Jobs       []OvenJob
	Ovens      []Oven
	Attributes int
	// SetupTime and SetupCost are by attribute before, then after; the last
	// row is for an oven that no attribute is set up on.
	SetupTime [][]int64
	SetupCost [][]int64
	Factors   OvenFactors
}

// OvenJob is one job.
type OvenJob struct {
	Eligible  []int // ovens, ascending
	Earliest  int64
	Latest    int64 // late when its batch ends after this
	Min       int64 // shortest batch it may be in
	Max       int64 // longest batch it may be in
	Size      int64
	Attribute int
}

// Oven is one oven.
type Oven struct {
	Capacity int64
	Initial  int    // attribute it is set up for at the start; Attributes+1: none
	Open     []Span // availability, in order, not overlapping; touching ones are two
}

// Span is the time from Start to End.
type Span struct{ Start, End int64 }

// OvenFactors weigh the published cost, which is divided by Bound.
type OvenFactors struct {
	RunTime   int64
	Late      int64
	SetupTime int64
	SetupCost int64
	Bound     int64
}

// attribute keys loads and changeovers of the ovens.
const attribute = "attribute"

// Case casts the instance as a plant: a station M and its number for each
// oven, open as a calendar of exceptions that stay apart; an event order for
// each job, due at its latest end, so that a late job is a lost order; run
// time, lost orders and changeovers weighed on one level as the instance does.
func (o *Ovens) Case() *Case {
	n := len(o.Jobs)
	p := newPlant(o.Name, o.horizon())
	for m := range o.Ovens {
		p.Calendars = append(p.Calendars, o.calendar(m))
		p.Stations = append(p.Stations, o.station(m))
	}
	c := &Case{Name: o.Name, Plant: p, Scale: int64(Unit)}
	p.Objective = resources.Objective{
		Oven:      resources.Term{Weight: o.Factors.RunTime},
		Lost:      resources.Term{Weight: o.Factors.Late * int64(Unit)},
		SetupTime: resources.Term{Weight: o.Factors.SetupTime},
		SetupCost: resources.Term{Weight: o.Factors.SetupCost * int64(Unit)},
	}
	for i := range o.Jobs {
		job := &o.Jobs[i]
		id := numbered("J", i+1, n)
		op := resources.Operation{
			ID: "cure", Name: "Cure", Run: span(job.Min), MaxRun: span(job.Max),
			Size:       map[string]int64{"size": job.Size},
			Attributes: map[string]string{attribute: o.attribute(job.Attribute)},
		}
		for _, m := range job.Eligible {
			op.Stations = append(op.Stations, o.oven(m))
		}
		p.Products = append(p.Products, resources.Product{
			ID: id, Name: fmt.Sprintf("Job %d", i+1), Routing: []resources.Operation{op},
		})
		c.Lines = append(c.Lines, line(id, id, id, job.Latest, 1, job.Earliest, resources.Event))
	}
	return c
}

func (o *Ovens) oven(m int) string { return numbered("M", m, len(o.Ovens)) }

func (o *Ovens) attribute(a int) string { return numbered("A", a, o.Attributes+1) }

// horizon is when the last oven closes for good.
func (o *Ovens) horizon() int64 {
	var end int64
	for m := range o.Ovens {
		for _, s := range o.Ovens[m].Open {
			end = max(end, s.End)
		}
	}
	return end
}

func (o *Ovens) calendar(m int) resources.Calendar {
	c := resources.Calendar{ID: o.oven(m + 1)}
	for _, s := range o.Ovens[m].Open {
		c.Exceptions = append(c.Exceptions, resources.Exception{
			Open: true, Apart: true, Start: at(s.Start), Long: span(s.End - s.Start), Why: "available",
		})
	}
	return c
}

func (o *Ovens) station(m int) resources.Station {
	oven := &o.Ovens[m]
	id := o.oven(m + 1)
	st := resources.Station{
		ID: id, Name: fmt.Sprintf("Oven %d", m+1), Kind: "oven", Calendar: id, Places: 1, Speed: 1,
		Batch:   &resources.Batch{Capacity: map[string]int64{"size": oven.Capacity}, Same: []string{attribute}},
		Recipes: []string{"cure"}, // its running time is oven time
		Initial: map[string]string{attribute: o.attribute(oven.Initial)},
	}
	for from := range o.SetupTime {
		for to := range o.Attributes {
			st.Setups = append(st.Setups, resources.SetupRule{
				Attribute: attribute, From: o.attribute(from + 1), To: o.attribute(to + 1),
				Time: span(o.SetupTime[from][to]), Cost: o.SetupCost[from][to],
			})
		}
	}
	return st
}
