// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler/relax"
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
	if met || len(list) == 0 {
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
	}
	return nil
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
	}
	x.Words = strings.Join(text, "; and ")
	w.found(x)
}

// withShifts fits the asked work in with extra shifts; nil: it does not fit.
func (w *ways) withShifts(list ...relax.Candidate) (*Fit, error) {
	if err := w.stopped(); err != nil {
		return nil, err
	}
	var set resources.ChangeSet
	for i := range list {
		set.Changes = append(set.Changes, list[i].Set.Changes...)
	}
	b, ok := w.b.on(&set)
	if !ok {
		return nil, nil
	}
	after, keys, err := w.a.Ask.with(b.State, b.Now, part{w.a.Ask.Quantity, w.a.WishDue})
	if err != nil {
		return nil, err
	}
	fit, err := b.Fit(after, keys)
	if err != nil {
		return nil, nil
	}
	return fit, nil
}

// on is the present on a changed plant, everybody's dates as they are.
func (b *Present) on(set *resources.ChangeSet) (*Present, bool) {
	plant, found := set.ApplyPlant(b.State.Plant, b.Now)
	if len(found) > 0 {
		return nil, false
	}
	s, err := b.State.OnPlant(plant)
	if err != nil {
		return nil, false
	}
	return &Present{State: s, Now: b.Now, Plan: b.Plan, Ends: b.Ends, unproven: true}, true
}
