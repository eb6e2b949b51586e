// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"maps"
	"slices"

	"towpath/resources"
)

// stay is what occupies a place of a station from its changeover to its end:
// one piece, a load, or a mix in the making. Work that is done has left.
type stay struct {
	tasks   []*task // members, in the load's order; nil for a mix
	load    *Load   // nil for a single piece
	mix     *Mix
	station *resources.Station // nil: the plant has none of that name
	name    string             // of the station
	place   int
	status  Status

	setup, start, run, runEnd, unload, end Tick

	wanted []need // people; see needs
}

func (y *stay) planned() bool { return y.status == Planned }

// String names the stay for a message.
func (y *stay) String() string {
	switch {
	case y.mix != nil:
		return "mix " + y.mix.ID
	case y.load != nil:
		return "load " + y.load.ID
	}
	return y.tasks[0].String()
}

// at is where the stay is for a message.
func (y *stay) at(when Tick) Violation {
	x := Violation{Station: y.name, At: when}
	if len(y.tasks) > 0 {
		x.Piece, x.Operation, x.Order = y.tasks[0].piece.Serial, y.tasks[0].op.ID, y.tasks[0].piece.Order
	}
	return x
}

// part is one of the four stretches of work.
func (y *stay) part(p resources.Part) resources.Interval {
	switch p {
	case resources.PartSetup:
		return resources.Interval{Start: y.setup, End: y.start}
	case resources.PartLoad:
		return resources.Interval{Start: y.start, End: y.run}
	case resources.PartRun:
		return resources.Interval{Start: y.run, End: y.runEnd}
	}
	return resources.Interval{Start: y.unload, End: y.end}
}

// mayPause says that the run stops when people go home: only if every member
// bears it.
func (y *stay) mayPause() bool {
	return len(y.tasks) > 0 && !slices.ContainsFunc(y.tasks, func(t *task) bool { return !t.op.MayPause })
}

// buildStays puts loads, single pieces and mixes on their places, and checks
// that loads and their members agree.
func (v *verifier) buildStays() {
	for i := range v.p.Loads {
		v.buildLoad(&v.p.Loads[i])
	}
	for i := range v.tasks {
		t := &v.tasks[i]
		if t.work == nil || t.stay != nil || t.work.Status == Done {
			continue
		}
		v.buildSingle(t)
	}
	for i := range v.p.Mixes {
		v.buildMix(&v.p.Mixes[i])
	}
}

func (v *verifier) buildSingle(t *task) {
	w := t.work
	station := v.stations[w.Station]
	t.stay = &stay{
		tasks: []*task{t}, station: station, name: w.Station, place: w.Place, status: w.Status,
		setup: w.Setup, start: w.Start, run: w.Run, runEnd: w.RunEnd, unload: w.Unload, end: w.End,
	}
	v.stays = append(v.stays, t.stay)
	switch {
	case w.Load != "" && v.loads[w.Load] == nil:
		v.add(BreaksMembership, t.at(w.Start), "%s: in load %q, which the plan does not list", t, w.Load)
	case w.Load != "":
		v.add(BreaksMembership, t.at(w.Start), "%s: in load %q, which does not list it as a member", t, w.Load)
	case station != nil && station.Batch != nil && w.Status == Planned:
		v.add(BreaksMembership, t.at(w.Start), "%s: %s runs loads, and this is in none", t, w.Station)
	}
}

func (v *verifier) buildLoad(l *Load) {
	where := Violation{Station: l.Station, At: l.Start}
	station := v.stations[l.Station]
	switch {
	case l.ID == "" || v.loads[l.ID] != nil:
		v.add(BreaksMembership, where, "load %q: every load needs an ID of its own", l.ID)
		return
	case !v.saneTimes(l.Status, l.Setup, l.Start, l.Run, l.RunEnd, l.Unload, l.End):
		v.add(BreaksTimes, where, "load %s: its times are not in order, or not within 20 years of now", l.ID)
		return
	case station == nil || station.Batch == nil && l.Status == Planned:
		v.add(BreaksMembership, where, "load %s: %q is not a station that runs loads", l.ID, l.Station)
	}
	v.loads[l.ID] = l
	y := &stay{
		load: l, station: station, name: l.Station, status: l.Status,
		setup: l.Setup, start: l.Start, run: l.Run, runEnd: l.RunEnd, unload: l.Unload, end: l.End,
	}
	for _, m := range l.Members {
		if t := v.joinLoad(l, m); t != nil {
			t.stay = y
			y.tasks = append(y.tasks, t)
			y.place = t.work.Place
		}
	}
	if len(y.tasks) > 0 && l.Status != Done {
		v.stays = append(v.stays, y)
	} else if l.Status != Done {
		v.add(BreaksMembership, where, "load %s: it has no members", l.ID)
	}
}

// joinLoad finds a member's task and compares its work with the load; nil when
// there is nothing to plan for it here.
func (v *verifier) joinLoad(l *Load, m Member) *task {
	where := Violation{Piece: m.Piece, Operation: m.Operation, Station: l.Station, At: l.Start}
	t := v.byName[m]
	if t == nil {
		v.add(BreaksMembership, where, "load %s: its member %s at %s is no operation of any piece", l.ID, m.Piece, m.Operation)
		return nil
	}
	if t.work == nil {
		if !t.listed && l.Status == Planned {
			v.add(BreaksMembership, where, "load %s: the plan has no work for its member %s at %s", l.ID, m.Piece, m.Operation)
		}
		return nil
	}
	w := t.work
	if w.Load != l.ID || t.stay != nil {
		v.add(BreaksMembership, where, "load %s: its member %s at %s is in load %q", l.ID, m.Piece, m.Operation, w.Load)
		return nil
	}
	if w.Status == Done && l.Status != Planned {
		return nil // taken out early, as reported
	}
	same := w.Station == l.Station && w.Setup == l.Setup && w.Start == l.Start && w.Run == l.Run &&
		w.RunEnd == l.RunEnd && w.Unload == l.Unload && w.End == l.End && w.Place == 1 &&
		(w.Status == Planned) == (l.Status == Planned)
	if !same {
		v.add(BreaksMembership, where, "load %s: its member %s at %s differs from it in station, times or status, or is not in place 1",
			l.ID, m.Piece, m.Operation)
	}
	return t
}

// checkClosedLoads: people have put these pieces together, and the plan keeps
// them so. Members that are finished, held or gone do not count.
func (v *verifier) checkClosedLoads() {
	for _, id := range slices.Sorted(maps.Keys(v.s.Loads)) {
		run := v.s.Loads[id]
		var want, have []string
		for _, m := range run.Members {
			t := v.byName[m]
			if t != nil && t.open() && t.state.Status != Done && !t.blocked {
				want = append(want, m.Piece+" at "+m.Operation)
			}
		}
		if run.Status == Done || len(want) == 0 {
			continue
		}
		where := Violation{Station: run.Station, At: v.now}
		l := v.loads[id]
		if l == nil {
			v.add(BreaksClosedLoad, where, "load %s has been closed on %s and is not in the plan", id, run.Station)
			continue
		}
		for _, m := range l.Members {
			if t := v.byName[m]; t == nil || t.state.Status != Done {
				have = append(have, m.Piece+" at "+m.Operation)
			}
		}
		slices.Sort(want)
		slices.Sort(have)
		if l.Station != run.Station || !slices.Equal(want, have) {
			v.add(BreaksClosedLoad, where, "load %s has been closed on %s with %v; the plan has it on %s with %v",
				id, run.Station, want, l.Station, have)
		}
	}
}

// checkStay judges one stay on its own.
func (v *verifier) checkStay(y *stay) {
	if y.mix != nil {
		return // checkMixes does
	}
	if y.station == nil {
		v.add(BreaksEligibility, y.at(y.start), "%s: the plant has no station %q", y, y.name)
		return
	}
	v.checkPeople(y)
	if !y.planned() {
		v.checkOverrun(y)
		return
	}
	v.checkEligible(y)
	if !v.closed(y) {
		v.checkSize(y)
		v.checkLoad(y)
	}
	v.checkDurations(y)
	v.checkOpening(y)
}

// closed says that people have put the load together: whether its members go
// together is theirs to answer, and checkClosedLoads keeps the plan to it.
func (v *verifier) closed(y *stay) bool { return y.load != nil && v.s.Loads[y.load.ID] != nil }

// checkEligible: station and place.
func (v *verifier) checkEligible(y *stay) {
	places := max(1, y.station.Places)
	if y.station.Batch != nil {
		places = 1
	}
	if y.place < 1 || y.place > places {
		v.add(BreaksPlace, y.at(y.start), "%s: in place %d of %s, which has places 1 to %d", y, y.place, y.name, places)
	}
	for _, t := range y.tasks {
		if !slices.Contains(t.op.Stations, y.name) {
			v.add(BreaksEligibility, t.at(y.start), "%s: on %s, allowed are %v", t, y.name, t.op.Stations)
		}
	}
}

// checkSize: the station takes the product and runs the recipe.
func (v *verifier) checkSize(y *stay) {
	for _, t := range y.tasks {
		for _, dim := range slices.Sorted(maps.Keys(y.station.Limits)) {
			if size, limit := t.product.Dimensions[dim], y.station.Limits[dim]; size > limit {
				v.add(BreaksLimits, t.at(y.start), "%s: %s of %s is %d, %s takes up to %d", t, dim, t.product.ID, size, y.name, limit)
			}
		}
		if t.op.Recipe != "" && !slices.Contains(y.station.Recipes, t.op.Recipe) {
			v.add(BreaksRecipe, t.at(y.start), "%s: %s does not run recipe %s; it runs %v", t, y.name, t.op.Recipe, y.station.Recipes)
		}
	}
}

// checkLoad: what members of a load must have in common.
func (v *verifier) checkLoad(y *stay) {
	if y.load == nil || y.station.Batch == nil {
		return
	}
	keys := slices.Clone(y.station.Batch.Same)
	if !slices.Contains(keys, resources.RecipeAttribute) {
		keys = append(keys, resources.RecipeAttribute) // one oven runs one cycle, whatever the plant says
	}
	for _, key := range keys {
		kind := BreaksSame
		if key == resources.RecipeAttribute {
			kind = BreaksRecipe
		}
		first := v.sharedValue(y.tasks[0], key)
		for _, t := range y.tasks[1:] {
			if value := v.sharedValue(t, key); value != first {
				v.add(kind, t.at(y.start), "%s: %s has %s %q, but %s has %q", y, t, key, value, y.tasks[0], first)
			}
		}
	}
	recipes := map[string]bool{}
	total := map[string]int64{}
	for _, t := range y.tasks {
		recipes[t.op.Recipe] = true
		for dim, size := range t.op.Size {
			total[dim] += size
		}
	}
	if !recipes[y.load.Recipe] {
		v.add(BreaksRecipe, y.at(y.start), "%s: names recipe %q, its members have %v", y, y.load.Recipe, slices.Sorted(maps.Keys(recipes)))
	}
	for _, dim := range slices.Sorted(maps.Keys(y.station.Batch.Capacity)) {
		if room := y.station.Batch.Capacity[dim]; total[dim] > room {
			v.add(BreaksCapacity, y.at(y.start), "%s: its %d members take %d %s, %s has %d", y, len(y.tasks), total[dim], dim, y.name, room)
		}
	}
}

// sharedValue is what a member has to agree in with the others.
func (v *verifier) sharedValue(t *task, key string) string {
	if key != resources.RecipeAttribute || t.op.Recipe == "" {
		return t.op.Attributes[key]
	}
	if r := v.recipes[t.op.Recipe]; r != nil && r.Group != "" {
		return r.Group
	}
	return t.op.Recipe
}

// checkOverrun: what has started lasts at least its plain time, or until now.
func (v *verifier) checkOverrun(y *stay) {
	load, run, unload := v.standard(y)
	if least := y.start + Tick(load+run+unload); y.end < least {
		v.add(BreaksFacts, y.at(y.start), "%s: started %s and lasts at least %s, so it cannot end %s",
			y, v.clock(y.start), long(load+run+unload), v.clock(y.end))
	}
}
