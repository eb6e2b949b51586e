// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"cmp"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/relax"
	"towpath/scheduler/search"
)

// shift tries extra shifts of the people for whom the asked work waits: each
// alone, halved as long as it still meets the wish; where none does, all of them,
// less those that are not needed.
func (w *ways) shift() error {
	q, err := relax.Ask(w.a.fit.State, w.b.Now, w.a.fit.Plan, w.a.Ask.Order, relax.Effort{})
	if err != nil {
		return nil // nobody can say what it waits for
	}
	var list []relax.Candidate
	for _, c := range q.First {
		if c.Kind == relax.Shift && c.Set.Changes[0].Shift.Start < w.a.WishDue {
			list = append(list, c)
		}
	}
	var best *Fit // the nearest, where none meets the wish
	var who relax.Candidate
	met := false
	for _, c := range list {
		fit, err := w.withShifts(c)
		if err != nil {
			return err
		}
		if w.meets(fit) {
			met = true
			if c, fit, err = w.halved(q, c, fit); err != nil {
				return err
			}
			w.foundShift(fit, c)
		}
		if w.nearer(fit) && fit.Ships[0] < w.ships(best) {
			best, who = fit, c
		}
	}
	if met {
		return nil
	}
	if len(list) > 1 {
		all, fit, err := w.needed(list, w.ships(best))
		if err != nil {
			return err
		}
		if fit != nil {
			w.foundShift(fit, all...)
			return nil
		}
	}
	if best != nil {
		w.foundShift(best, who)
		return nil
	}
	return w.rescue()
}

// How many extra shifts are tried for those whom everything anew has beyond
// their dates, and how many of them are each worth planning everything anew.
const (
	rescues   = 8
	bestAlone = 2
)

// rescue tries extra shifts for the orders that everything planned anew, with
// the asked work in time, has beyond their dates: each with that plan's order of
// work, the best of them with everything anew once more, then all together.
func (w *ways) rescue() error {
	type saver struct {
		relax.Candidate
		over Tick
	}
	var list []saver
	var all []relax.Candidate
	for _, c := range w.savers() {
		fit, err := w.inOrder(c)
		if err != nil {
			return err
		}
		if w.nearer(fit) {
			w.foundShift(fit, c)
			return nil
		}
		if fit != nil {
			list, all = append(list, saver{c, w.over(fit)}), append(all, c)
		}
	}
	slices.SortStableFunc(list, func(x, y saver) int { return cmp.Compare(x.over, y.over) })
	for i := range min(bestAlone, len(list)) {
		if ok, err := w.anewWith(list[i].Candidate); ok || err != nil {
			return err
		}
	}
	if len(list) < 2 {
		return nil
	}
	_, err := w.anewWith(all...)
	return err
}

// savers are the extra shifts that the orders wait for whom everything anew has
// beyond their dates.
func (w *ways) savers() (list []relax.Candidate) {
	if w.nearly == nil {
		return nil
	}
	for _, m := range w.nearly.Moved {
		if m.Will <= w.b.Bar(scheduler.LineKey(m.Order, m.Line)) {
			continue
		}
		q, err := relax.Ask(w.nearly.State, w.b.Now, w.nearly.Plan, m.Order, relax.Effort{})
		if err != nil {
			continue
		}
		for _, c := range q.First {
			known := slices.ContainsFunc(list, func(x relax.Candidate) bool { return x.Key == c.Key })
			if c.Kind == relax.Shift && !known && len(list) < rescues {
				list = append(list, c)
			}
		}
	}
	return list
}

// inOrder times what came nearest anew with an extra shift; nil: it cannot be.
func (w *ways) inOrder(c relax.Candidate) (*Fit, error) {
	if err := w.stopped(); err != nil {
		return nil, err
	}
	after, keys, ok := w.staffed([]relax.Candidate{c})
	if !ok {
		return nil, nil
	}
	problem, err := scheduler.Compile(w.put(after), w.b.Now)
	if err != nil {
		return nil, nil
	}
	plan, err := search.Repair(problem, w.nearly.Plan)
	if err != nil {
		return nil, nil
	}
	return w.b.verified(after, plan, keys), nil
}

// anewWith plans everything anew with extra shifts, and notes those that the
// plan needs.
func (w *ways) anewWith(list ...relax.Candidate) (found bool, err error) {
	after, keys, ok := w.staffed(list)
	if !ok {
		return false, nil
	}
	fit, err := w.anew(after, keys, 2)
	if err != nil || !w.nearer(fit) {
		return false, err
	}
	fit, list = w.thinned(fit, keys, list)
	w.foundShift(fit, list...)
	return true, nil
}

// thinned leaves out the shifts that a plan does not need.
func (w *ways) thinned(fit *Fit, keys []string, list []relax.Candidate) (*Fit, []relax.Candidate) {
	for i := 0; i < len(list) && len(list) > 1; {
		less := slices.Delete(slices.Clone(list), i, i+1)
		if after, _, ok := w.staffed(less); ok {
			if f := w.b.verified(after, fit.Plan, keys); f.Kept {
				fit, list = f, less
				continue
			}
		}
		i++
	}
	return fit, list
}

// halved shortens a shift that meets the wish as long as it does.
func (w *ways) halved(q *relax.Question, c relax.Candidate, fit *Fit) (relax.Candidate, *Fit, error) {
	for {
		half, ok := q.Shorter(&c)
		if !ok {
			return c, fit, nil
		}
		f, err := w.withShifts(half)
		if err != nil || !w.meets(f) {
			return c, fit, err
		}
		c, fit = half, f
	}
}

// needed are those of several shifts that are needed to ship sooner than that,
// by the wish if all of them bring it there; nil: all together do not.
func (w *ways) needed(list []relax.Candidate, than Tick) ([]relax.Candidate, *Fit, error) {
	best, err := w.withShifts(list...)
	if err != nil || !w.nearer(best) || best.Ships[0] >= than {
		return nil, nil, err
	}
	by := max(best.Ships[0], w.a.WishDue)
	for i := 0; i < len(list) && len(list) > 1; {
		less := slices.Delete(slices.Clone(list), i, i+1)
		fit, err := w.withShifts(less...)
		if err != nil {
			return nil, nil, err
		}
		if w.nearer(fit) && fit.Ships[0] <= by {
			best, list = fit, less
		} else {
			i++
		}
	}
	return list, best, nil
}

func (w *ways) foundShift(fit *Fit, list ...relax.Candidate) {
	x := w.a.alternative(Shift, fit, w.a.Ask.Quantity)
	var text []string
	for i := range list {
		text = append(text, list[i].Words)
		x.PersonHours += list[i].Hours
		x.shifts = append(x.shifts, list[i].Set.Changes...)
	}
	x.Words = strings.Join(text, "; and ")
	w.found(x)
}

// withShifts fits the asked work in with extra shifts; nil: it does not fit.
func (w *ways) withShifts(list ...relax.Candidate) (*Fit, error) {
	if err := w.stopped(); err != nil {
		return nil, err
	}
	after, keys, ok := w.staffed(list)
	if !ok {
		return nil, nil
	}
	fit, err := w.b.Fit(after, keys)
	if err != nil {
		return nil, nil
	}
	return fit, nil
}

// staffed is the state with extra shifts and all pieces ordered by the wish;
// false: it cannot be.
func (w *ways) staffed(list []relax.Candidate) (after *scheduler.State, keys []string, ok bool) {
	var set resources.ChangeSet
	for i := range list {
		set.Changes = append(set.Changes, list[i].Set.Changes...)
	}
	plant, found := set.ApplyPlant(w.b.State.Plant, w.b.Now)
	if len(found) > 0 {
		return nil, nil, false
	}
	s, err := w.b.State.OnPlant(plant)
	if err != nil {
		return nil, nil, false
	}
	after, keys, err = w.a.Ask.with(s, w.b.Now, part{w.a.Ask.Quantity, w.a.WishDue})
	return after, keys, err == nil
}
