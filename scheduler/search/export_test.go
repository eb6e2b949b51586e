// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// RepairNear is the repair that leaves what is far as it is, but for what is
// pushed; nil when everything has to be timed again.
var RepairNear = repairLarge

// PlacedInOrder is an earlier plan with its operations placed in the order
// given, as far as they need not wait for others.
func PlacedInOrder(p *scheduler.Problem, old *scheduler.Plan, operations ...string) (*scheduler.Plan, error) {
	d, err := newDecoder(p)
	if err != nil {
		return nil, err
	}
	g, err := d.like(old)
	if err != nil {
		return nil, err
	}
	for a := range g.key {
		g.key[a] = float64(slices.Index(operations, p.Acts[a].Operation))
	}
	if !d.decode(g) {
		return nil, scheduler.ErrNothingPossible
	}
	return d.emit(), nil
}

// Push pushes an earlier plan alone: nil when facts have taken something away that
// it would have to keep. Whole tells whether nothing is left that only placing can
// put right.
func Push(p *scheduler.Problem, old *scheduler.Plan) (plan *scheduler.Plan, whole bool) {
	w, ok := matched(p, old)
	if !ok {
		return nil, false
	}
	x := rightShift(w)
	switch {
	case x == nil:
		return nil, false
	case x.odd:
		return x.shifted().old, false
	}
	return x.plan(), true
}
