// SPDX-License-Identifier: Apache-2.0

package quality

import (
	"fmt"
	"slices"
)

// Kind of test a gate makes.
type Kind string

// The kinds. Their names are the trade's.
const (
	Measuring Kind = "measure" // sizes, runout, mass: each reading within limits
	Ring      Kind = "ring"    // fibre and void content of a ring sample
	Torsion   Kind = "torsion" // torque against twist
	Balancing Kind = "balance" // residual unbalance in two planes
)

// Kinds lists them.
func Kinds() []string {
	return []string{string(Measuring), string(Ring), string(Torsion), string(Balancing)}
}

// Action is what a failure means.
type Action string

// The actions.
const (
	Pass   Action = "pass"
	Hold   Action = "hold"   // the piece waits for a qualified person
	Rework Action = "rework" // it goes back to an earlier operation
	Remake Action = "remake" // it is scrap and another is planned at once
)

// Limit bounds one quantity, in Unit. A bound that is not set does not count.
type Limit struct {
	Of     string
	Unit   string
	Min    float64
	Max    float64
	HasMin bool
	HasMax bool
}

// Rule is how the plant file wants a gate judged.
type Rule struct {
	Kind   Kind
	Limits []Limit

	ByImage       bool    // ring: areas in images instead of weighing
	FibreDensity  float64 // ring by weighing, g/cm³; 0: measured each time
	MatrixDensity float64 // the same of the cured matrix
	FitUpTo       float64 // torsion: share of the greatest torque up to which the line is laid, 0..1; 0: all
	Grade         float64 // balance: quality grade of ISO 21940-11, mm/s
	Mass          float64 // balance: of the rotor, kg
	Speed         float64 // balance: highest in service, r/min
	PlaneA        float64 // balance: distance of each plane from the centre of mass, mm; both 0: halves
	PlaneB        float64

	Fail  Action // of a piece out of limits
	To    string // rework: the operation it goes back to
	Times int    // rework: how often at most
	Then  Action // after that: hold or remake
}

// Ask is one quantity a test needs, for the form a person fills in.
type Ask struct {
	Of   string
	Unit string // as it is asked; others of its dimension are read too
	Many bool   // a list: points of a curve, images, readings
	dim  string
}

// Asks lists what must be measured, in the order of the form.
func (r *Rule) Asks() []Ask {
	switch r.Kind {
	case Ring:
		if r.ByImage {
			return []Ask{{"area", "mm2", true, "area"}, {"fibre_area", "mm2", true, "area"}, {"void_area", "mm2", true, "area"}}
		}
		asks := []Ask{{"mass", "g", false, "mass"}, {"fibre_mass", "g", false, "mass"}, {"density", "g/cm3", false, "density"}}
		if r.FibreDensity == 0 {
			asks = append(asks, Ask{"fibre_density", "g/cm3", false, "density"})
		}
		if r.MatrixDensity == 0 {
			asks = append(asks, Ask{"matrix_density", "g/cm3", false, "density"})
		}
		return asks
	case Torsion:
		return []Ask{{"torque", "N·m", true, "torque"}, {"twist", "deg", true, "angle"}}
	case Balancing:
		asks := []Ask{{"unbalance_a", "g·mm", false, "unbalance"}, {"unbalance_b", "g·mm", false, "unbalance"}}
		if slices.ContainsFunc(r.Limits, func(l Limit) bool { return l.Of == "runout" }) {
			asks = append(asks, Ask{"dial", "mm", true, "length"})
		}
		return asks
	}
	var asks []Ask
	for _, l := range r.Limits {
		if l.Of == "runout" {
			asks = append(asks, Ask{"dial", l.Unit, true, "length"})
			continue
		}
		u, _ := unitOf(l.Unit)
		asks = append(asks, Ask{l.Of, l.Unit, true, u.dim})
	}
	return asks
}

// yields are the quantities a kind computes, with their dimension. Measuring
// has only runout; its others are what the limits name.
var yields = map[Kind]map[string]string{
	Ring:      {"fibre_volume": "share", "void_content": "share", "matrix_volume": "share"},
	Torsion:   {"spring_rate": "spring rate", "proof_torque": "torque", "ultimate_torque": "torque", "twist_reached": "angle"},
	Balancing: {"runout": "length"},
	Measuring: {"runout": "length"},
}

// Yields lists the quantities a kind computes, sorted.
func Yields(k Kind) []string {
	var out []string
	for name := range yields[k] {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

// Problem is one thing wrong with a rule: which field, what is there, what may
// be there.
type Problem struct {
	Field, Found, Allowed, Text string
}

// Problems finds what cannot be right about a rule by itself.
func (r *Rule) Problems() []Problem {
	var out []Problem
	add := func(field, found, allowed, format string, args ...any) {
		out = append(out, Problem{field, found, allowed, fmt.Sprintf(format, args...)})
	}
	seen := map[string]bool{}
	for i, l := range r.Limits {
		at := fmt.Sprintf("limits[%d]", i)
		u, known := unitOf(l.Unit)
		want, computed := yields[r.Kind][l.Of]
		switch {
		case seen[l.Of]:
			add(at+".of", l.Of, "", "is limited twice")
		case !known:
			add(at, l.Unit, join(UnitNames("")), "the unit is not known")
		case r.Kind != Measuring && !computed:
			add(at+".of", l.Of, join(Yields(r.Kind)), "this kind of gate does not give it")
		case computed && u.dim != want:
			add(at, l.Unit, join(UnitNames(want)), "%s is no %s", l.Unit, want)
		case !l.HasMin && !l.HasMax:
			add(at, "", "min, max or both", "limits nothing")
		case l.HasMin && l.HasMax && l.Min > l.Max:
			add(at, fmt.Sprintf("%g to %g", l.Min, l.Max), "", "the smallest is above the largest")
		}
		seen[l.Of] = true
	}
	if r.Kind == Balancing {
		if !(r.Grade > 0 && r.Mass > 0 && r.Speed > 0) {
			add("grade", "", "grade, mass and speed", "the permissible unbalance needs all three")
		}
		if (r.PlaneA > 0) != (r.PlaneB > 0) {
			add("plane_a", "", "plane_a and plane_b, or neither", "one plane alone splits nothing")
		}
	} else if len(r.Limits) == 0 {
		add("limits", "", "one limit or more", "is empty: everything would pass")
	}
	return append(out, r.actionProblems()...)
}

func (r *Rule) actionProblems() []Problem {
	switch {
	case r.Fail == Rework && r.To == "":
		return []Problem{{"rework_to", "", "an operation at or before this one", "is missing"}}
	case r.Fail != Rework && (r.To != "" || r.Times != 0):
		return []Problem{{"rework_to", r.To, "only with on_fail: rework", "is never used"}}
	}
	return nil
}

func join(names []string) string {
	out := ""
	for i, n := range names {
		if i > 0 {
			out += ", "
		}
		out += n
	}
	return out
}
