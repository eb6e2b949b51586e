// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/scheduler"

// wide is how many activities a shop has whose plan is not timed again as a
// whole after each event: smaller ones take less than the blink of an eye.
const wide = 5000

func (m *model) wide() bool { return len(m.p.Acts) >= wide }

// repairLarge repairs the plan of a large shop: what is near is placed again, the
// others as the old plan has them. Where that would move work past the others,
// everything is placed once, as it was told and only later where facts ask for it;
// a better order is for a search to find. Waits near now that break then are looked
// at with what is near. nil: all that RepairWhole tries has to be tried.
func repairLarge(p *scheduler.Problem, old *scheduler.Plan) *scheduler.Plan {
	w := matched(p, old, newFinder(p))
	if plan := w.near(); plan != nil {
		return plan
	}
	plan, mend := w.placedAsTold()
	if plan == nil || mend == 0 {
		return plan
	}
	plan.Breaches = old.Breaches // the others are to be looked at
	again := matched(p, plan, w.names)
	again.shifts, again.brisk = w.shifts, true
	return again.near()
}

// placedAsTold is the earlier plan placed once as it was told, with how many waits that
// breaks which the earlier plan does not own up to, if one of all that are broken may
// be kept; nil when its order of things has become impossible.
func (w *window) placedAsTold() (plan *scheduler.Plan, mend int) {
	d, err := w.decoder(w.p, onceOf)
	if err != nil {
		return nil, 0
	}
	d.m.named = w.names
	g, err := d.told(w.old)
	if err != nil {
		return nil, 0
	}
	lost := d.unkept()
	if !d.decode(g) {
		return nil, 0
	}
	if d.breached() > lost {
		mend = d.fresh(w.old)
	}
	return d.emit(), mend
}

// amid has what stays on the board of those that are looked at again. When what is
// near is pushed in among what stays even where only the first of that is there, the
// rest is spared. nil: that is so, or what stays does not fit the facts as they are now.
func (d *decoder) amid(w *window, g *genome, inside, others []int32) *decoder {
	x := newBesides(d.b, w, inside, others)
	if !x.put(w.far + 3*pushed) {
		return nil
	}
	d.until = w.far + pushed
	near := d.decode(g.clone())
	d.until = 0
	if near && d.past(w, inside) {
		return nil
	}
	x.room()
	if x.put(never) {
		return d
	}
	// It does not fit the facts, or else what is near reaches too far.
	d = decoderOf(d.m)
	d.newLast = true
	if newBesides(d.b, w, inside, others).put(never) {
		return d
	}
	return nil
}

// reach is how far from now a repair looks, and growths how often it may take
// in more of what it had meant to leave.
const (
	reach   = Tick(3 * 86400)
	growths = 3
)

// near repairs what is near and leaves the others where the old plan has them;
// nil when that cannot be.
func (w *window) near() *scheduler.Plan {
	far := w.p.Now
	for a := range w.p.Acts {
		if f := w.p.Acts[a].Fixed; f != nil {
			far = max(far, f.End)
		}
	}
	w.look(far + reach)
	for range growths {
		inside, others := w.split()
		if w.wide(inside) {
			return nil
		}
		d, err := w.decoder(w.problem(inside, others), decoderOf)
		if err != nil {
			return nil
		}
		d.newLast = true // what is pushed could only jump over the others
		before := w.before()
		g, err := d.told(before)
		if err != nil {
			return nil
		}
		if d = d.amid(w, g, inside, others); d == nil {
			return nil
		}
		d.brisk = w.brisk
		plan, like := d.repairOf(before, g, func() bool { return d.past(w, inside) })
		if like == nil || !d.decode(like) {
			return nil
		}
		fits, hopeless := d.joined(w, inside)
		switch {
		case fits:
			return w.together(plan, others)
		case hopeless:
			return nil
		}
	}
	return nil
}
