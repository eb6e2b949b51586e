// SPDX-License-Identifier: Apache-2.0

package search

import (
	"fmt"

	"towpath/resources"
	"towpath/scheduler"
)

// PartBound is a value that one part of the objective cannot go below in any
// plan, and the relaxation that says so.
type PartBound struct {
	Part  string         // see Parts
	Term  resources.Term // how the plant weighs it
	Value int64          // in the part's own unit, see Parts
	By    string         // the relaxation, in words; of dates at 0 the tightest, with what it leaves
}

// Part is one part of the objective: its name and unit, and what a plan's score
// says of it.
type Part struct {
	Name string
	Unit string // "weight", "s", "moves", "cost", "g"
	Of   func(x *scheduler.Score) int64
	Term func(x *resources.Objective) resources.Term
}

// Parts lists the parts of the objective.
func Parts() []Part {
	return []Part{
		{"lost", "weight", func(x *scheduler.Score) int64 { return x.LostWeight }, func(x *resources.Objective) resources.Term { return x.Lost }},
		{"tardiness", "s", func(x *scheduler.Score) int64 { return x.WeightedTardinessSeconds }, func(x *resources.Objective) resources.Term { return x.Tardiness }},
		{"churn", "moves", func(x *scheduler.Score) int64 { return int64(x.Churn) }, func(x *resources.Objective) resources.Term { return x.Churn }},
		{"oven", "s", func(x *scheduler.Score) int64 { return int64(x.OvenSeconds) }, func(x *resources.Objective) resources.Term { return x.Oven }},
		{"setup time", "s", func(x *scheduler.Score) int64 { return int64(x.ChangeoverSeconds) }, func(x *resources.Objective) resources.Term { return x.SetupTime }},
		{"setup cost", "cost", func(x *scheduler.Score) int64 { return x.ChangeoverCost }, func(x *resources.Objective) resources.Term { return x.SetupCost }},
		{"discard", "g", func(x *scheduler.Score) int64 { return x.DiscardedGrams }, func(x *resources.Objective) resources.Term { return x.Discard }},
		{"flow", "s", func(x *scheduler.Score) int64 { return int64(x.FlowSeconds) }, func(x *resources.Objective) resources.Term { return x.Flow }},
	}
}

// Bound is a cost no plan can go below, the sum of Bounds as the plant weighs
// them.
func Bound(p *scheduler.Problem) (Cost, error) {
	m, err := newModel(p)
	if err != nil {
		return Cost{}, explained(p, err)
	}
	return weighed(bounds(m)), nil
}

// Bounds bounds every part of the objective, in the order of Parts: of several
// relaxations the one that says most. Each drops all but a few constraints, so
// that what is left can be solved or bounded exactly:
//
//   - one piece in an empty shop, with its waits and all calendars;
//   - one order's work on one set of stations, crews or tools, with heads and
//     tails, interrupted at will (Jackson's preemptive schedule, Carlier 1982),
//     and all orders' the same way, the earliest due first;
//   - all orders' work there, in pieces, with what each may start from and must
//     be followed by (Lagrangian duality);
//   - loads by room and time (Martello and Toth's bound L2 at each running
//     time), mixes by grams;
//   - the least changeover to each piece, load and family.
//
// The README of the package above has the table. It takes about linear time.
func Bounds(p *scheduler.Problem) ([]PartBound, error) {
	m, err := newModel(p)
	if err != nil {
		return nil, explained(p, err)
	}
	return bounds(m), nil
}

// weighed is the sum of bounds as the plant weighs them.
func weighed(parts []PartBound) Cost {
	var c Cost
	for _, b := range parts {
		c.add(b.Term, b.Value)
	}
	return c
}

// Gaps puts bounds beside what a plan costs. Both must be of the same facts and
// the same now.
func Gaps(bounds []PartBound, x *scheduler.Score) []scheduler.Gap {
	var out []scheduler.Gap
	for i, part := range Parts()[:len(bounds)] {
		b := &bounds[i]
		out = append(out, scheduler.Gap{
			Part: b.Part, Unit: part.Unit, Level: b.Term.Level, Weight: b.Term.Weight,
			Value: part.Of(x), Bound: b.Value, By: b.By,
		})
	}
	return out
}

func bounds(m *model) []PartBound {
	r := newReckoner(m)
	d := newDates(r)
	goal := &m.p.Goal
	lost, late := d.bounds(goal.Lost.Weight != 0, goal.Tardiness.Weight != 0)
	out := make([]PartBound, 0, 8)
	for _, part := range Parts() {
		b := PartBound{Part: part.Name, Term: part.Term(goal)}
		switch part.Name {
		case "lost":
			b.Value, b.By = lost.value, lost.by
		case "tardiness":
			b.Value, b.By = late.value, late.by
		case "churn":
			b.Value, b.By = r.moved(), byFacts
		case "oven":
			b.Value, b.By = r.runs(), byRoom
		case "setup time":
			b.Value, b.By = r.setups(m.setupTimes()), byChanges
		case "setup cost":
			b.Value, b.By = r.setups(m.setupCosts()), byChanges
		case "discard":
			b.Value, b.By = r.waste(), byMixes
		case "flow":
			b.Value, b.By = r.flow(), byWaits
		}
		if b.Value == 0 && part.Name != "lost" && part.Name != "tardiness" {
			b.By = ""
		}
		out = append(out, b)
	}
	return out
}

// setupTimes and setupCosts are the stations' changeover tables.
func (m *model) setupTimes() [][]int64 {
	out := make([][]int64, len(m.p.Stations))
	for s := range out {
		for _, t := range m.p.Stations[s].SetupTime {
			out[s] = append(out[s], int64(t))
		}
	}
	return out
}

func (m *model) setupCosts() [][]int64 {
	out := make([][]int64, len(m.p.Stations))
	for s := range out {
		out[s] = m.p.Stations[s].SetupCost
	}
	return out
}

// said is a bound and where it comes from.
type said struct {
	value int64
	by    string
}

// effortAll is how much work all auctions of one bound may be together, in
// prices looked at.
const effortAll = 12_000_000

// bounds gives the best bounds of lost weight and of tardiness; a part that
// costs nothing is not looked at closely.
func (d *dates) bounds(lost, late bool) (x, y said) {
	all := d.r.resources()
	for i := range all {
		d.alone(&all[i])
	}
	x.value, x.by = sums(d.event)
	y.value, y.by = sums(d.firm)
	var nearX, nearY nearest
	for i := range all {
		if v := d.together(&all[i], true, &nearX); lost && v.value > x.value {
			x = v
		}
		if v := d.together(&all[i], false, &nearY); late && v.value > y.value {
			y = v
		}
	}
	effort := effortAll / max(1, 2*len(all))
	for i := range all {
		by := fmt.Sprintf(byAll, all[i].name)
		if lost {
			if v := d.shared(&all[i], true, effort); v > x.value {
				x = said{v, by}
			}
		}
		if late {
			if v := d.shared(&all[i], false, effort); v > y.value {
				y = said{v, by}
			}
		}
	}
	if x.value == 0 {
		x.by = d.tightest(d.event, nearX)
	}
	if y.value == 0 {
		y.by = d.tightest(d.firm, nearY)
	}
	return x, y
}
