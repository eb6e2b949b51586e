// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// RepairNear is the repair that leaves what is far as it is; nil when it has to
// be looked at too.
var RepairNear = repairNear

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
