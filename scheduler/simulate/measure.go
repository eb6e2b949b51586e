// SPDX-License-Identifier: Apache-2.0

package simulate

import "towpath/resources/quality"

// Readings are what a test by a rule could show, of a piece within all limits
// or out of at least one. The numbers are invented; the formulas run backwards
// are those the rule judges by.
func Readings(r *quality.Rule, good bool) []quality.Measure {
	one := func(of, unit string, values ...float64) quality.Measure {
		return quality.Measure{Of: of, Unit: unit, Values: values}
	}
	switch r.Kind {
	case quality.Ring:
		fibre, void := aim(r, "fibre_volume", 60, true)/100, aim(r, "void_content", 1, true)/100
		if void = max(void, 0.001); !good {
			if l := limitOf(r, "void_content"); l != nil && l.HasMax {
				void = 1.4 * l.Max / 100
			} else {
				fibre = aim(r, "fibre_volume", 60, false) / 100
			}
		}
		if r.ByImage {
			return []quality.Measure{one("area", "mm2", 10, 10), one("fibre_area", "mm2", 10*fibre, 10*fibre), one("void_area", "mm2", 10*void, 10*void)}
		}
		fd, md := r.FibreDensity, r.MatrixDensity
		var extra []quality.Measure
		if fd == 0 {
			fd, extra = 1.79, append(extra, one("fibre_density", "g/cm3", 1.79))
		}
		if md == 0 {
			md, extra = 1.2, append(extra, one("matrix_density", "g/cm3", 1.2))
		}
		whole := fibre*fd + (1-fibre-void)*md
		return append([]quality.Measure{one("mass", "g", 3), one("fibre_mass", "g", 3*fibre*fd/whole), one("density", "g/cm3", whole)}, extra...)
	case quality.Torsion:
		return torque(r, good)
	case quality.Balancing:
		a, b := quality.TwoPlanes(quality.PermissibleUnbalance(r.Grade, r.Mass, r.Speed), r.PlaneA, r.PlaneB)
		share := 0.6
		if !good {
			share = 1.3
		}
		out := []quality.Measure{one("unbalance_a", "g·mm", share*a), one("unbalance_b", "g·mm", 0.5*b)}
		if limitOf(r, "runout") != nil {
			out = append(out, one("dial", "mm", 0, inUnit(r, "runout", "mm", aim(r, "runout", 0.1, true))))
		}
		return out
	}
	return sizes(r, good)
}

func sizes(r *quality.Rule, good bool) []quality.Measure {
	var out []quality.Measure
	for i := range r.Limits {
		l := &r.Limits[i]
		x := aim(r, l.Of, 0, good || i > 0)
		if l.Of == "runout" {
			out = append(out, quality.Measure{Of: "dial", Unit: l.Unit, Values: []float64{0, x}})
			continue
		}
		out = append(out, quality.Measure{Of: l.Of, Unit: l.Unit, Values: []float64{x}})
	}
	return out
}

// torque is a straight curve to a greatest torque that is enough, or not.
func torque(r *quality.Rule, good bool) []quality.Measure {
	greatest, reached := 1000.0, false
	for _, of := range []string{"proof_torque", "ultimate_torque"} {
		if limitOf(r, of) != nil {
			greatest, reached = inUnit(r, of, "N·m", aim(r, of, greatest, good)), true
		}
	}
	rate := inUnit(r, "spring_rate", "N·m/deg", aim(r, "spring_rate", 250, good || reached))
	var torques, twists []float64
	for i := range 6 {
		torques = append(torques, greatest*float64(i)/5)
		twists = append(twists, greatest*float64(i)/5/rate)
	}
	return []quality.Measure{{Of: "torque", Unit: "N·m", Values: torques}, {Of: "twist", Unit: "deg", Values: twists}}
}

func limitOf(r *quality.Rule, of string) *quality.Limit {
	for i := range r.Limits {
		if r.Limits[i].Of == of {
			return &r.Limits[i]
		}
	}
	return nil
}

// aim is a value well within the limit of a quantity, or out of it, in its
// unit.
func aim(r *quality.Rule, of string, free float64, good bool) float64 {
	l := limitOf(r, of)
	switch {
	case l == nil:
		return free
	case good && l.HasMin && l.HasMax:
		return (l.Min + l.Max) / 2
	case good && l.HasMin:
		return l.Min + 0.05*abs(l.Min)
	case good:
		return l.Max - 0.5*abs(l.Max)
	case l.HasMin:
		return l.Min - 0.05*abs(l.Min) - 1e-6
	}
	return l.Max + 0.3*abs(l.Max) + 1e-6
}

func abs(x float64) float64 { return max(x, -x) }

// inUnit writes a value that is in the unit of its limit in another.
func inUnit(r *quality.Rule, of, unit string, x float64) float64 {
	l := limitOf(r, of)
	if l == nil {
		return x
	}
	y, _ := quality.Convert(x, l.Unit, unit)
	return y
}
