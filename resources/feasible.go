// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"strings"
)

// The checks below find what can never be done, whatever else happens: they
// give every doubt to the plant and speak only when certain. Changeovers, other
// work and queues are left out, and a load is taken to have one member.

// effort is the least time the parts of an operation take at one station.
type effort struct {
	load, run, unload Seconds
}

func (e effort) total() Seconds { return e.load + e.run + e.unload }

func (e effort) part(p Part) Seconds {
	switch p {
	case PartLoad:
		return e.load
	case PartRun:
		return e.run
	case PartUnload:
		return e.unload
	}
	return 0
}

func (v *validator) effort(op *Operation, s *Station) effort {
	return effort{op.Load + op.LoadEach, v.plant.RunTime(op, s), op.Unload + op.UnloadEach}
}

// sound tells whether everything the operation's timing rests on was read and
// resolves. If not, there is a finding already.
func (v *validator) sound(op *Operation) bool {
	for _, section := range []string{"calendars", "crews", "room", "zone", "horizon"} {
		if v.isBroken(section) {
			return false
		}
	}
	for _, id := range op.Stations {
		if v.station[id] == nil || v.isBroken("stations["+id+"]") {
			return false
		}
	}
	if op.Recipe != "" && (!v.known["recipe "+op.Recipe] || v.isBroken("recipes["+op.Recipe+"]")) {
		return false
	}
	for _, n := range op.Needs {
		if !v.known["skill "+n.Skill] {
			return false
		}
	}
	return true
}

// feasible reports an operation that none of its stations can ever do, and a
// wait before it that nobody can ever keep.
func (v *validator) feasible(p *Product, op *Operation) {
	if !v.sound(op) {
		return
	}
	var why []string
	stations := v.fitting(p, op)
	for _, s := range stations {
		obstacle := v.obstacle(op, s)
		if obstacle == "" {
			why = nil
			break
		}
		why = append(why, s.ID+": "+obstacle)
	}
	if len(why) > 0 {
		v.fail(opPath(p, op), "", "", "", "can never be done; %s", strings.Join(why, "; "))
		return
	}
	for i := range op.After {
		v.wait(p, op, i)
	}
}

// obstacle says why a station can never do the operation, empty when it can.
func (v *validator) obstacle(op *Operation, s *Station) string {
	e := v.effort(op, s)
	open := longest(v.times.open(s))
	alone := e.load + e.run
	if op.MayPause {
		alone = max(e.load, e.unload)
	}
	switch {
	case open == 0:
		return "is never open"
	case !s.Unattended && max(alone, e.unload) > open:
		return fmt.Sprintf("it takes %s without a pause and the station is open for at most %s", spanText(max(alone, e.unload)), spanText(open))
	case op.MaxRun > 0 && e.run > op.MaxRun:
		return fmt.Sprintf("its run of %s is longer than its max_run of %s", spanText(e.run), spanText(op.MaxRun))
	}
	for _, n := range op.Needs {
		if why := v.needObstacle(op, s, n, e.part(n.Part)); why != "" {
			return why
		}
	}
	if len(v.starts(op, s)) == 0 {
		return "the people for its parts are never there one after the other"
	}
	return v.mixObstacle(op, s, e)
}

func (v *validator) needObstacle(op *Operation, s *Station, n Need, long Seconds) string {
	who := n.Skill
	if n.Share != 1000 {
		who = milliText(n.Share, "of "+n.Skill)
	}
	windows := v.times.attended(s, n.Skill, n.Share)
	switch most := longest(windows); {
	case most == 0:
		return fmt.Sprintf("no crew can give %s while the station is open", who)
	case long > most && (!op.MayPause || n.Part != PartRun):
		return fmt.Sprintf("its %s takes %s and one crew can give %s there for at most %s at a stretch",
			partWords[n.Part], spanText(long), who, spanText(most))
	}
	return ""
}

// mixObstacle looks at the resin: it must be made by people who are there, and
// live until the run has ended.
func (v *validator) mixObstacle(op *Operation, s *Station, e effort) string {
	if op.Mix == nil {
		return ""
	}
	r := v.plant.Resin(op.Mix.Resin)
	if r == nil || v.isBroken("resins["+r.ID+"]") || v.station[r.Station] == nil || v.isBroken("stations["+r.Station+"]") {
		return ""
	}
	life, celsius := v.longestLife(r)
	spare := life - e.load - e.run
	if spare < 0 {
		return fmt.Sprintf("it needs the mix for %s and resin %s lives %s at %g C", spanText(e.load+e.run), r.ID, spanText(life), celsius)
	}
	made := v.mixEnds(r)
	if len(made) > 0 && !canMeet(closedUnion(made), closedUnion(v.starts(op, s)), 0, spare) {
		return fmt.Sprintf("no mix of resin %s, which lives %s, is still good when the station can begin", r.ID, spanText(life))
	}
	return ""
}

// longestLife is the pot life at the bath's temperature or in the coolest room
// the plant file knows of.
func (v *validator) longestLife(r *Resin) (Seconds, float64) {
	celsius := r.BathC
	if celsius == 0 {
		celsius = v.plant.Room.Celsius
		for _, w := range v.plant.Room.Periods {
			celsius = min(celsius, w.Celsius)
		}
	}
	return r.LifeAt(celsius), celsius
}

// mixEnds is when the making of a mix can end.
func (v *validator) mixEnds(r *Resin) []Interval {
	s := v.station[r.Station]
	windows := v.times.open(s)
	if r.Skill != "" {
		windows = v.times.attended(s, r.Skill, r.Share)
	}
	return ends(windows, r.Mixing)
}

// mixing reports a resin that nobody can ever mix.
func (v *validator) mixing(path string, r *Resin) {
	s := v.station[r.Station]
	for _, broken := range []string{"stations[" + s.ID + "]", "crews", "calendars"} {
		if v.isBroken(broken) {
			return
		}
	}
	if len(v.mixEnds(r)) == 0 {
		v.fail(path, "", "", "", "can never be mixed: %s is not open together with a crew that can do it for %s at a stretch", s.ID, spanText(r.Mixing))
	}
}

// wait reports a longest wait that the hours of stations and crews never allow.
func (v *validator) wait(p *Product, op *Operation, i int) {
	link := op.After[i]
	from := p.Operation(link.Operation)
	if !link.HasMax || link.Max < 0 || from == nil || !v.sound(from) || void(from, op) {
		return
	}
	first, second := v.moments(p, from, !link.FromStart), v.moments(p, op, false)
	if len(first) == 0 || len(second) == 0 || canMeet(first, second, link.Min, link.Max) {
		return // an operation that can never begin has a finding of its own
	}
	moment := "end"
	if link.FromStart {
		moment = "start"
	}
	v.fail(fmt.Sprintf("%s.after[%d]", opPath(p, op), i), "", "", "give them hours that meet, or allow a longer wait",
		"can never be kept: whenever %s can %s, %s cannot begin within %s", from.ID, moment, op.ID, spanText(link.Max))
}

// moments is when the operation can begin or end at any of its stations.
func (v *validator) moments(p *Product, op *Operation, end bool) []Interval {
	key := moment{op, end}
	if ranges, ok := v.times.moments[key]; ok {
		return ranges
	}
	var all []Interval
	for _, s := range v.fitting(p, op) {
		if end {
			all = append(all, v.finishes(op, s)...)
		} else {
			all = append(all, v.starts(op, s)...)
		}
	}
	all = closedUnion(all)
	v.times.moments[key] = all
	return all
}

// starts is when loading can begin at the station, as closed ranges.
func (v *validator) starts(op *Operation, s *Station) []Interval {
	e := v.effort(op, s)
	ranges := []Interval{v.times.span}
	within := func(windows []Interval, before, long Seconds) {
		var fit []Interval
		for _, w := range windows {
			if w.Length() >= long {
				fit = append(fit, Interval{w.Start - Tick(before), w.End - Tick(long+before)})
			}
		}
		ranges = meet(ranges, fit)
	}
	switch {
	case s.Unattended:
	case op.MayPause:
		within(v.times.open(s), 0, e.load)
	default:
		within(v.times.open(s), 0, e.load+e.run)
	}
	for _, n := range op.Needs {
		switch {
		case n.Part == PartLoad && e.load > 0:
			within(v.times.attended(s, n.Skill, n.Share), 0, e.load)
		case n.Part == PartRun && e.run > 0 && !op.MayPause:
			within(v.times.attended(s, n.Skill, n.Share), e.load, e.run)
		}
	}
	return ranges
}

// finishes is when the operation can end at the station, as closed ranges.
func (v *validator) finishes(op *Operation, s *Station) []Interval {
	e := v.effort(op, s)
	begun := v.starts(op, s)
	if len(begun) == 0 {
		return nil
	}
	exact := !op.WaitInside && !op.MayPause && s.Batch == nil
	var ranges []Interval
	for _, b := range begun {
		end := b.End + Tick(e.total())
		if !exact {
			end = v.times.span.End
		}
		ranges = append(ranges, Interval{b.Start + Tick(e.total()), end})
		if !exact {
			break // the first reaches to the end of time
		}
	}
	if e.unload == 0 {
		return ranges
	}
	if !s.Unattended {
		ranges = meet(ranges, ends(v.times.open(s), e.unload))
	}
	for _, n := range op.Needs {
		if n.Part == PartUnload {
			ranges = meet(ranges, ends(v.times.attended(s, n.Skill, n.Share), e.unload))
		}
	}
	return ranges
}

// ends is when a stretch of work inside a window can end.
func ends(windows []Interval, long Seconds) []Interval {
	var all []Interval
	for _, w := range windows {
		if w.Length() >= long {
			all = append(all, Interval{w.Start + Tick(long), w.End})
		}
	}
	return all
}
