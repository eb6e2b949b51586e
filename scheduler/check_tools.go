// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"maps"
	"slices"

	"towpath/resources"
)

// hold is one unit in somebody's hands, turnaround included.
type hold struct {
	unit string
	at   resources.Interval
	by   *task
}

// checkTools: the right units, free when taken, and held by one piece at a
// time.
func (v *verifier) checkTools() {
	pools := byID(v.s.Plant.Tools, func(x *resources.Tool) string { return x.ID })
	byUnit := map[string][]hold{}
	for i := range v.tasks {
		t := &v.tasks[i]
		if !t.open() {
			continue
		}
		units := t.state.Tools
		if t.work != nil && (t.planned() || len(units) == 0) {
			units = t.work.Tools
		}
		if t.work != nil && t.planned() {
			v.checkUnits(t, pools)
		} else if t.planned() {
			continue
		}
		for j, take := range t.op.Takes {
			if pool := pools[take.Tool]; pool != nil && j < len(units) {
				if h, held := v.holdOf(t, take, pool, units[j]); held {
					byUnit[units[j]] = append(byUnit[units[j]], h)
				}
			}
		}
	}
	for _, unit := range slices.Sorted(maps.Keys(byUnit)) {
		v.checkUnit(byUnit[unit])
	}
}

// checkUnits: one unit of the right pool for each tool, usable when taken.
func (v *verifier) checkUnits(t *task, pools map[string]*resources.Tool) {
	w := t.work
	if len(w.Tools) != len(t.op.Takes) {
		v.add(BreaksTool, t.at(w.Setup), "%s: takes %d tools, the plan names %v", t, len(t.op.Takes), w.Tools)
	}
	for j, take := range t.op.Takes {
		if j >= len(w.Tools) {
			return
		}
		unit := w.Tools[j]
		if pool := pools[take.Tool]; pool == nil || !slices.Contains(pool.Units, unit) {
			v.add(BreaksTool, t.at(w.Setup), "%s: %q is no unit of %s", t, unit, take.Tool)
			continue
		}
		if slices.Contains(w.Tools[:j], unit) {
			v.add(BreaksTool, t.at(w.Setup), "%s: takes %s twice", t, unit)
		}
		now := v.s.Tools[unit]
		if now == nil {
			continue
		}
		free, why := now.Free, "is free again"
		if now.Out {
			why = "is in use again"
			if now.Until > v.now {
				free = max(free, now.Until)
			} else {
				free = v.never()
			}
		}
		if w.Setup < free {
			v.add(BreaksToolState, t.at(w.Setup), "%s: takes %s at %s, before it %s at %s", t, unit, v.clock(w.Setup), why, v.clock(free))
		}
	}
}

// holdOf is how long a task's unit is away. False when it has been given back,
// or somebody has brought it back by hand.
func (v *verifier) holdOf(t *task, take resources.Take, pool *resources.Tool, unit string) (hold, bool) {
	h := hold{unit: unit, by: t}
	if t.planned() {
		h.at.Start = t.work.Setup
	} else {
		h.at.Start = t.state.Started
	}
	back, known := v.givenBack(t, take)
	if !known {
		if now := v.s.Tools[unit]; now != nil && now.Holder == "" && !t.planned() {
			return h, false
		}
		h.at.End = max(h.at.Start, v.never())
		return h, true
	}
	h.at.End = back + Tick(pool.Turnaround)
	return h, true
}

// givenBack is the end of the operation that gives a tool back, on the piece
// itself, its tube, or all its shafts. A piece that does not pass there gives
// it back where it takes it. False when that cannot be planned.
func (v *verifier) givenBack(t *task, take resources.Take) (Tick, bool) {
	givers := v.sources(t, take.Until)
	if len(givers) == 0 {
		givers = []*task{t}
	}
	var back Tick
	for i, g := range givers {
		var end Tick
		switch {
		case g.state.Status == Done:
			end = g.state.Ended
		case g.work != nil:
			end = g.work.End
		default:
			return 0, false
		}
		if i == 0 || end > back {
			back = end
		}
	}
	return back, true
}

// checkUnit: holds of one unit do not overlap. Two that have both begun are
// facts.
func (v *verifier) checkUnit(holds []hold) {
	slices.SortStableFunc(holds, func(a, b hold) int {
		return cmp.Or(cmp.Compare(a.at.Start, b.at.Start), cmp.Compare(a.at.End, b.at.End),
			cmp.Compare(a.by.piece.Serial, b.by.piece.Serial))
	})
	busy := -1
	for i, h := range holds {
		if busy >= 0 && h.at.Start < holds[busy].at.End && h.at.Start < h.at.End && (h.by.planned() || holds[busy].by.planned()) {
			v.add(BreaksToolHold, h.by.at(h.at.Start), "%s: takes %s at %s, which %s has, with its turnaround, until %s",
				h.by, h.unit, v.clock(h.at.Start), holds[busy].by, v.clock(holds[busy].at.End))
		}
		if busy < 0 || h.at.End > holds[busy].at.End {
			busy = i
		}
	}
}
