// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"towpath/resources/quality"
)

const allowedReading = "a number with its unit, like 0.3 mm or 1450 N·m"

// reading reads a number with the unit of a measurement.
func (o *object) reading(key, unit string) (value float64, name string) {
	n, text, ok := o.unitText(key, "reading")
	if !ok {
		return 0, ""
	}
	value, name, ok = quality.ParseReading(text)
	switch {
	case !ok:
		o.bad(key, n, allowedReading)
		return 0, ""
	case unit == "":
		return value, name
	}
	if value, ok = quality.Convert(value, name, unit); !ok {
		o.bad(key, n, "a number in "+unit+" or another unit of its sort")
	}
	return value, unit
}

// readRule reads how a gate is judged.
func readRule(o *object) *quality.Rule {
	o.need("kind")
	kinds := quality.Kinds()
	r := &quality.Rule{Kind: quality.Kind(kinds[o.word("kind", kinds...)])}
	o.each("limits", "limit", func(o *object) { r.Limits = append(r.Limits, readLimit(o)) })
	r.ByImage = o.word("method", "weighing", "image") == 1
	r.FibreDensity, _ = o.reading("fibre_density", "g/cm3")
	r.MatrixDensity, _ = o.reading("matrix_density", "g/cm3")
	r.FitUpTo = o.yield("fit_up_to")
	r.Grade = o.number("grade", 0, 0.4, 4000) // the grades of ISO 21940-11
	r.Mass = float64(o.mass("mass")) / 1000
	r.Speed, _ = o.reading("speed", "r/min")
	r.PlaneA, _ = o.reading("plane_a", "mm")
	r.PlaneB, _ = o.reading("plane_b", "mm")
	r.Fail = [...]quality.Action{quality.Hold, quality.Rework, quality.Remake}[o.word("on_fail", "hold", "rework", "remake")]
	r.To = o.text("rework_to")
	r.Times = o.count("rework_times", 0, 1, 20)
	if r.Fail == quality.Rework && !o.has("rework_times") {
		r.Times = 1
	}
	r.Then = [...]quality.Action{quality.Hold, quality.Remake}[o.word("then", "hold", "remake")]
	return r
}

func readLimit(o *object) quality.Limit {
	o.need("of")
	l := quality.Limit{Of: o.text("of"), HasMin: o.has("min"), HasMax: o.has("max")}
	var low, high string
	l.Min, low = o.reading("min", "")
	l.Max, high = o.reading("max", low)
	if l.Unit = low; low == "" {
		l.Unit = high
	}
	return l
}
