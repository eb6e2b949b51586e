// SPDX-License-Identifier: Apache-2.0

package quality

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// unit is one way to write an amount: how many of the dimension's first unit
// it is.
type unit struct {
	name string
	dim  string
	size float64
}

// units that measurements may come in; the first of a dimension is the one it
// is computed in. Inch, pound and ounce are exact by the agreement of 1959, the
// pound-force with the standard gravity of 9.80665 m/s².
var units = []unit{
	{"mm", "length", 1}, {"um", "length", 1e-3}, {"cm", "length", 10}, {"m", "length", 1000}, {"in", "length", 25.4},
	{"g", "mass", 1}, {"mg", "mass", 1e-3}, {"kg", "mass", 1000},
	{"g/cm3", "density", 1}, {"kg/m3", "density", 1e-3},
	{"mm2", "area", 1}, {"um2", "area", 1e-6}, {"px", "pixels", 1},
	{"N·m", "torque", 1}, {"kN·m", "torque", 1000}, {"N·mm", "torque", 1e-3}, {"lbf·ft", "torque", 0.3048 * 0.45359237 * 9.80665},
	{"deg", "angle", 1}, {"rad", "angle", 180 / math.Pi}, {"mrad", "angle", 0.18 / math.Pi},
	{"N·m/deg", "spring rate", 1}, {"N·m/rad", "spring rate", math.Pi / 180}, {"kN·m/rad", "spring rate", 1000 * math.Pi / 180},
	{"g·mm", "unbalance", 1}, {"g·cm", "unbalance", 10}, {"kg·mm", "unbalance", 1000}, {"oz·in", "unbalance", 28.349523125 * 25.4},
	{"%", "share", 1}, {"r/min", "speed", 1}, {"mm/s", "velocity", 1}, {"C", "temperature", 1}, {"N", "force", 1}, {"kN", "force", 1000},
}

var unitSpelling = strings.NewReplacer("²", "2", "³", "3", "µ", "u", "μ", "u", "°C", "C", "°", "deg", "*", "·", "⋅", "·", " ", "", "Nm", "N·m", "gmm", "g·mm")

// unitOf finds a unit by what people write for it.
func unitOf(text string) (unit, bool) {
	text = unitSpelling.Replace(strings.TrimSpace(text))
	i := slices.IndexFunc(units, func(u unit) bool { return u.name == text })
	if i < 0 {
		return unit{}, false
	}
	return units[i], true
}

// ParseReading takes "0.3 mm" apart; false when it is no number with a known
// unit.
func ParseReading(text string) (value float64, unit string, ok bool) {
	text = strings.TrimSpace(text)
	i := 0
	for i < len(text) && strings.ContainsRune("0123456789.-", rune(text[i])) {
		i++
	}
	value, err := strconv.ParseFloat(text[:i], 64)
	u, known := unitOf(text[i:])
	return value, u.name, err == nil && known && !math.IsInf(value, 0)
}

// Convert writes a value in another unit of the same dimension.
func Convert(value float64, from, to string) (float64, bool) {
	a, ok := unitOf(from)
	b, also := unitOf(to)
	if !ok || !also || a.dim != b.dim {
		return 0, false
	}
	return value * a.size / b.size, true
}

// UnitNames lists the units of a dimension, or all for an empty one.
func UnitNames(dim string) []string {
	var out []string
	for _, u := range units {
		if dim == "" || u.dim == dim {
			out = append(out, u.name)
		}
	}
	return out
}

// UnitsLike lists the units of the same dimension as one, that one first.
func UnitsLike(name string) []string {
	u, ok := unitOf(name)
	if !ok {
		return nil
	}
	out := []string{u.name}
	for _, other := range UnitNames(u.dim) {
		if other != u.name {
			out = append(out, other)
		}
	}
	return out
}

// first is the unit a dimension is computed in.
func first(dim string) string {
	for _, u := range units {
		if u.dim == dim {
			return u.name
		}
	}
	return ""
}
