// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"

	"towpath/resources"
)

// How near a maximum wait must be to its end, and how late an end, before
// somebody is told.
const (
	waitSoon = 30 * resources.Minute
	endLate  = 30 * resources.Minute
)

// Alerts are the conditions on the floor that want a person now: stops and
// repairs that outlast what was expected, expired resin that nobody has thrown
// away, held pieces, maximum waits that run out, and work that should have
// ended by the published plan. Sorted by what they are about. It looks at
// every piece, and only reads, so readers may share a state.
func Alerts(s *State, now Tick) []Note {
	if s.Plant == nil {
		return nil
	}
	w := &watch{t: s.reading(), now: now}
	for _, id := range sortedKeys(s.Stations) {
		if st := s.Stations[id]; st.Down {
			w.stopped(id, "down", st.Since, st.Until, st.Why)
		}
	}
	for _, unit := range sortedKeys(s.Tools) {
		if tool := s.Tools[unit]; tool.Out {
			w.stopped(unit, "out of use", tool.Since, tool.Until, tool.Why)
		}
	}
	for _, id := range sortedKeys(s.Mixes) {
		if m := s.Mixes[id]; !m.Discarded && m.Expiry < now && m.Drawn < m.Grams {
			w.tell(id, "expired at %s with %d g left; it may heat up by itself: dispose of it as the supplier's data sheet and the site's rules say, and report it discarded",
				s.clock(m.Expiry), m.Grams-m.Drawn)
		}
	}
	for _, serial := range sortedKeys(s.Pieces) {
		p := s.Pieces[serial]
		line := s.Lines[LineKey(p.Order, p.Line)]
		if !p.Scrapped && line != nil && !line.Cancelled {
			w.piece(p)
		}
	}
	slices.SortStableFunc(w.out, func(a, b Note) int { return cmp.Compare(a.About, b.About) })
	return w.out
}

// reading is a change that nobody will install, to look through; unlike the
// one Apply reuses it belongs to the caller.
func (s *State) reading() *change {
	t := &change{s: s, plant: s.Plant}
	t.lines.base, t.pieces.base, t.loads.base = s.Lines, s.Pieces, s.Loads
	t.mixes.base, t.stations.base, t.tools.base, t.batches.base = s.Mixes, s.Stations, s.Tools, s.Batches
	return t
}

// watch collects alerts.
type watch struct {
	t   *change
	now Tick
	out []Note
}

func (w *watch) tell(about, format string, args ...any) {
	w.t.notes = nil
	w.t.note(about, format, args...)
	w.out = append(w.out, w.t.notes...)
}

func (w *watch) stopped(id, how string, since, until Tick, why string) {
	clock := w.t.s.clock
	switch {
	case until == 0:
		w.tell(id, "%s since %s%s; nobody has said until when", how, clock(since), because(why))
	case until <= w.now:
		w.tell(id, "%s since %s%s; it was expected back at %s", how, clock(since), because(why), clock(until))
	default:
		w.tell(id, "%s since %s%s; expected back at %s", how, clock(since), because(why), clock(until))
	}
}

func (w *watch) piece(p *Piece) {
	if p.Held {
		w.tell(p.Serial, "held%s", because(p.Why))
	}
	product := w.t.product(p)
	for k := range p.Ops {
		o := &p.Ops[k]
		if o.Status == Started {
			if work := w.t.s.publishedWork(p.Serial, o.Operation); work != nil && work.End+Tick(endLate) < w.now {
				w.tell(p.Serial, "%s on %s should have ended at %s", o.Operation, o.Station, w.t.s.clock(work.End))
			}
		}
		if o.Status != Planned {
			continue
		}
		for _, link := range product.Routing[o.Index].After {
			if from := product.OperationIndex(link.Operation); link.HasMax && from >= 0 {
				w.t.sources(p, product, &product.Routing[from], func(q *Piece) { w.wait(p, o, &link, q, from) })
			}
		}
	}
}

// wait tells of a maximum wait that has run out or soon will.
func (w *watch) wait(p *Piece, o *OpState, link *resources.Link, q *Piece, from int) {
	j := opIndex(q, from)
	if j < 0 {
		return
	}
	since := q.Ops[j].Ended
	if link.FromStart {
		since = q.Ops[j].Started
	}
	if since == 0 {
		return
	}
	switch last := since + Tick(link.Max); {
	case last < w.now:
		w.tell(p.Serial, "%s had to start by %s, %s after %s", o.Operation, w.t.s.clock(last), span(link.Max), link.Operation)
	case last < w.now+Tick(waitSoon):
		w.tell(p.Serial, "%s must start by %s, %s after %s", o.Operation, w.t.s.clock(last), span(link.Max), link.Operation)
	}
}

// publishedWork is where the published plan has an operation; it does not
// build the index that Apply uses, so that readers may share a state.
func (s *State) publishedWork(piece, operation string) *Work {
	if s.Plan == nil || s.planned == nil || s.planned.plan != s.Plan {
		return nil
	}
	return s.planned.work(piece, operation)
}
