// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"maps"
	"slices"
	"sort"

	"towpath/resources"
)

// openings is when something is open: sorted intervals that do not touch.
type openings struct {
	always bool
	list   []resources.Interval
}

var alwaysOpen = &openings{always: true}

// covers says that all of an interval lies within one opening. An interval of
// no length asks for nothing.
func (o *openings) covers(at resources.Interval) bool {
	if o.always || at.Start >= at.End {
		return true
	}
	open, ok := o.next(at.Start)
	return ok && open.Start <= at.Start && at.End <= open.End
}

// next is the first opening that ends after t.
func (o *openings) next(t Tick) (resources.Interval, bool) {
	if o.always {
		return resources.Interval{Start: t, End: t + farthest*2}, true
	}
	i := sort.Search(len(o.list), func(i int) bool { return o.list[i].End > t })
	if i == len(o.list) {
		return resources.Interval{}, false
	}
	return o.list[i], true
}

// without cuts a stop out. Openings that never close are cut to [from, to).
func (o *openings) without(stop resources.Interval, from, to Tick) *openings {
	list := o.list
	if o.always {
		list = []resources.Interval{{Start: from, End: to}}
	}
	cut := &openings{}
	for _, w := range list {
		before := resources.Interval{Start: w.Start, End: min(w.End, stop.Start)}
		after := resources.Interval{Start: max(w.Start, stop.End), End: w.End}
		if before.Start < before.End {
			cut.list = append(cut.list, before)
		}
		if after.Start < after.End {
			cut.list = append(cut.list, after)
		}
	}
	return cut
}

// workingTime is when work of a given length is done that begins at an instant
// and goes on whenever all of the sets are open. False when they do not hold
// that much.
func workingTime(from Tick, work Seconds, sets ...*openings) (Tick, bool) {
	t := from
	for work > 0 {
		open, ok := allOpen(t, sets)
		if !ok {
			return t, false
		}
		t = min(open.End, open.Start+Tick(work))
		work -= Seconds(t - open.Start)
	}
	return t, true
}

// openDuring is the stretches of an interval in which all sets are open.
func openDuring(at resources.Interval, sets ...*openings) []resources.Interval {
	var found []resources.Interval
	for t := at.Start; t < at.End; {
		open, ok := allOpen(t, sets)
		if !ok || open.Start >= at.End {
			break
		}
		t = min(open.End, at.End)
		found = append(found, resources.Interval{Start: open.Start, End: t})
	}
	return found
}

// allOpen is the first stretch from t on in which all sets are open.
func allOpen(t Tick, sets []*openings) (resources.Interval, bool) {
	for {
		both := resources.Interval{Start: t, End: t + 4*farthest}
		for _, o := range sets {
			w, ok := o.next(t)
			if !ok {
				return resources.Interval{}, false
			}
			both.Start = max(both.Start, w.Start)
			both.End = min(both.End, w.End)
		}
		if both.Start < both.End {
			return both, true
		}
		t = both.Start
	}
}

// roster is how many people of a crew are at work, in thousandths.
type roster struct {
	steps []rosterStep // by at; before the first nobody is there
	on    *openings    // when anybody is
}

type rosterStep struct {
	at   Tick
	head int64
}

// layOutCalendars settles the stretch of time the plan speaks of.
func (v *verifier) layOutCalendars() {
	v.from, v.to = v.now, v.now+1
	for _, y := range v.stays {
		if y.planned() {
			v.from = min(v.from, y.setup)
		}
		v.to = max(v.to, y.end)
	}
}

// openingsOf lays out a calendar once; no name means always.
func (v *verifier) openingsOf(calendar string) *openings {
	if calendar == "" {
		return alwaysOpen
	}
	if o := v.calendars[calendar]; o != nil {
		return o
	}
	o := &openings{}
	v.calendars[calendar] = o
	c := v.s.Plant.Calendar(calendar)
	if c == nil {
		v.add(BreaksOpening, Violation{At: v.now}, "the plant has no calendar %q", calendar)
		return o
	}
	list, err := c.Windows(v.s.Plant.Zone, v.from, v.to)
	if err != nil {
		v.add(BreaksOpening, Violation{At: v.now}, "calendar %s: %v", calendar, err)
	}
	o.list = list
	return o
}

// roster lays out a crew once; nil when there is no such crew.
func (v *verifier) roster(name string) *roster {
	if r, ok := v.rosters[name]; ok {
		return r
	}
	crew := v.crews[name]
	if crew == nil {
		return nil
	}
	turns := map[Tick]bool{v.from: true, v.to: true}
	for _, shift := range crew.Shifts {
		for _, w := range v.openingsOf(shift.Calendar).list {
			turns[w.Start], turns[w.End] = true, true
		}
	}
	for _, a := range v.s.Absences {
		if a.Crew == name {
			turns[a.From], turns[v.back(a)] = true, true
		}
	}
	r := &roster{on: &openings{}}
	was := int64(0)
	for _, at := range slices.Sorted(maps.Keys(turns)) {
		head := int64(0)
		if at < v.to {
			head = 1000 * v.atWork(crew, at)
		}
		if was == 0 && head > 0 {
			r.on.list = append(r.on.list, resources.Interval{Start: at})
		}
		if was > 0 && head == 0 {
			r.on.list[len(r.on.list)-1].End = at
		}
		if head != was {
			r.steps = append(r.steps, rosterStep{at, head})
		}
		was = head
	}
	v.rosters[name] = r
	return r
}

// atWork counts the people of a crew who are there at an instant: of each shift
// those who are not away from it, and of all of them those of whom nobody said
// which shift is theirs.
func (v *verifier) atWork(crew *resources.Crew, at Tick) int64 {
	away := map[string]int{}
	for _, a := range v.s.Absences {
		if a.Crew == crew.ID && a.From <= at && at < v.back(a) {
			away[a.Calendar] += a.People
		}
	}
	there := map[string]int{}
	for _, shift := range crew.Shifts {
		if w, ok := v.openingsOf(shift.Calendar).next(at); ok && w.Start <= at {
			there[shift.Calendar] += shift.Heads
		}
	}
	all := 0
	for calendar, heads := range there {
		if calendar != "" {
			heads = max(0, heads-away[calendar])
		}
		all += heads
	}
	return int64(max(0, all-away[""]))
}

// back is when people who are away are there again. Nobody knowing that, they
// are taken to be away for a shift from when the plan was made.
func (v *verifier) back(a *Absence) Tick {
	if a.Until != 0 {
		return a.Until
	}
	return max(v.now, a.From, max(a.From, v.made())+Tick(unknownStop))
}

// heads is how many thousandths of a person are at work at an instant.
func (r *roster) heads(t Tick) int64 {
	i := sort.Search(len(r.steps), func(i int) bool { return r.steps[i].at > t })
	if i == 0 {
		return 0
	}
	return r.steps[i-1].head
}
