// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/events"

// Gap is one part of a plan's objective: what the plan costs there, and what no
// plan for the same facts and the same now can go below. Between the two lies
// what a better plan might still win; that it can is not said.
type Gap struct {
	Part   string `json:"part" doc:"part of the objective"`
	Unit   string `json:"unit" doc:"unit of value and bound: weight, s, moves, cost or g; lateness in s is weighted"`
	Level  int    `json:"level" doc:"level at which the plant weighs it, 0 first"`
	Weight int64  `json:"weight" doc:"its weight there; 0: it costs nothing"`
	Value  int64  `json:"value" doc:"what the plan costs"`
	Bound  int64  `json:"bound" doc:"no plan costs less"`
	By     string `json:"by,omitempty" doc:"the relaxation that says so; of dates at 0 the tightest one and what it leaves; left out: only that nothing is below 0"`
}

// Open is what lies between the plan and the bound.
func (g *Gap) Open() int64 { return g.Value - g.Bound }

// Meets says that a plan is proven to be the best possible by its gaps: every
// part that costs something is at its bound. Without gaps nothing is proven.
func Meets(gaps []Gap) bool {
	for i := range gaps {
		if gaps[i].Weight != 0 && gaps[i].Open() != 0 {
			return false
		}
	}
	return len(gaps) > 0
}

// sound says that no bound is above what the plan costs.
func sound(gaps []Gap) bool {
	for i := range gaps {
		if gaps[i].Open() < 0 {
			return false
		}
	}
	return true
}

// Judge puts the gaps on a plan. Proven says that a search has shown it to be
// the best possible by other means than these bounds; they say nothing of waits
// that it breaks, of which another might keep some. Bounds above the cost
// belong to other facts, or another now, than the plan: then nothing is said,
// and Judge is false.
func (p *Plan) Judge(gaps []Gap, proven bool) bool {
	p.Gaps, p.Optimal = nil, false
	if !sound(gaps) {
		return false
	}
	p.Gaps, p.Optimal = gaps, proven || Meets(gaps) && len(p.Breaches) == 0
	return true
}

// parts are the gaps in the words of events.
func (p *Plan) parts() []events.PlanPart {
	var out []events.PlanPart
	for i := range p.Gaps {
		g := &p.Gaps[i]
		out = append(out, events.PlanPart{Part: g.Part, Unit: g.Unit, Value: g.Value, Bound: g.Bound, By: g.By})
	}
	return out
}
