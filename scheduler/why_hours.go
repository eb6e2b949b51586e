// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
)

// hoursAhead is how far opening looks.
const hoursAhead = Tick(14 * resources.Day)

// stretch is hours of which a stretch is wanted, told from the start of loading.
type stretch struct {
	open     []resources.Interval
	from, to Tick
}

// first is the first start at or after an instant with the stretch within the
// hours; that instant when there is none in sight.
func (h *stretch) first(at Tick) Tick {
	for _, o := range h.open {
		start := max(at, o.Start-h.from)
		if start+h.to <= o.End {
			return start
		}
	}
	return at
}

// opening is the first start at or after t for which the station and people are at
// work for as long as w takes of them; t when there is none in sight.
func (x *explainer) opening(w *Work, t Tick) Tick {
	wanted := x.stretches(w, t)
	for at := t; at < t+hoursAhead; {
		later := at
		for i := range wanted {
			later = max(later, wanted[i].first(at))
		}
		if later == at {
			return at
		}
		at = later
	}
	return t
}

// stretches are the hours that w wants: of its station, and of people up to its run.
func (x *explainer) stretches(w *Work, t Tick) []stretch {
	op := x.operation(w)
	setup, run, end := w.Setup-w.Start, w.Run-w.Start, w.RunEnd-w.Start
	if op != nil && op.MayPause {
		end = run
	}
	var out []stretch
	if st := x.s.Plant.Station(w.Station); st != nil && st.Calendar != "" && !st.Unattended {
		out = append(out, stretch{x.windows(t, st.Calendar), setup, end})
	}
	for _, use := range w.People {
		crew := x.s.Plant.Crew(use.Crew)
		if crew == nil || use.Part > resources.PartRun {
			continue
		}
		open := x.atWork(crew, use.Share, t)
		part := [...][2]Tick{resources.PartSetup: {setup, 0}, resources.PartLoad: {0, run}, resources.PartRun: {run, end}}[use.Part]
		out = append(out, stretch{open, part[0], part[1]})
	}
	return out
}

// others says what w's place does from ready until w has it, the last of it prev, and
// for how much of its hours it stands free in between: then it is not the place alone
// that keeps w waiting.
func (x *explainer) others(w, prev *Work, ready Tick) string {
	runs, busy, free := map[string]bool{}, ready, Seconds(0)
	var calendar []resources.Interval
	if st := x.s.Plant.Station(w.Station); st != nil && st.Calendar != "" && !st.Unattended {
		calendar = x.windows(ready, st.Calendar)
	} else {
		calendar = []resources.Interval{{Start: ready, End: w.Setup}}
	}
	idle := func(from, to Tick) {
		for _, o := range calendar {
			free += max(0, Seconds(min(to, o.End)-max(from, o.Start)))
		}
	}
	for _, o := range x.station[w.Station] {
		if o == w || o.Place != w.Place || o.End <= ready || o.Setup >= w.Setup {
			continue
		}
		runs[cmp.Or(o.Load, o.Piece+"/"+o.Operation)] = true
		idle(busy, o.Setup)
		busy = max(busy, o.End)
	}
	text := fmt.Sprintf("%s is busy with %s %s", w.Station, prev.Piece, prev.Operation)
	if len(runs) > 1 {
		text = fmt.Sprintf("%s does %d others first, the last %s %s", w.Station, len(runs), prev.Piece, prev.Operation)
	}
	if free >= resources.Hour && free > Seconds(w.Setup-ready)/10 {
		text += fmt.Sprintf(", and stands free for %s meanwhile", resources.Spell(free))
	}
	return text
}

// windows is when any of some calendars is open from a day before t on, in order and
// apart.
func (x *explainer) windows(t Tick, calendars ...string) []resources.Interval {
	var all []resources.Interval
	for _, id := range calendars {
		c := x.s.Plant.Calendar(id)
		if c == nil {
			continue
		}
		if open, err := c.Windows(x.s.Plant.Zone, t-Tick(resources.Day), t+hoursAhead); err == nil {
			all = append(all, open...)
		}
	}
	slices.SortFunc(all, func(a, b resources.Interval) int { return cmp.Compare(a.Start, b.Start) })
	var out []resources.Interval
	for _, o := range all {
		if last := len(out) - 1; last >= 0 && o.Start <= out[last].End {
			out[last].End = max(out[last].End, o.End)
			continue
		}
		out = append(out, o)
	}
	return out
}
