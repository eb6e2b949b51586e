// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"fmt"

	"towpath/scheduler"
	"towpath/scheduler/search"
)

// spots is from how many instants between now and the wish loads that are there
// already are looked at for room.
const spots = 6

// loads tries oven loads that are formed otherwise: closed without waiting to be
// full, and, waiting for them, shared with other orders whose loads have room.
func (w *ways) loads() error {
	after, keys, err := w.asked()
	if err != nil {
		return err
	}
	in, err := w.b.inserter(after, keys)
	if err != nil {
		return err
	}
	var best *Fit
	take := func(plan *scheduler.Plan) {
		if fit := w.b.verified(after, plan, keys); w.nearer(fit) && fit.Ships[0] < w.ships(best) {
			best = fit
		}
	}
	in.mustBeSooner(after.Plant, []Tick{w.a.Earliest.Ship})
	for i := 1; i < spots && !w.meets(best); i++ {
		if err := w.stopped(); err != nil {
			return err
		}
		if f, err := in.Shared(w.b.Now+Tick(i)*(w.a.WishDue-w.b.Now)/spots, in.latest); err == nil {
			take(f.Plan())
		}
	}
	if !w.meets(best) {
		if err := w.stopped(); err != nil {
			return err
		}
		in.Load(search.Sooner)
		list, _ := w.b.tries(in, after)
		if len(list) > 0 {
			take(list[len(list)-1].plan())
		}
	}
	if best == nil {
		return nil
	}
	x := w.a.alternative(Loads, best, w.a.Ask.Quantity)
	x.Words = w.loadWords(best.Plan)
	w.found(x)
	return nil
}

// loadWords says how the asked pieces are loaded.
func (w *ways) loadWords(plan *scheduler.Plan) string {
	was, wasShared := w.loaded(w.a.fit.Plan)
	will, shared := w.loaded(plan)
	return fmt.Sprintf("oven loads formed otherwise: %d with pieces of it, %d of them shared with other orders, instead of %d and %d", will, shared, was, wasShared)
}

// loaded counts the loads with pieces asked for, and those with others too.
func (w *ways) loaded(plan *scheduler.Plan) (loads, shared int) {
	asked := map[scheduler.Member]bool{}
	for i := range plan.Work {
		if x := &plan.Work[i]; x.Order == w.a.Ask.Order {
			asked[scheduler.Member{Piece: x.Piece, Operation: x.Operation}] = true
		}
	}
	for i := range plan.Loads {
		own := 0
		for _, m := range plan.Loads[i].Members {
			if asked[m] {
				own++
			}
		}
		if own == 0 || plan.Loads[i].Recipe == "" {
			continue
		}
		loads++
		if own < len(plan.Loads[i].Members) {
			shared++
		}
	}
	return loads, shared
}
