// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"fmt"
	"maps"
	"slices"
	"strconv"

	"towpath/resources"
	"towpath/resources/quality"
	"towpath/scheduler"
	"towpath/scheduler/risk"
)

// yield compares the share of pieces that pass a gate at their first result.
func (l *learner) yield(p *resources.Product, op *resources.Operation) Proposal {
	x := Proposal{About: Yield, Product: p.ID, Operation: op.ID, Plant: op.Yield, Revisions: []resources.Revision{}}
	if x.Plant == 0 {
		x.Plant = 1
	}
	passed := 0
	for _, r := range l.results[opOf{p.ID, op.ID}] {
		x.N++
		x.dates(r.At)
		if r.Decision == quality.Pass {
			passed++
		}
	}
	if x.N == 0 {
		return x
	}
	x.Seen = float64(passed) / float64(x.N)
	x.Low, x.High = risk.Wilson(passed, x.N, l.o.Confidence)
	x.Estimate = shrinkShare(x.Plant, passed, x.N, l.o.Weight)
	switch {
	case x.N < l.o.Least:
		x.Why = fmt.Sprintf("too few: %d of %d", x.N, l.o.Least)
	case x.within(x.Plant):
		x.Why = "agrees with the plant file"
	case x.Estimate < 0.001:
		x.Why = "hardly any passed: look at the gate, not at the plan"
	default:
		x.Why = "the plant's share lies outside the interval"
		text := strconv.FormatFloat(round(100*x.Estimate, 1), 'f', -1, 64) + " %"
		x.Revisions = append(x.Revisions, resources.Revision{Product: p.ID, Operation: op.ID, Key: "yield", Text: text})
	}
	return x
}

// firstResults sorts each piece's first result at each gate by product and
// operation: only the first says something of the first pass.
func firstResults(s *scheduler.State) map[opOf][]*scheduler.Result {
	all := map[opOf][]*scheduler.Result{}
	for _, serial := range slices.Sorted(maps.Keys(s.Pieces)) {
		p, seen := s.Pieces[serial], map[string]bool{}
		for i := range p.Results {
			if r := &p.Results[i]; !seen[r.Operation] {
				seen[r.Operation] = true
				of := opOf{p.Product, r.Operation}
				all[of] = append(all[of], r)
			}
		}
	}
	return all
}
