// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"fmt"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// others is how much more it weighs in a search that another order is late than
// that the asked one is. It is not endless: a plan in which one other is late by
// hours is nearer to one that serves all than a plan with the asked work last.
const others = 20

// legs is how often everything is planned anew, with other luck.
const legs = 4

// replan plans everything anew, so that the asked work leaves by the wish and
// nobody else beyond their dates.
func (w *ways) replan() error {
	after, keys, err := w.asked()
	if err != nil {
		return err
	}
	best, err := w.anew(after, keys, legs)
	if err != nil {
		return err
	}
	if best == nil {
		return nil
	}
	x := w.a.alternative(Replan, best, w.a.Ask.Quantity)
	later := 0
	for _, m := range best.Moved {
		if m.Later > 0 {
			later++
		}
	}
	x.Words = fmt.Sprintf("everything planned anew within its dates: %d of the other order lines are complete later", later)
	w.found(x)
	return nil
}

// anew searches a state with the asked work in it, from a construction each time,
// until the wish is met. It comes back with the soonest that breaks no date, nil
// when there was none, and notes the one that came nearest to breaking none.
func (w *ways) anew(after *scheduler.State, keys []string, legs int) (best *Fit, err error) {
	problem, err := scheduler.Compile(w.put(after), w.b.Now)
	if err != nil {
		return nil, err
	}
	for leg := 0; leg < legs && !w.meets(best); leg++ {
		if err := w.stopped(); err != nil {
			return best, err
		}
		r, err := search.Improve(problem, search.Options{
			Seed: w.effort.Seed + uint64(leg), Iterations: max(1, w.effort.Iterations), Progress: w.progress,
		})
		if err != nil {
			return best, nil // what cannot be planned at all is no way
		}
		fit := w.b.verified(after, r.Plan, keys)
		if w.nearer(fit) && fit.Ships[0] < w.ships(best) {
			best = fit
		}
		if fit.Ships[0] <= w.a.WishDue && (w.nearly == nil || w.over(fit) < w.over(w.nearly)) {
			w.nearly = fit
		}
	}
	return best, nil
}

// over is by how much others are beyond their dates in a fit.
func (w *ways) over(f *Fit) (sum Tick) {
	for _, m := range f.Moved {
		sum += max(0, m.Will-w.b.Bar(scheduler.LineKey(m.Order, m.Line)))
	}
	return sum
}

// progress stops a search that is to be given up.
func (w *ways) progress() float64 {
	if w.effort.Stop != nil && w.effort.Stop() {
		return 1
	}
	return 0
}

// put is a state for a search in which nobody's date is worth more than that of
// the others, and the asked work is to leave by the wish.
func (w *ways) put(after *scheduler.State) *scheduler.State {
	out := after.Clone()
	for key, line := range after.Lines {
		if line.Cancelled || line.Order == scheduler.StockOrder {
			continue
		}
		x := *line
		x.Kind, x.Weight = resources.Firm, others
		if w.b.State.Lines[key] != nil {
			x.Due = w.b.Bar(key)
		} else {
			x.Due, x.Weight = w.a.WishDue, 1
		}
		out.Lines[key] = &x
	}
	return out
}
