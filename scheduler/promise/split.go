// SPDX-License-Identifier: Apache-2.0

package promise

import "fmt"

// split looks for the most pieces that can leave by the wish, the rest as soon
// as it can be. The number is bisected: more pieces take no less time.
func (w *ways) split() error {
	low, high := 0, w.a.Ask.Quantity // low leave in time, high do not
	var best *Fit
	for high-low > 1 {
		if err := w.stopped(); err != nil {
			return err
		}
		n := (low + high) / 2
		after, keys, err := w.a.Ask.with(w.b.State, w.b.Now,
			part{n, w.a.WishDue}, part{w.a.Ask.Quantity - n, max(w.a.Earliest.Ship, w.a.WishDue)})
		if err != nil {
			return err
		}
		if fit, err := w.b.Fit(after, keys); err == nil && fit.Ships[0] <= w.a.WishDue {
			best, low = fit, n
		} else {
			high = n
		}
	}
	if best == nil {
		return nil
	}
	x := w.a.alternative(Split, best, low, w.a.Ask.Quantity-low)
	x.Words = fmt.Sprintf("two shipments: %d by the wish, %d %s", low, w.a.Ask.Quantity-low, w.on(best.Ships[1]))
	w.found(x)
	return nil
}

// on names the day of a shipment.
func (w *ways) on(at Tick) string { return "on " + day(at, w.b.State.Plant) }
