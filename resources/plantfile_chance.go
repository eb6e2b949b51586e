// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"slices"
)

const (
	mostFactor = 100.0 // of a time
	mostValues = 500   // seen factors of one spread
)

func readChance(o *object) Chance {
	return Chance{Hands: o.spread("hands"), Machine: o.spread("machine"), Cure: o.spread("cure"), Setup: o.spread("setup")}
}

func readFloor(o *object) Floor {
	d := DefaultFloor()
	return Floor{
		LoadWait: o.duration("load_wait", d.LoadWait), TurnWait: o.duration("turn_wait", d.TurnWait),
		BeginEarly: o.duration("begin_early", d.BeginEarly),
	}
}

// spread reads how a time varies; absent is unsaid.
func (o *object) spread(key string) Spread {
	var s Spread
	o.one(key, "spread", func(o *object) { s = readSpread(o) })
	return s
}

func readSpread(o *object) Spread {
	before := len(o.r.findings)
	s := Spread{
		Shape: Lognormal + Shape(o.word("shape", "lognormal", "gamma", "triangular", "pert", "fixed", "empirical")),
		Mean:  o.number("mean", 1, 0.01, mostFactor), CV: o.number("cv", 0, 0, 5),
		Low: o.number("low", 0, 0, mostFactor), Likely: o.number("likely", 0, 0, mostFactor), High: o.number("high", 0, 0, mostFactor),
		Values: o.numbers("values", mostFactor),
	}
	asked := map[Shape][]string{
		Lognormal: {"cv"}, Gamma: {"cv"}, Triangular: {"low", "likely", "high"}, Pert: {"low", "likely", "high"}, Empirical: {"values"},
	}[s.Shape]
	if o.r.keys != nil || len(o.r.findings) > before {
		return s // only the schema's test asks, or there is enough to say
	}
	o.expect(asked...)
	allowed := append([]string{"shape"}, asked...)
	if s.Shape == Lognormal || s.Shape == Gamma {
		allowed = append(allowed, "mean")
	}
	for _, k := range o.keys {
		if slices.Contains([]string{"mean", "cv", "low", "likely", "high", "values"}, k.Value) && !slices.Contains(allowed, k.Value) {
			o.r.report(Finding{Line: k.Line, Field: o.at(k.Value), Text: "does not go with this shape", Hint: "take it out, or change the shape"})
		}
	}
	if (s.Shape == Triangular || s.Shape == Pert) && (s.Low > s.Likely || s.Likely > s.High || s.Low >= s.High) {
		o.r.report(Finding{Line: o.r.lineOf(o.path), Field: o.path, Text: "is out of order", Allowed: "low ≤ likely ≤ high, and low below high"})
	}
	return s
}

func readBreakdowns(o *object) *Breakdowns {
	o.need("every", "repair")
	b := &Breakdowns{Every: o.duration("every", 0), Repair: o.duration("repair", 0), Spread: o.spread("spread")}
	if o.has("every") && b.Every < Minute {
		o.bad("every", o.values["every"], "at least 1m of running time")
		b.Every = Minute
	}
	return b
}

// numbers reads a list of numbers above 0, or a single one.
func (o *object) numbers(key string, most float64) []float64 {
	items := o.items(key, "numbers", true)
	if len(items) > mostValues {
		o.r.report(Finding{Line: items[0].node.Line, Field: o.at(key), Text: "is too long", Allowed: "at most 500 numbers"})
		return nil
	}
	var all []float64
	for _, it := range items {
		value, ok := number(follow(it.node))
		if !ok || value <= 0 || value > most {
			o.r.report(Finding{Line: it.node.Line, Field: it.path, Text: "cannot be read", Found: describe(it.node), Allowed: "a number above 0, at most 100"})
			continue
		}
		all = append(all, value)
	}
	return all
}
