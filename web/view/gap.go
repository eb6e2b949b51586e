// SPDX-License-Identifier: Apache-2.0

package view

// GapRow is one part of the objective: what the plan costs, what no plan can go
// below, and what lies between.
type GapRow struct {
	Part  string  `json:"part" doc:"part of the objective"`
	Level int     `json:"level" doc:"level at which it is weighed, 0 first"`
	Unit  string  `json:"unit" doc:"unit: weight, h, moves, cost or kg; lateness in h is weighted"`
	Value float64 `json:"value" doc:"what the plan costs"`
	Bound float64 `json:"bound" doc:"no plan costs less"`
	Gap   float64 `json:"gap" doc:"what lies between; a better plan might win it, or not"`
	By    string  `json:"by" doc:"the relaxation that gives the bound; of dates at 0 the tightest one and what it leaves; empty: only that nothing is below 0"`
}

// Gaps are the parts of the objective that cost something; empty while nobody
// has computed the bounds of the published plan.
func (v *View) Gaps() []GapRow {
	out := []GapRow{}
	for i := range v.Picture.Gaps {
		g := &v.Picture.Gaps[i]
		if g.Weight == 0 {
			continue
		}
		by, unit := 1.0, g.Unit
		switch g.Unit {
		case "s":
			by, unit = 3600, "h"
		case "g":
			by, unit = 1000, "kg"
		}
		out = append(out, GapRow{
			Part: g.Part, Level: g.Level, Unit: unit, By: g.By,
			Value: tenths(float64(g.Value) / by), Bound: tenths(float64(g.Bound) / by), Gap: tenths(float64(g.Open()) / by),
		})
	}
	return out
}
