// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"maps"
	"slices"

	"towpath/resources"
)

// checkCoverage: every operation of every open piece is there, and held or
// unwanted pieces have no planned work.
func (v *verifier) checkCoverage() {
	alive := map[*Piece]bool{} // open pieces with something left to do
	for i := range v.tasks {
		t := &v.tasks[i]
		if t.open() && t.state.Status != Done {
			alive[t.piece] = true
		}
	}
	for i := range v.tasks {
		t := &v.tasks[i]
		switch {
		case t.listed && t.planned() && (!t.open() || t.piece.Held):
			v.add(BreaksHold, t.at(v.now), "%s: planned, but the piece is %s", t, whyIdle(t))
		case t.listed && t.planned() && t.blocked:
			v.add(BreaksPredecessor, t.at(v.now), "%s: planned, but it waits for work that cannot be planned", t)
		case !t.listed && v.mustBePlanned(t, alive[t.piece]):
			v.add(BreaksCoverage, t.at(v.now), "%s: missing from the plan", t)
		}
	}
}

func (v *verifier) mustBePlanned(t *task, alive bool) bool {
	if !t.open() || !alive {
		return false
	}
	switch t.state.Status {
	case Planned:
		return !t.piece.Held && !t.blocked
	case Done:
		return !t.piece.Held
	}
	return true
}

func whyIdle(t *task) string {
	switch {
	case t.piece.Scrapped:
		return "scrapped"
	case t.line == nil || t.line.Cancelled:
		return "of a line that is cancelled"
	}
	return "held: " + t.piece.Why
}

// checkQuantities: the pieces of a line that are not scrapped are enough for
// what was ordered, and every shaft comes from a tube that gives so many.
func (v *verifier) checkQuantities() {
	for _, key := range slices.Sorted(maps.Keys(v.s.Lines)) {
		line := v.s.Lines[key]
		product := v.products[line.Product]
		if line.Cancelled || line.Order == "stock" {
			continue
		}
		where := Violation{Order: line.Order, At: v.now}
		if product == nil {
			v.add(BreaksQuantity, where, "order %s line %s: the plant has no product %q", line.Order, line.Line, line.Product)
			continue
		}
		if good, samples := v.count(line, product, where); good < line.Quantity || samples < product.Samples {
			v.add(BreaksQuantity, where, "order %s line %s: there are %d pieces and %d samples for it, %d and %d are wanted",
				line.Order, line.Line, good, samples, line.Quantity, product.Samples)
		}
	}
}

// count adds up the pieces that go to the customer, and the samples.
func (v *verifier) count(line *Line, product *resources.Product, where Violation) (good, samples int) {
	split := splitOf(product)
	cut := map[string]int{}
	for _, serial := range line.Pieces {
		piece := v.s.Pieces[serial]
		switch {
		case piece == nil:
			v.add(BreaksQuantity, where, "order %s line %s: piece %s is listed and unknown", line.Order, line.Line, serial)
		case piece.Scrapped || split > 0 && !piece.Shaft:
		case piece.Sample:
			samples++
		default:
			good++
		}
		if piece == nil || !piece.Shaft || piece.Scrapped {
			continue
		}
		cut[piece.Parent]++
		if v.s.Pieces[piece.Parent] == nil || cut[piece.Parent] > split {
			v.add(BreaksQuantity, where, "order %s line %s: shaft %s comes from tube %q, which gives %d shafts if it exists",
				line.Order, line.Line, serial, piece.Parent, split)
		}
	}
	return good, samples
}

// splitOf is into how many shafts a tube of the product is cut, 0 for none.
func splitOf(product *resources.Product) int {
	for i := range product.Routing {
		if product.Routing[i].Split > 0 {
			return product.Routing[i].Split
		}
	}
	return 0
}

// checkFacts: started and done work is in the plan as it was reported.
func (v *verifier) checkFacts() {
	for i := range v.tasks {
		t := &v.tasks[i]
		if t.work == nil {
			continue
		}
		w, o := t.work, t.state
		if w.Status != o.Status {
			v.add(BreaksFacts, t.at(w.Start), "%s: the plan says %s, reported is %s", t, w.Status, o.Status)
			continue
		}
		if o.Status == Planned {
			continue
		}
		v.checkReported(t)
		switch {
		case w.Start != o.Started:
			v.add(BreaksFacts, t.at(w.Start), "%s: starts %s in the plan, but started %s", t, v.clock(w.Start), v.clock(o.Started))
		case o.Status == Done && w.End != o.Ended:
			v.add(BreaksFacts, t.at(w.Start), "%s: ends %s in the plan, but ended %s", t, v.clock(w.End), v.clock(o.Ended))
		case o.Status != Done && w.End < v.now:
			v.add(BreaksFacts, t.at(w.Start), "%s: has started and is not reported finished, so it cannot end %s, before now", t, v.clock(w.End))
		}
	}
}

// checkReported compares the resources of work that has started.
func (v *verifier) checkReported(t *task) {
	w, o := t.work, t.state
	differs := func(what string, planned, reported any) {
		v.add(BreaksFacts, t.at(w.Start), "%s: %s %v in the plan, but %v was reported", t, what, planned, reported)
	}
	if w.Station != o.Station {
		differs("station", w.Station, o.Station)
	}
	if o.Place > 0 && w.Place != o.Place {
		differs("place", w.Place, o.Place)
	}
	if w.Load != o.Load {
		differs("load", w.Load, o.Load)
	}
	if w.Mix != o.Mix {
		differs("mix", w.Mix, o.Mix)
	}
	if len(o.Tools) > 0 && !slices.Equal(w.Tools, o.Tools) {
		differs("tools", w.Tools, o.Tools)
	}
}

// checkNow: nothing is planned in the past, or before it may begin.
func (v *verifier) checkNow() {
	published := v.published()
	for i := range v.tasks {
		t := &v.tasks[i]
		if t.work == nil || !t.planned() {
			continue
		}
		w := t.work
		if w.Setup < v.now && !underWay(published[t.name()], w, v.now) {
			v.add(BreaksNow, t.at(w.Setup), "%s: begins %s, before now (%s)", t, v.clock(w.Setup), v.clock(v.now))
		}
		if t.line != nil && w.Start < t.line.EarliestStart {
			v.add(BreaksRelease, t.at(w.Start), "%s: loading starts %s, the order may not start before %s",
				t, v.clock(w.Start), v.clock(t.line.EarliestStart))
		}
	}
}

// published is the work of the last published plan.
func (v *verifier) published() map[Member]*Work {
	if v.s.Plan == nil {
		return nil
	}
	m := make(map[Member]*Work, len(v.s.Plan.Work))
	for i := range v.s.Plan.Work {
		w := &v.s.Plan.Work[i]
		m[Member{w.Piece, w.Operation}] = w
	}
	return m
}

// underWay says that people have the changeover in hand: it was published
// just so, and loading is still to come.
func underWay(was, w *Work, now Tick) bool {
	return was != nil && was.Station == w.Station && was.Place == w.Place && was.Setup == w.Setup && w.Start >= now
}

// checkFreeze: people have been told what comes next, so work published to
// begin, with its changeover, inside a station's frozen window stays there and
// does not move forward. It may slip: that is churn, not a violation.
func (v *verifier) checkFreeze() {
	published := v.published()
	for i := range v.tasks {
		t := &v.tasks[i]
		was := published[t.name()]
		if t.work == nil || !t.planned() || was == nil || was.Status != Planned {
			continue
		}
		station := v.stations[was.Station]
		if station == nil || !slices.Contains(t.op.Stations, was.Station) || v.isDown(was.Station) {
			continue
		}
		if was.Setup >= v.now+Tick(freezeOf(v.s.Plant, station)) || v.closedElsewhere(t) {
			continue
		}
		if t.work.Station != was.Station {
			v.add(BreaksFreeze, t.at(t.work.Start), "%s: published for %s at %s, inside its frozen window, and now planned on %s",
				t, was.Station, v.clock(was.Start), t.work.Station)
		} else if t.work.Start < was.Start {
			v.add(BreaksFreeze, t.at(t.work.Start), "%s: published for %s, inside the frozen window, and now planned earlier, %s",
				t, v.clock(was.Start), v.clock(t.work.Start))
		}
	}
}

func freezeOf(plant *resources.Plant, station *resources.Station) Seconds {
	if station.Freeze > 0 {
		return station.Freeze
	}
	return plant.Freeze
}

func (v *verifier) isDown(station string) bool {
	st := v.s.Stations[station]
	return st != nil && st.Down
}

// closedElsewhere says that people have put the piece into a load themselves,
// whatever was published.
func (v *verifier) closedElsewhere(t *task) bool {
	if t.work.Load == "" {
		return false
	}
	run := v.s.Loads[t.work.Load]
	return run != nil && run.Station == t.work.Station && slices.Contains(run.Members, t.name())
}
