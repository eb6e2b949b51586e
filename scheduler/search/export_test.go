// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// RepairLarge is the repair of a large shop: nil when all has to be tried that
// takes everything's times again.
var RepairLarge = repairLarge

// RepairNear is the part of it that leaves what is far as it is; nil when that
// cannot be.
func RepairNear(p *scheduler.Problem, old *scheduler.Plan) *scheduler.Plan {
	return matched(p, old, newFinder(p)).near()
}

// PlacedAsTold is the part of it that places everything once; how many waits break that
// did not, if any may be kept.
func PlacedAsTold(p *scheduler.Problem, old *scheduler.Plan) (plan *scheduler.Plan, mend int) {
	return matched(p, old, newFinder(p)).placedAsTold()
}

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

// Unkept is how many longest waits whose clock runs no plan of a problem can keep, as
// far as a repair knows.
func Unkept(p *scheduler.Problem) (int, error) {
	d, err := newDecoder(p)
	if err != nil {
		return 0, err
	}
	return d.unkept(), nil
}

// WayEnds is when the new work ends by each way to form its loads, with nothing
// given up on the way; those that fail are left out.
func (x *Inserter) WayEnds() (ends []Tick, err error) {
	for _, how := range groupings {
		g, err := x.genome(x.around.m, how)
		if err != nil {
			return nil, err
		}
		if x.place(g) {
			ends = append(ends, x.around.lastOf(x.fresh))
		}
	}
	return ends, nil
}
