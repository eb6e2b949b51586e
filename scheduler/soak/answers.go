// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"fmt"
	"slices"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// Standing says whether an event is believed and not void.
type Standing func(id string) bool

// Overtaken says whether the shop knows a later change of the condition an
// event tells of, or one that implies it: such a report is refused and nobody
// tells it again.
func Overtaken(s *scheduler.State, e events.Event) bool {
	st := s.Stations[e.Station]
	_, condition := e.Data.(events.StationData)
	return condition && st != nil && (st.Since > e.At || st.Since == e.At && st.Down == (e.Kind == events.StationDown))
}

// again is how long people wait before they tell something anew that was not
// believed.
const again = resources.Tick(5 * resources.Minute)

// Heard lets people see what became of their reports. Mended: something was
// taken back since, and what stood on it may have fallen.
func (r *Reporter) Heard(now resources.Tick, s *scheduler.State, stands Standing, mended bool) {
	for _, d := range r.open {
		if !d.sent {
			continue
		}
		d.sent = false
		if r.heard(d, now, stands); !d.done && Overtaken(s, d.event) {
			d.done, d.overtaken = true, true
		}
	}
	if mended {
		for _, d := range r.all {
			if k := slices.IndexFunc(d.slips, stands); k >= 0 && d.wrong == "" {
				// What was refused had come too early, and is believed now.
				d.done, d.wrong, d.mends, d.due = false, d.slips[k], maxMends, now
			}
			if d.done && !d.overtaken && len(d.ids) > 0 && !d.stands(stands) {
				d.done, d.due = false, now
				d.tries++
			}
		}
	}
	r.open = r.open[:0]
	for _, d := range r.all {
		if !d.done && !d.hush {
			r.open = append(r.open, d)
		}
	}
}

// stands says whether one of the reports of a deed is believed, and notes which.
func (d *deed) stands(stands Standing) bool {
	k := slices.IndexFunc(d.ids, stands)
	if k >= 0 {
		d.as = d.ids[k]
	}
	return k >= 0
}

func (r *Reporter) heard(d *deed, now resources.Tick, stands Standing) {
	switch {
	case d.bait != nil:
		if id := d.bait.ID; stands(id) {
			d.wrong = id
			d.due = now + again + wait(r.luck, r.slips.MendAfter, "mend", id)
		} else {
			d.slips = append(d.slips, id)
			d.due = now // they scan again
		}
		d.bait = nil
	case d.void != "":
		if !stands(d.wrong) {
			d.wrong, d.done = "", d.stands(stands)
		} else {
			d.mends++
		}
		d.void, d.due = "", now
	case d.stands(stands):
		d.done, d.wrong = true, ""
		r.tellTwice(d, now)
	case d.wrong != "":
		if !stands(d.wrong) { // it has fallen by itself
			d.wrong = ""
		}
		d.mends++
		d.due = now + again
	default:
		d.tries++
		d.due = now + again*resources.Tick(min(d.tries, 6))
	}
}

// tellTwice has a second person report what the shop knows.
func (r *Reporter) tellTwice(d *deed, now resources.Tick) {
	switch d.event.Kind {
	case events.OperationStarted, events.OperationFinished, events.LoadStarted, events.LoadFinished, events.MixMade, events.CrewAbsent:
	default:
		return
	}
	if r.luck.Uniform("told", d.event.ID) >= r.slips.Told || slices.Contains(d.ids, d.event.ID+"-b") {
		return
	}
	e := d.event
	e.ID += "-b"
	e.By = "second person"
	d.ids = append(d.ids, e.ID)
	r.extra = append(r.extra, Sending{Event: e, due: now})
}

// Account is what became of all that was done.
type Account struct {
	Deeds   int
	Lost    []string // told, and not believed in the end
	Doubled []string // believed more than once

	Overtaken int // stops and ends of stops of which a later one, or work that began, was known first
}

// Account is drawn at the end.
func (r *Reporter) Account(stands Standing) Account {
	a := Account{Deeds: len(r.all)}
	told := map[*deed]int{}
	for _, d := range r.all {
		for _, id := range d.ids {
			if stands(id) {
				told[d]++
				for _, start := range d.covers {
					told[start]++
				}
			}
		}
	}
	for _, d := range r.all {
		what := fmt.Sprintf("%s of %v, %s", d.event.Kind, events.About(d.event), d.event.ID)
		switch n := told[d]; {
		case n == 0 && d.overtaken:
			a.Overtaken++
		case n == 0:
			a.Lost = append(a.Lost, what)
		case n > 1:
			a.Doubled = append(a.Doubled, what)
		}
	}
	return a
}

// Open is how much is not believed yet.
func (r *Reporter) Open() int { return len(r.open) + len(r.extra) }
