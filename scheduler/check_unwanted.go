// SPDX-License-Identifier: Apache-2.0

package scheduler

import "slices"

// checkUnwanted: a place is not free while something runs on it, wanted or not:
// work of a piece whose order was cancelled, a load with no member left. It is
// over, at the soonest, after its plain duration; overdue, any moment.
func (v *verifier) checkUnwanted() {
	for i := range v.tasks {
		t := &v.tasks[i]
		if o := t.state; !t.piece.Scrapped && !t.open() && o.Load == "" && (o.Status == Started || o.Status == Paused) {
			v.mayNotBegin(o.Station, max(1, o.Place), v.soonest(t, o.Started, o.Station, 1), t.String())
		}
	}
	var running []string // of all the loads there ever were, few
	for id, load := range v.s.Loads {
		if load.Status == Started {
			running = append(running, id)
		}
	}
	slices.Sort(running)
	for _, id := range running {
		load := v.s.Loads[id]
		until, wanted := Tick(0), false
		for _, m := range load.Members {
			if t := v.byName[m]; t != nil {
				wanted = wanted || t.open()
				until = max(until, v.soonest(t, load.Started, load.Station, len(load.Members)))
			}
		}
		if !wanted {
			v.mayNotBegin(load.Station, 1, until, "load "+id)
		}
	}
}

// soonest is when work that began then can be over, should it not pause.
func (v *verifier) soonest(t *task, began Tick, station string, members int) Tick {
	st := v.stations[station]
	if st == nil {
		return began
	}
	each := Seconds(members) * (t.op.LoadEach + t.op.UnloadEach)
	return began + Tick(t.op.Load+v.s.Plant.RunTime(t.op, st)+t.op.Unload+each)
}

// mayNotBegin finds planned work on a place before it can be free.
func (v *verifier) mayNotBegin(station string, place int, until Tick, what string) {
	for _, y := range v.stays {
		if y.planned() && y.name == station && y.place == place && y.setup < until && y.setup < y.end && y.end > v.now {
			v.add(BreaksOccupancy, y.at(y.setup), "%s: on %s place %d from %s, where %s runs until %s, though nobody wants it any more",
				y, station, place, v.clock(y.setup), what, v.clock(until))
		}
	}
}
