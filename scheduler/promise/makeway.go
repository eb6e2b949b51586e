// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"towpath/scheduler"
)

// How many orders are tried alone, and how many may make way together.
const (
	mostAlone    = 12
	mostTogether = 5
)

// mover is an order that may make way: it has pieces that nobody has begun, in
// the plan before the wish, and time to spare.
type mover struct {
	order string
	spare scheduler.Seconds
	fit   *Fit // with it alone making way, nearer to the wish than the answer; nil: none
}

// makeWay lets named orders make way: their pieces that nobody has begun are
// taken out of the plan, the asked work is put where that leaves room, and
// theirs in again behind it. Nothing else is moved by a second.
func (w *ways) makeWay() error {
	list := w.movers()
	met := 0
	for i := range list {
		fit, err := w.way(list[i].order)
		if err != nil {
			return err
		}
		if w.nearer(fit) {
			list[i].fit = fit
		}
		if w.meets(fit) {
			w.foundWay(fit, list[i].order)
			if met++; met == 2 {
				return nil
			}
		}
	}
	if met > 0 {
		return nil
	}
	return w.together(list)
}

// together lets several make way, those first that help most alone, and leaves
// out again who is not needed.
func (w *ways) together(list []mover) error {
	slices.SortStableFunc(list, func(x, y mover) int { return cmp.Compare(w.ships(x.fit), w.ships(y.fit)) })
	var orders []string
	var best *Fit
	var who []string
	for _, m := range list[:min(len(list), mostTogether)] {
		orders = append(orders, m.order)
		fit := m.fit
		if len(orders) > 1 {
			var err error
			if fit, err = w.way(orders...); err != nil {
				return err
			}
		}
		if w.nearer(fit) && fit.Ships[0] < w.ships(best) {
			best, who = fit, slices.Clone(orders)
		}
		if w.meets(best) {
			break
		}
	}
	if best == nil {
		return nil
	}
	for i := 0; i < len(who) && len(who) > 1; {
		less := slices.Delete(slices.Clone(who), i, i+1)
		fit, err := w.way(less...)
		if err != nil {
			return err
		}
		if w.nearer(fit) && fit.Ships[0] <= best.Ships[0] {
			best, who = fit, less
		} else {
			i++
		}
	}
	w.foundWay(best, who...)
	return nil
}

func (w *ways) ships(f *Fit) Tick {
	if f == nil {
		return w.a.Earliest.Ship
	}
	return f.Ships[0]
}

// foundWay notes orders that make way.
func (w *ways) foundWay(fit *Fit, orders ...string) {
	x := w.a.alternative(Orders, fit, w.a.Ask.Quantity)
	x.MakeWay = slices.Sorted(slices.Values(orders))
	var text []string
	for _, o := range x.MakeWay {
		later := scheduler.Seconds(0)
		for _, m := range fit.Moved {
			if m.Order == o {
				later = max(later, m.Later)
			}
		}
		if later > 0 {
			text = append(text, fmt.Sprintf("%s (%.1f h later)", o, float64(later)/3600))
		} else {
			text = append(text, o+" (no later)")
		}
	}
	noun, verb := "orders", "make"
	if len(text) == 1 {
		noun, verb = "order", "makes"
	}
	x.Words = fmt.Sprintf("%s %s %s way; everything else stays as it is", noun, strings.Join(text, ", "), verb)
	w.found(x)
}

// again lets the same orders make way as before.
func (w *ways) again(orders []string) error {
	fit, err := w.way(orders...)
	if err == nil && w.nearer(fit) {
		w.foundWay(fit, orders...)
	}
	return err
}

// way puts the asked work in with some orders making way; nil: that is no way.
func (w *ways) way(orders ...string) (*Fit, error) {
	if err := w.stopped(); err != nil {
		return nil, err
	}
	after, keys, err := w.asked()
	if err != nil {
		return nil, err
	}
	in, err := w.b.inserterInto(after, w.b.without(orders), keys)
	if err != nil {
		return nil, nil // what is left of the plan does not stand by itself
	}
	in.Load(0, in.lines...)
	f, err := in.Around()
	if err != nil || shipment(after, f.Ready(in.lines)[0]) >= w.a.Earliest.Ship {
		return nil, nil
	}
	if fit := w.b.verified(after, f.Plan(), keys); fit.Kept {
		return fit, nil
	}
	return nil, nil
}

// movers are the orders that may make way, those with most time to spare first.
func (w *ways) movers() []mover {
	before := map[string]bool{}
	for i := range w.b.Plan.Work {
		x := &w.b.Plan.Work[i]
		if x.Start < w.a.WishDue && !begun(w.b.State.Pieces[x.Piece]) {
			before[x.Order] = true
		}
	}
	spare := map[string]scheduler.Seconds{}
	for key, end := range w.b.Ends {
		line := w.b.State.Lines[key]
		if !before[line.Order] || !end.Known {
			continue
		}
		left := scheduler.Seconds(line.Due - end.End)
		if was, ok := spare[line.Order]; !ok || left < was {
			spare[line.Order] = left
		}
	}
	var out []mover
	for _, order := range slices.Sorted(maps.Keys(spare)) {
		if spare[order] > 0 {
			out = append(out, mover{order: order, spare: spare[order]})
		}
	}
	slices.SortStableFunc(out, func(x, y mover) int { return cmp.Compare(y.spare, x.spare) })
	return out[:min(len(out), mostAlone)]
}

// begun tells whether work on a piece has begun.
func begun(p *scheduler.Piece) bool {
	return p == nil || slices.ContainsFunc(p.Ops, func(o scheduler.OpState) bool { return o.Status != scheduler.Planned })
}

// without is the present plan less the pieces of some orders that nobody has
// begun.
func (b *Present) without(orders []string) *scheduler.Plan {
	plan := *b.Plan
	gone := func(piece, order string) bool {
		return slices.Contains(orders, order) && !begun(b.State.Pieces[piece])
	}
	plan.Work = slices.DeleteFunc(slices.Clone(plan.Work), func(x scheduler.Work) bool { return gone(x.Piece, x.Order) })
	plan.Loads = slices.Clone(plan.Loads)
	for i := range plan.Loads {
		l := &plan.Loads[i]
		l.Members = slices.DeleteFunc(slices.Clone(l.Members), func(m scheduler.Member) bool {
			p := b.State.Pieces[m.Piece]
			return p != nil && gone(m.Piece, p.Order)
		})
	}
	plan.Loads = slices.DeleteFunc(plan.Loads, func(l scheduler.Load) bool { return len(l.Members) == 0 })
	return &plan
}
