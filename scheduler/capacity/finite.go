// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// finite puts the finite plan's hours and waits beside what is asked.
func (m *model) finite(r *Report) {
	plan := m.in.Plan
	if plan == nil {
		return
	}
	f := &finite{m: m, rows: map[string]*Row{}, at: map[scheduler.Member]*scheduler.Work{}, waits: map[string][]average{}, both: map[[2]string][]resources.Interval{}, ops: operations(m.plant, m.in.State)}
	for i := range r.Rows {
		f.rows[r.Rows[i].Key] = &r.Rows[i]
	}
	for i := range plan.Work {
		w := &plan.Work[i]
		f.at[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w
	}
	counted := map[string]bool{}
	for i := range plan.Work {
		w := &plan.Work[i]
		if week := m.g.of(w.End); w.Status != scheduler.Done {
			if week < 0 {
				week = len(m.g.weeks) - 1
			}
			r.Planned = max(r.Planned, week+1)
		}
		f.people(w)
		f.tools(w)
		if w.Status == scheduler.Done {
			continue
		}
		f.wait(w)
		if w.Load != "" && counted[w.Load] {
			continue
		}
		counted[w.Load] = true
		f.station(w)
	}
	for i := range plan.Mixes {
		if x := &plan.Mixes[i]; x.Status == scheduler.Planned {
			f.add(Station, x.Station, x.Start, x.End, 1)
			f.add(Crew, x.Crew, x.Start, x.End, f.shareOf(x.Resin))
			f.add(Skill, f.skillOf(x.Resin), x.Start, x.End, f.shareOf(x.Resin))
		}
	}
	for id, list := range f.waits {
		if row := f.rows[string(Station)+":"+id]; row != nil {
			for w := range list {
				row.Cells[w].PlannedWait = list[w].of()
			}
		}
	}
}

// finite reads a plan into rows.
type finite struct {
	m     *model
	rows  map[string]*Row
	at    map[scheduler.Member]*scheduler.Work
	waits map[string][]average // by station
	both  map[[2]string][]resources.Interval
	ops   func(piece, operation string) *resources.Operation
}

func (f *finite) add(kind Kind, id string, from, to Tick, n float64) {
	row := f.rows[string(kind)+":"+id]
	if row == nil {
		return
	}
	f.m.g.each(from, to, func(week int, hours float64) { row.Cells[week].Planned += n * hours })
}

// station books the time a station is at work, not that of finished work that
// waits inside; of work that pauses with it, its open hours.
func (f *finite) station(w *scheduler.Work) {
	op := f.ops(w.Piece, w.Operation)
	if op == nil {
		return
	}
	st := f.m.clock.hours[w.Station]
	if op.MayPause && st != nil && !st.always {
		f.paused(w, st.open, Seconds(w.Start-w.Setup+w.Run-w.Start+w.End-w.Unload)+f.m.clock.runOf(op, f.m.plant.Station(w.Station)))
	} else {
		f.add(Station, w.Station, w.Setup, w.RunEnd, 1)
		f.add(Station, w.Station, w.Unload, w.End, 1)
	}
	if op.Recipe != "" {
		f.add(Recipe, op.Recipe, w.Setup, w.RunEnd, 1)
		f.add(Recipe, op.Recipe, w.Unload, w.End, 1)
	}
}

// paused books work that stops with its station, and with its people, spread
// over the station's open hours in its time.
func (f *finite) paused(w *scheduler.Work, open []resources.Interval, work Seconds) {
	var all Seconds
	each := func(visit func(from, to Tick)) {
		for i := max(0, lastBefore(open, w.Setup)); i < len(open) && open[i].Start < w.End; i++ {
			if from, to := max(w.Setup, open[i].Start), min(w.End, open[i].End); from < to {
				visit(from, to)
			}
		}
	}
	each(func(from, to Tick) { all += Seconds(to - from) })
	share := over(float64(work), float64(all))
	each(func(from, to Tick) { f.add(Station, w.Station, from, to, min(1, share)) })
}

// people books who serves an operation. A part that pauses is booked from end
// to end less the nights, which the crew's own hours leave out.
func (f *finite) people(w *scheduler.Work) {
	for _, use := range w.People {
		from, to := w.Setup, w.Start
		switch use.Part {
		case resources.PartLoad:
			from, to = w.Start, w.Run
		case resources.PartRun:
			from, to = w.Run, w.RunEnd
		case resources.PartUnload:
			from, to = w.Unload, w.End
		}
		share := float64(use.Share) / 1000
		crew := f.m.plant.Crew(use.Crew)
		if op := f.ops(w.Piece, w.Operation); op == nil || !op.MayPause || crew == nil || use.Part != resources.PartRun {
			f.add(Crew, use.Crew, from, to, share)
			f.add(Skill, use.Skill, from, to, share)
			continue
		}
		open := f.together(w.Station, crew)
		for i := max(0, lastBefore(open, from)); i < len(open) && open[i].Start < to; i++ {
			if a, b := max(from, open[i].Start), min(to, open[i].End); a < b {
				f.add(Crew, use.Crew, a, b, share)
				f.add(Skill, use.Skill, a, b, share)
			}
		}
	}
}

// together is when both a station and somebody of a crew are there.
func (f *finite) together(station string, crew *resources.Crew) []resources.Interval {
	key := [2]string{station, crew.ID}
	if known, ok := f.both[key]; ok {
		return known
	}
	var out []resources.Interval
	h := f.m.clock.hours[station]
	for _, shift := range crew.Shifts {
		windows, err := f.m.cal.of(shift.Calendar)
		if err != nil || h == nil {
			continue
		}
		for _, w := range windows {
			for i := max(0, lastBefore(h.open, w.Start)); i < len(h.open) && h.open[i].Start < w.End; i++ {
				if part := (resources.Interval{Start: max(w.Start, h.open[i].Start), End: min(w.End, h.open[i].End)}); part.Start < part.End {
					out = append(out, part)
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b resources.Interval) int { return cmp.Compare(a.Start, b.Start) })
	f.both[key] = joined(out)
	return f.both[key]
}

// joined makes one window of those that touch.
func joined(list []resources.Interval) []resources.Interval {
	out := list[:0]
	for _, w := range list {
		if n := len(out); n > 0 && out[n-1].End >= w.Start {
			out[n-1].End = max(out[n-1].End, w.End)
			continue
		}
		out = append(out, w)
	}
	return out
}

// tools books the hours a unit is held, from where it is taken.
func (f *finite) tools(w *scheduler.Work) {
	op := f.ops(w.Piece, w.Operation)
	if op == nil {
		return
	}
	for _, take := range op.Takes {
		end := f.at[scheduler.Member{Piece: w.Piece, Operation: take.Until}]
		pool := f.m.plant.Tool(take.Tool)
		if end == nil || pool == nil {
			continue
		}
		f.add(Tool, pool.ID, w.Setup, end.End+Tick(pool.Turnaround), 1)
	}
}

// wait books how long a piece waits here after all it has to wait for.
func (f *finite) wait(w *scheduler.Work) {
	op := f.ops(w.Piece, w.Operation)
	piece := f.m.in.State.Pieces[w.Piece]
	if op == nil || piece == nil || w.Status != scheduler.Planned {
		return
	}
	ready, known := f.m.g.now, false
	for k := range op.After {
		link := &op.After[k]
		for _, serial := range []string{piece.Serial, piece.Parent} {
			from := f.at[scheduler.Member{Piece: serial, Operation: link.Operation}]
			if from == nil {
				continue
			}
			end := from.End
			if link.FromStart {
				end = from.Start
			}
			ready, known = max(ready, end+Tick(link.Min)), true
		}
	}
	week := f.m.g.of(w.Start)
	if !known || week < 0 {
		return
	}
	if f.waits[w.Station] == nil {
		f.waits[w.Station] = make([]average, len(f.m.g.weeks))
	}
	a := &f.waits[w.Station][week]
	a.sum += float64(max(0, w.Start-ready)) / 3600
	a.n++
}

func (f *finite) shareOf(resin string) float64 {
	if r := f.m.plant.Resin(resin); r != nil {
		return float64(r.Share) / 1000
	}
	return 0
}

func (f *finite) skillOf(resin string) string {
	if r := f.m.plant.Resin(resin); r != nil {
		return r.Skill
	}
	return ""
}
