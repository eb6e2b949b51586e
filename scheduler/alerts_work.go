// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"slices"

	"towpath/resources"
)

// job is work of one station that starts or ends together: a step of a piece,
// or a load.
type job struct {
	station string
	load    string // empty: a single step
	lead    *Work  // first of its members
	op      *resources.Operation
	pieces  []string
	begun   bool
	ready   bool // nothing in it waits for work before it
	now     bool // the plan has it now: only people are missing
	due     Tick // begun: when it should have ended; else when it was first due to start
	last    Tick // first end of a maximum wait; 0: none
}

func (l *look) jobOf(w *Work, station string, op *resources.Operation, load string) *job {
	key := station + "\x00" + load
	if load == "" {
		key += "\x00" + w.Piece + "\x00" + w.Operation
	}
	j := l.jobs[key]
	if j == nil {
		j = &job{station: station, load: load, lead: w, op: op, ready: true}
		l.jobs[key] = j
	}
	j.pieces = append(j.pieces, w.Piece)
	return j
}

// started looks at work that runs: when should it end, and will its mix last?
// The end of overdue work moves along with each new plan, so the Watch keeps
// the last one that was a real expectation.
func (l *look) started(w *Work, p *Piece, o *OpState) {
	key := Member{p.Serial, o.Operation}
	end := w.End
	if w.Status == Planned {
		end += o.Started - w.Start // the plan has not taken the start in yet
	} else if was, ok := l.watch.ends[key]; ok && w.End <= l.s.Plan.Made {
		end = was
	}
	l.ends[key] = end
	op := l.operation(p, o)
	if op == nil {
		return
	}
	if o.Mix != "" {
		l.draws(o.Mix, w, op, end, true)
	}
	if end+Tick(endLate) < l.now && !l.down(o.Station) {
		j := l.jobOf(w, o.Station, op, o.Load)
		j.begun = true
		j.due = max(j.due, end)
	}
}

// planned looks at work that has not begun: is it due, and do its waits and
// its mix last?
func (l *look) planned(w *Work, p *Piece, o *OpState) {
	op := l.operation(p, o)
	station := l.s.Plant.Station(w.Station)
	if op == nil || station == nil {
		return
	}
	if next, ok := l.nextOf[p.Order]; w.Setup > l.now+Tick(FreezeOf(l.s.Plant, station)) && (!ok || w.Setup < next) {
		l.nextOf[p.Order] = w.Setup
	}
	ready, since, last := l.readiness(w, p, op)
	if run := l.s.Mixes[w.Mix]; run != nil {
		l.draws(w.Mix, w, op, w.RunEnd, false)
	}
	due := l.firstDue(w)
	if due > l.now {
		return
	}
	j := l.jobOf(w, w.Station, op, w.Load)
	j.ready = j.ready && ready
	j.now = w.Start <= l.now || w.Setup <= l.s.Plan.Made+Tick(slid)
	j.due = max(j.due, due, since)
	if last != 0 && (j.last == 0 || last < j.last) {
		j.last = last
	}
}

// firstDue is when planned work was first due to start: while it does not
// begin, each new plan has it a little later.
func (l *look) firstDue(w *Work) Tick {
	if w.Setup > l.now+Tick(dueAhead) {
		return w.Start
	}
	key := Member{w.Piece, w.Operation}
	due := w.Start
	if was, ok := l.watch.due[key]; ok {
		due = min(due, was)
	}
	l.due[key] = due
	return due
}

// readiness goes through the waits of a planned step: whether all that comes
// before it is done, since when, and when the first maximum wait ends.
func (l *look) readiness(w *Work, p *Piece, op *resources.Operation) (ready bool, since, last Tick) {
	product := l.t.product(p)
	ready = true
	for i := range op.After {
		link := &op.After[i]
		from := product.OperationIndex(link.Operation)
		if from < 0 {
			continue
		}
		l.t.sources(p, product, &product.Routing[from], func(q *Piece) {
			k := opIndex(q, from)
			if k < 0 {
				return
			}
			o := &q.Ops[k]
			at := o.Ended
			if link.FromStart {
				at = o.Started
			}
			if at == 0 {
				ready = false
				return
			}
			since = max(since, at+Tick(link.Min))
			if link.HasMax {
				by := at + Tick(link.Max)
				if last == 0 || by < last {
					last = by
				}
				l.wait(w, p, op, link, by)
			}
		})
	}
	return ready && since <= l.now, since, last
}

// tellJobs tells of loads that are due, of finishes that are missing and of
// stations that are silent, the last two once for each station.
func (l *look) tellJobs() {
	over, idle := map[string][]*job{}, map[string]*job{}
	for _, key := range sortedKeys(l.jobs) {
		j := l.jobs[key]
		switch {
		case j.begun:
			over[j.station] = append(over[j.station], j)
		case !j.ready || l.down(j.station) || !l.roomAt(j.station):
		case j.load != "" && l.runsRecipes(j.station):
			if j.now {
				l.loadDue(j)
			}
		case max(j.due, l.heard[j.station])+Tick(startLate) < l.now:
			if first := idle[j.station]; first == nil || j.due < first.due {
				idle[j.station] = j
			}
		}
	}
	for _, station := range sortedKeys(over) {
		l.finishMissing(station, over[station])
	}
	for _, station := range sortedKeys(idle) {
		if j := idle[station]; over[station] == nil {
			text := fmt.Sprintf("Nothing heard from %s since %s, when %s of %s was due and ready", l.stationName(station), l.s.clock(j.due), titled(j.op), names(j.pieces))
			heard := l.heard[station]
			if heard > j.due {
				text = fmt.Sprintf("Nothing heard from %s since %s; %s of %s was due at %s and is ready", l.stationName(station), l.s.clock(heard), titled(j.op), names(j.pieces), l.s.clock(j.due))
			}
			l.tell(Alert{
				Kind: StationSilent, About: station, Station: station, Order: l.onlyOrder(j.pieces), Pieces: j.pieces, By: max(j.due, heard) + Tick(startLate),
				Text: text,
				Do:   "start it and report that, or report what keeps the station",
				Who:  l.people(j.lead, j.op, station),
			})
		}
	}
}

func (l *look) loadDue(j *job) {
	for _, serial := range j.pieces {
		if w := l.waits[j.op.ID]; w != nil && (slices.Contains(w.ending, serial) || slices.Contains(w.over, serial)) {
			return // told with the wait
		}
	}
	a := Alert{
		Kind: LoadDue, About: j.load, Station: j.station, Order: l.onlyOrder(j.pieces), Pieces: j.pieces, By: j.due + Tick(loadLate),
		Text: fmt.Sprintf("Load %s, %s, is ready and was due in %s at %s", j.load, counted(len(j.pieces), "piece"), l.stationName(j.station), l.s.clock(j.due)),
		Do:   "load it and report the start",
		Who:  l.people(j.lead, j.op, j.station),
	}
	if j.last != 0 {
		a.By = j.last
		a.Text += fmt.Sprintf("; the first of it must be in by %s", l.s.clock(j.last))
	}
	l.tell(a)
}

func (l *look) finishMissing(station string, jobs []*job) {
	first := slices.MinFunc(jobs, func(a, b *job) int { return int(a.due - b.due) })
	a := Alert{Kind: FinishMissing, About: station, Station: station, By: first.due + Tick(endLate), Who: l.people(nil, first.op, station)}
	for _, j := range jobs {
		a.Pieces = append(a.Pieces, j.pieces...)
	}
	a.Order = l.onlyOrder(a.Pieces)
	what := titled(first.op) + " of " + names(first.pieces)
	if first.load != "" {
		what = "Load " + first.load
	}
	a.Text = fmt.Sprintf("%s on %s should have ended at %s", what, l.stationName(station), l.s.clock(first.due))
	if len(jobs) > 1 {
		a.Text += fmt.Sprintf(", and %d more there", len(jobs)-1)
	}
	a.Do = "report it finished, or what keeps it"
	l.tell(a)
}

// roomAt tells whether a station could begin something.
func (l *look) roomAt(station string) bool {
	st := l.s.Stations[station]
	if st == nil || st.Load != "" {
		return false
	}
	return len(st.On) == 0 || slices.Contains(st.On, Member{})
}

// runsRecipes tells whether loads of a station are told of: of those that run
// cure recipes; of all where none does.
func (l *look) runsRecipes(station string) bool {
	some := false
	for i := range l.s.Plant.Stations {
		st := &l.s.Plant.Stations[i]
		if len(st.Recipes) > 0 {
			some = true
			if st.ID == station {
				return true
			}
		}
	}
	return !some
}
