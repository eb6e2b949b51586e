// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"

	"towpath/resources"
)

// standard is how long the working parts of a stay last without a pause: the
// longest member, and for handling also the sum of the per-member times.
func (v *verifier) standard(y *stay) (load, run, unload Seconds) {
	var loadEach, unloadEach Seconds
	for _, t := range y.tasks {
		load = max(load, t.op.Load)
		loadEach += t.op.LoadEach
		run = max(run, v.s.Plant.RunTime(t.op, y.station))
		unload = max(unload, t.op.Unload)
		unloadEach += t.op.UnloadEach
	}
	return load + loadEach, run, unload + unloadEach
}

// checkDurations: each part lasts what the operations ask, to the second.
func (v *verifier) checkDurations(y *stay) {
	load, run, unload := v.standard(y)
	if got := Seconds(y.run - y.start); got != load {
		v.add(BreaksLoading, y.at(y.start), "%s: loading lasts %s, it takes %s", y, long(got), long(load))
	}
	for _, t := range y.tasks {
		if t.op.MaxRun > 0 && run > t.op.MaxRun && !v.closed(y) {
			v.add(BreaksMaxRun, t.at(y.run), "%s: the run takes %s, %s may stay %s", y, long(run), t, long(t.op.MaxRun))
		}
	}
	v.checkRunEnd(y, run)
	waits := !slices.ContainsFunc(y.tasks, func(t *task) bool { return !t.op.WaitInside })
	if y.unload > y.runEnd && !waits {
		v.add(BreaksWaitInside, y.at(y.runEnd), "%s: the run ends %s and unloading starts %s, but it may not wait inside",
			y, v.clock(y.runEnd), v.clock(y.unload))
	}
	if got := Seconds(y.end - y.unload); got != unload {
		v.add(BreaksUnloading, y.at(y.unload), "%s: unloading lasts %s, it takes %s", y, long(got), long(unload))
	}
}

func (v *verifier) checkRunEnd(y *stay, run Seconds) {
	end, possible := y.run+Tick(run), true
	if y.mayPause() {
		end, possible = workingTime(y.run, run, v.workedAt(y)...)
	}
	switch {
	case !possible:
		v.add(BreaksRun, y.at(y.run), "%s: from %s on there is not %s of working time left before the plan's end",
			y, v.clock(y.run), long(run))
	case end != y.runEnd:
		v.add(BreaksRun, y.at(y.run), "%s: the run takes %s from %s, so it ends %s, not %s",
			y, long(run), v.clock(y.run), v.clock(end), v.clock(y.runEnd))
	}
}

// workedAt lists what must all be at work for a run that may pause to go on:
// the station and, for each need, its crew. A station that runs unattended
// goes on alone when nobody is needed.
func (v *verifier) workedAt(y *stay) []*openings {
	needed := false
	var at []*openings
	for _, n := range v.needs(y) {
		if n.part != resources.PartRun {
			continue
		}
		needed = true
		for _, u := range y.tasks[0].work.People {
			if u.Part == n.part && u.Skill == n.skill {
				if r := v.roster(u.Crew); r != nil {
					at = append(at, r.on)
				}
			}
		}
	}
	hours := alwaysOpen
	if !y.station.Unattended || needed {
		hours = v.openingsOf(y.station.Calendar)
	}
	for _, stop := range v.stopsOf(y.station) {
		hours = hours.without(stop, v.from, v.to)
	}
	return append(at, hours)
}

// checkOpening: the station is open, and not stopped, when something happens.
func (v *verifier) checkOpening(y *stay) {
	for _, stop := range v.stopsOf(y.station) {
		for _, p := range parts {
			at := v.left(y, p)
			if p == resources.PartRun && y.mayPause() {
				continue
			}
			if at.Start < at.End && at.Start < stop.End && at.End > stop.Start {
				v.add(BreaksStop, y.at(at.Start), "%s: %s from %s to %s, but %s is down until %s",
					y, partName(p), v.clock(at.Start), v.clock(at.End), y.name, v.clock(stop.End))
			}
		}
	}
	hours := v.openingsOf(y.station.Calendar)
	if hours.always {
		return
	}
	if y.station.Unattended {
		for _, p := range parts {
			if p == resources.PartRun && y.mayPause() || !v.attended(y, p) {
				continue
			}
			v.mustBeOpen(y, hours, partName(p), v.left(y, p))
		}
		return
	}
	work := resources.Interval{Start: y.setup, End: y.runEnd}
	if y.setup < v.now {
		v.mustBeOpen(y, hours, partName(resources.PartSetup), v.left(y, resources.PartSetup))
		work.Start = y.start
	}
	if y.mayPause() {
		work.End = y.run
	}
	v.mustBeOpen(y, hours, "from changeover to the end of what may not pause", work)
	v.mustBeOpen(y, hours, partName(resources.PartUnload), y.part(resources.PartUnload))
}

// left is what is still to be done of a part: of a changeover in hand only the
// rest. It is over when it has lasted as long as one takes from what the
// station is set up for, and waits for its work from then on.
func (v *verifier) left(y *stay, p resources.Part) resources.Interval {
	at := y.part(p)
	if p != resources.PartSetup || at.Start >= v.now {
		return at
	}
	if y.planned() && y.mix == nil && y.station != nil {
		var least Seconds
		for _, t := range y.tasks {
			least = max(least, v.changeover(y.station, nil, t.op))
		}
		at.End = min(at.End, at.Start+Tick(least))
	}
	at.Start = v.now
	if at.End <= at.Start {
		return resources.Interval{Start: y.start, End: y.start}
	}
	return at
}

func (v *verifier) mustBeOpen(y *stay, hours *openings, what string, at resources.Interval) {
	if !hours.covers(at) {
		v.add(BreaksOpening, y.at(at.Start), "%s: %s, %s to %s, is not within one opening of %s",
			y, what, v.clock(at.Start), v.clock(at.End), y.name)
	}
}

// attended says that people are wanted for a part.
func (v *verifier) attended(y *stay, p resources.Part) bool {
	return slices.ContainsFunc(v.needs(y), func(n need) bool { return n.part == p })
}

var parts = [...]resources.Part{resources.PartSetup, resources.PartLoad, resources.PartRun, resources.PartUnload}

func partName(p resources.Part) string {
	switch p {
	case resources.PartSetup:
		return "changeover"
	case resources.PartLoad:
		return "loading"
	case resources.PartRun:
		return "run"
	case resources.PartUnload:
		return "unloading"
	}
	return "an unknown part"
}

// stopsOf are the stretches in which nothing runs on a station: the planned
// ones, and the one it is in now. Nobody knowing the end of that, it is taken
// to last a shift from when the plan was made.
func (v *verifier) stopsOf(station *resources.Station) []resources.Interval {
	if stops, known := v.stops[station.ID]; known {
		return stops
	}
	stops, err := station.PlannedStops(v.s.Plant.Zone, v.from, v.to)
	if err != nil {
		v.add(BreaksStop, Violation{Station: station.ID, At: v.now}, "%v", err)
	}
	if st := v.s.Stations[station.ID]; st != nil && st.Down {
		until := st.Until
		if until <= v.now {
			until = max(v.now, v.made()+Tick(unknownStop))
		}
		stops = append(stops, resources.Interval{Start: min(st.Since, v.now), End: until})
	}
	v.stops[station.ID] = stops
	return stops
}
