// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"maps"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Basis says what figures are of.
type Basis string

// Figures are of what the finite plan has from now on, or of what was reported
// up to now.
const (
	Planned  Basis = "planned"
	Reported Basis = "reported"
)

// StationFigures are the key figures of one station.
type StationFigures struct {
	Station string  `json:"station" doc:"station's ID"`
	Basis   Basis   `json:"basis" doc:"planned: of the finite plan from now on; reported: of facts up to now"`
	Times   Times   `json:"times" doc:"time elements and counts"`
	Figures Figures `json:"figures" doc:"indicators"`
}

// figures writes the key figures of each station that has any.
func (m *model) figures(r *Report) {
	planned, reported := m.plannedTimes(r), m.reportedTimes()
	for i := range m.plant.Stations {
		id := m.plant.Stations[i].ID
		if t := planned[id]; t != nil {
			r.Figures = append(r.Figures, StationFigures{id, Planned, *t, t.Figures()})
		}
		if t := reported[id]; t != nil {
			r.Figures = append(r.Figures, StationFigures{id, Reported, *t, t.Figures()})
		}
	}
}

// span widens a stretch of time.
type span struct{ first, last Tick }

func (s *span) take(from, to Tick) {
	if s.last == 0 {
		*s = span{from, to}
	}
	s.first, s.last = min(s.first, from), max(s.last, to)
}

// plannedTimes reads the finite plan as if it were carried out. Good pieces
// are those that the plant file's first-pass yields lead to expect.
func (m *model) plannedTimes(r *Report) map[string]*Times {
	plan := m.in.Plan
	if plan == nil {
		return nil
	}
	out, spans, counted := map[string]*Times{}, map[string]*span{}, map[string]bool{}
	ops := operations(m.plant, m.in.State)
	for i := range plan.Work {
		w := &plan.Work[i]
		op := ops(w.Piece, w.Operation)
		if op == nil || w.Status != scheduler.Planned {
			continue
		}
		t := out[w.Station]
		if t == nil {
			t = &Times{}
			out[w.Station], spans[w.Station] = t, &span{}
		}
		t.quality(op, 1)
		spans[w.Station].take(w.Setup, w.End)
		if w.Load != "" && counted[w.Load] {
			continue
		}
		counted[w.Load] = true
		t.AUST += float64(w.Start-w.Setup) / 3600
		run := float64(w.RunEnd-w.Run) / 3600
		if op.MayPause {
			if st := m.plant.Station(w.Station); st != nil {
				run = float64(m.clock.runOf(op, st)) / 3600
			}
		}
		t.APT += float64(w.Run-w.Start+w.End-w.Unload)/3600 + run
		t.ADET += float64(w.Unload-w.RunEnd) / 3600
	}
	for s := range m.plant.Stations {
		t := out[m.plant.Stations[s].ID]
		if t == nil {
			continue
		}
		for w := range min(r.Planned, len(m.g.weeks)) {
			t.PBT += m.there[s][w]
		}
		t.PRI = over(t.APT, t.PQ) // planned: as the plan has it
		t.close(spans[m.plant.Stations[s].ID])
	}
	return out
}

// quality counts one piece, with the yield to expect of its operation; good
// is 1 or, of a piece that failed, 0.
func (t *Times) quality(op *resources.Operation, good float64) {
	if y := op.Yield; y > 0 && y < 1 {
		good *= y
	}
	t.PQ++
	t.GQ += good
	t.SQ += 1 - good
	if op.Gate != "" {
		t.IP++
		t.GP += good
	}
}

func (t *Times) close(s *span) {
	t.AUPT = t.AUST + t.APT
	t.AUBT = t.AUPT + t.ADET
	t.AOET = float64(s.last-s.first) / 3600
}

// done is a finished operation, or the first member of a finished load.
type done struct {
	piece *scheduler.Piece
	op    *scheduler.OpState
	rule  *resources.Operation
	first bool
}

// reportedTimes reads what was reported. Changeovers nobody reports: they are
// taken from the changeover table, between one job and the next.
func (m *model) reportedTimes() map[string]*Times {
	byStation := m.doneWork()
	out := map[string]*Times{}
	for id, list := range byStation {
		st := m.plant.Station(id)
		t, s := &Times{}, &span{}
		standard, runs, jobs := 0.0, 0.0, 0.0
		var before map[string]string
		for _, d := range list {
			s.take(d.op.Started, d.op.Ended)
			t.PQ++
			if d.op.Failed {
				t.SQ++
			} else {
				t.GQ++
			}
			if d.rule.Gate != "" && (d.op.Passed || d.op.Failed) {
				t.IP++
				if d.op.Passed {
					t.GP++
				}
			}
			if !d.first {
				continue
			}
			has := d.rule.SetupAttributes()
			change, _ := st.Changeover(before, has)
			before = has
			t.AUST += float64(change) / 3600
			t.APT += float64(Seconds(d.op.Ended-d.op.Started)-d.op.PausedFor) / 3600
			standard += float64(m.clock.jobOf(d.rule, st).total()) / 3600
			runs += float64(m.clock.runOf(d.rule, st))
			jobs++
		}
		t.PRI = over(standard, t.PQ)
		h, err := (&calendars{plant: m.plant, from: s.first, to: m.g.now, windows: map[string][]resources.Interval{}}).station(st, nil)
		if err != nil {
			continue // laid out before for the weeks to come, so it can be
		}
		past := grid{now: s.first, end: m.g.now, weeks: []Week{{From: s.first, To: m.g.now}}}
		t.PBT = h.there(&past, placesOf(st), Seconds(over(runs, jobs)))[0]
		t.close(s)
		out[id] = t
	}
	return out
}

// doneWork lists finished operations by station, by start.
func (m *model) doneWork() map[string][]done {
	out, loads := map[string][]done{}, map[string]bool{}
	for _, serial := range sortedKeys(m.in.State.Pieces) {
		p := m.in.State.Pieces[serial]
		product := m.plant.Product(p.Product)
		for i := range p.Ops {
			o := &p.Ops[i]
			if o.Status != scheduler.Done || product == nil || m.plant.Station(o.Station) == nil || o.Started == 0 {
				continue
			}
			first := o.Load == "" || !loads[o.Load]
			loads[o.Load] = true
			out[o.Station] = append(out[o.Station], done{p, o, &product.Routing[o.Index], first})
		}
	}
	for id := range out {
		byStart(out[id])
	}
	return out
}

// placesOf is how many pieces, or loads, a station works on side by side.
func placesOf(st *resources.Station) int {
	if st.Batch != nil {
		return 1
	}
	return max(1, st.Places)
}

func byStart(list []done) {
	slices.SortStableFunc(list, func(a, b done) int { return cmp.Compare(a.op.Started, b.op.Started) })
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
