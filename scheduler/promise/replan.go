// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"fmt"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// others is how much more it weighs in a search that another order is late than
// that the asked one is: so much that it is not worth a minute.
const others = 1000

// legs is how often a search looks whether it has got there.
const legs = 4

// replan plans everything anew, so that the asked work leaves by the wish and
// nobody else beyond their dates.
func (w *ways) replan() error {
	after, keys, err := w.asked()
	if err != nil {
		return err
	}
	problem, err := scheduler.Compile(w.put(after), w.b.Now)
	if err != nil {
		return err
	}
	var best *Fit
	for _, from := range w.starts(after, keys) {
		for leg := range legs {
			if err := w.stopped(); err != nil {
				return err
			}
			r, err := search.Improve(problem, search.Options{
				Seed: w.effort.Seed + uint64(leg), Iterations: max(1, w.effort.Iterations/legs), Start: from, Stay: true, Progress: w.progress,
			})
			if err != nil {
				break
			}
			from = r.Plan
			fit := w.b.verified(after, r.Plan, keys)
			if w.nearer(fit) && fit.Ships[0] < w.ships(best) {
				best = fit
			}
			if w.meets(best) {
				break
			}
		}
		if w.meets(best) {
			break
		}
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

// starts are plans in which the asked work is as early as it can be, whoever else
// that makes late.
func (w *ways) starts(after *scheduler.State, keys []string) (list []*scheduler.Plan) {
	in, err := w.b.inserter(after, keys)
	if err != nil {
		return nil
	}
	for _, early := range []func() (*search.Fit, error){
		func() (*search.Fit, error) { return in.Shared(w.b.Now, nil) },
		func() (*search.Fit, error) { return in.Among(w.b.Now, nil) },
	} {
		if f, err := early(); err == nil {
			list = append(list, f.Plan())
		}
	}
	return list
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
