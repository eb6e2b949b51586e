// SPDX-License-Identifier: Apache-2.0

package quality

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strconv"
)

// Most readings of one quantity.
const MostReadings = 2000

// Measure is what was read of one quantity: one value, or a list.
type Measure struct {
	Of     string    `json:"of"`
	Unit   string    `json:"unit"`
	Values []float64 `json:"values"`
}

// Value is a number that was worked out, in the unit its limit has.
type Value struct {
	Of    string
	Unit  string
	Value float64
}

// Verdict is what a rule makes of measurements. Faults is empty when they are
// within the limits. Doubt says that the measurement cannot be true, so that
// the piece must neither pass nor be condemned by it.
type Verdict struct {
	Values []Value
	Faults []string
	Doubt  string
}

// Passed tells whether the piece is within limits beyond doubt.
func (v *Verdict) Passed() bool { return len(v.Faults) == 0 && v.Doubt == "" }

// Judge works out what was measured and compares it with the limits. The
// error joins everything that is wrong with the measurements: then there is no
// verdict.
func (r *Rule) Judge(measured []Measure) (Verdict, error) {
	m, err := r.read(measured)
	if err != nil {
		return Verdict{}, err
	}
	var v Verdict
	switch r.Kind {
	case Ring:
		v, err = r.ring(m)
	case Torsion:
		v, err = r.torsion(m)
	case Balancing:
		v = r.balance(m)
	default:
		for _, l := range r.Limits {
			if l.Of == "runout" {
				v.Values = append(v.Values, r.in(l.Of, "length", Runout(m["dial"])))
				continue
			}
			u, _ := unitOf(l.Unit)
			for _, x := range m[l.Of] {
				v.Values = append(v.Values, r.in(l.Of, u.dim, x))
			}
		}
	}
	if err != nil {
		return Verdict{}, err
	}
	r.compare(&v)
	return v, nil
}

// read checks the measurements against what the test asks for and turns them
// into the units it computes in.
func (r *Rule) read(measured []Measure) (map[string][]float64, error) {
	var errs []error
	fail := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	asks, names := map[string]Ask{}, []string{}
	for _, a := range r.Asks() {
		asks[a.Of] = a
		names = append(names, a.Of)
	}
	got := map[string][]float64{}
	dims := map[string]string{}
	for _, m := range measured {
		a, known := asks[m.Of]
		u, unitKnown := unitOf(m.Unit)
		pixels := r.Kind == Ring && r.ByImage && u.dim == "pixels"
		switch {
		case !known:
			fail("%s is not measured here; wanted: %s", m.Of, join(names))
			continue
		case got[m.Of] != nil:
			fail("%s is given twice", m.Of)
			continue
		case !unitKnown || u.dim != a.dim && !pixels:
			fail("%s in %q: the unit must be one of %s", m.Of, m.Unit, join(UnitNames(a.dim)))
		case len(m.Values) == 0 || !a.Many && len(m.Values) != 1 || len(m.Values) > MostReadings:
			fail("%s has %d values; wanted: %s", m.Of, len(m.Values), map[bool]string{true: "1 to " + strconv.Itoa(MostReadings), false: "1"}[a.Many])
		}
		dims[m.Of] = u.dim
		values := make([]float64, len(m.Values))
		for i, x := range m.Values {
			if x < 0 && (a.dim == "mass" || a.dim == "density" || a.dim == "area" || a.dim == "unbalance") || math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) > 1e12 {
				fail("%s is %s %s, which cannot be", m.Of, strconv.FormatFloat(x, 'g', -1, 64), m.Unit)
			}
			values[i] = x * u.size
		}
		got[m.Of] = values
	}
	for _, name := range names {
		if _, there := got[name]; !there {
			fail("%s is missing", name)
		}
	}
	if len(errs) == 0 && r.Kind == Ring && r.ByImage {
		if len(got["area"]) != len(got["fibre_area"]) || len(got["area"]) != len(got["void_area"]) {
			fail("area, fibre_area and void_area need one value for each image")
		} else if dims["area"] != dims["fibre_area"] || dims["area"] != dims["void_area"] {
			fail("area, fibre_area and void_area need the same sort of unit")
		}
	}
	return got, errors.Join(errs...)
}

// in writes a value in the unit of its limit, if it has one.
func (r *Rule) in(of, dim string, value float64) Value {
	name := first(dim)
	for _, l := range r.Limits {
		if u, ok := unitOf(l.Unit); l.Of == of && ok && u.dim == dim {
			return Value{of, l.Unit, value / u.size}
		}
	}
	return Value{of, name, value}
}

func (r *Rule) ring(m map[string][]float64) (Verdict, error) {
	var c Constituents
	var err error
	if r.ByImage {
		images := make([]Areas, len(m["area"]))
		for i := range images {
			images[i] = Areas{m["area"][i], m["fibre_area"][i], m["void_area"][i]}
		}
		c, err = ByAreas(images)
	} else {
		s := Specimen{Mass: m["mass"][0], FibreMass: m["fibre_mass"][0], Density: m["density"][0], Fibre: r.FibreDensity, Matrix: r.MatrixDensity}
		if s.Fibre == 0 {
			s.Fibre = m["fibre_density"][0]
		}
		if s.Matrix == 0 {
			s.Matrix = m["matrix_density"][0]
		}
		c, err = s.Constituents()
	}
	if err != nil {
		return Verdict{}, err
	}
	v := Verdict{Values: []Value{
		r.in("fibre_volume", "share", 100*c.Fibre), r.in("matrix_volume", "share", 100*c.Matrix), r.in("void_content", "share", 100*c.Void),
	}}
	if c.Doubtful() {
		v.Doubt = fmt.Sprintf("voids of %.2f %% cannot be: weigh again, and check the densities", 100*c.Void)
	}
	return v, nil
}

// Fewest points of a torsion test: two make a line, the third can contradict it.
const fewestPoints = 3

func (r *Rule) torsion(m map[string][]float64) (Verdict, error) {
	torque, twist := m["torque"], m["twist"]
	if len(torque) != len(twist) {
		return Verdict{}, fmt.Errorf("%d torques and %d twists; each point needs both", len(torque), len(twist))
	}
	if len(torque) < fewestPoints {
		return Verdict{}, fmt.Errorf("a torque curve of %d points; %d or more are needed", len(torque), fewestPoints)
	}
	var greatest, at float64
	for i := range torque {
		if math.Abs(torque[i]) > greatest {
			greatest, at = math.Abs(torque[i]), math.Abs(twist[i])
		}
	}
	share := cmp.Or(r.FitUpTo, 1)
	var x, y []float64
	for i := range torque {
		if math.Abs(torque[i]) <= share*greatest {
			x, y = append(x, twist[i]), append(y, torque[i])
		}
	}
	if len(x) < fewestPoints {
		return Verdict{}, fmt.Errorf("only %d points up to %.0f %% of the greatest torque; %d or more are needed", len(x), 100*share, fewestPoints)
	}
	line, err := Fit(x, y)
	if err != nil {
		return Verdict{}, errors.New("every point has the same twist, so there is no spring rate")
	}
	v := Verdict{Values: []Value{
		r.in("spring_rate", "spring rate", line.Slope), r.in("proof_torque", "torque", greatest),
		r.in("ultimate_torque", "torque", greatest), r.in("twist_reached", "angle", at),
	}}
	if line.Slope <= 0 {
		v.Doubt = "the torque does not rise with the twist: check signs and sensors"
	}
	return v, nil
}

func (r *Rule) balance(m map[string][]float64) Verdict {
	total := PermissibleUnbalance(r.Grade, r.Mass, r.Speed)
	a, b := TwoPlanes(total, r.PlaneA, r.PlaneB)
	var v Verdict
	for _, p := range []struct {
		of    string
		limit float64
	}{{"unbalance_a", a}, {"unbalance_b", b}} {
		left := m[p.of][0]
		v.Values = append(v.Values, Value{p.of, "g·mm", left})
		if left > p.limit {
			v.Faults = append(v.Faults, fmt.Sprintf("%s is %s g·mm, at most %s (G %g, %g kg, %g r/min)", p.of, short(left), short(p.limit), r.Grade, r.Mass, r.Speed))
		}
	}
	if dial, ok := m["dial"]; ok {
		v.Values = append(v.Values, r.in("runout", "length", Runout(dial)))
	}
	return v
}

// compare holds the values against the limits.
func (r *Rule) compare(v *Verdict) {
	for _, x := range v.Values {
		for _, l := range r.Limits {
			switch {
			case l.Of != x.Of:
			case l.HasMin && x.Value < l.Min:
				v.Faults = append(v.Faults, fmt.Sprintf("%s is %s %s, at least %s", x.Of, short(x.Value), l.Unit, short(l.Min)))
			case l.HasMax && x.Value > l.Max:
				v.Faults = append(v.Faults, fmt.Sprintf("%s is %s %s, at most %s", x.Of, short(x.Value), l.Unit, short(l.Max)))
			}
		}
	}
}

// short writes a number with four digits that count.
func short(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }

// Text is the number with its unit.
func (x Value) Text() string { return short(x.Value) + " " + x.Unit }
