// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/resources"

// wait is one link of a routing between two operations of actual pieces.
type wait struct {
	from, to *task
	link     *resources.Link
}

// waitsOfTasks finds the waits between open pieces, and marks the tasks that
// wait, at whatever distance, for one that cannot be planned.
func (v *verifier) waitsOfTasks() {
	v.waits = make([]wait, 0, len(v.tasks))
	for i := range v.tasks {
		t := &v.tasks[i]
		if !t.open() {
			continue
		}
		for j := range t.op.After {
			link := &t.op.After[j]
			for _, from := range v.sources(t, link.Operation) {
				v.waits = append(v.waits, wait{from: from, to: t, link: link})
			}
		}
	}
	follow := map[*task][]*task{}
	var spread []*task
	mark := func(t *task) {
		if !t.blocked && t.planned() {
			t.blocked = true
			spread = append(spread, t)
		}
	}
	for i := range v.waits {
		follow[v.waits[i].from] = append(follow[v.waits[i].from], v.waits[i].to)
	}
	lack := Lacking(v.s)
	for i := range v.tasks {
		t := &v.tasks[i]
		if t.planned() && (t.piece.Held || !t.open() || lack[t.name()] != "") {
			mark(t)
		}
	}
	for len(spread) > 0 {
		t := spread[0]
		spread = spread[1:]
		for _, next := range follow[t] {
			mark(next)
		}
	}
}

// sources are the tasks that operation id stands for, seen from t: on the same
// piece; on the tube for a shaft; on every shaft for a tube; and for an
// operation that only samples pass, on every sample of the order line. A piece
// that does not pass there adds nothing.
func (v *verifier) sources(t *task, id string) []*task {
	op := t.product.Operation(id)
	if op == nil {
		return nil
	}
	lineMates := func(want func(*Piece) bool) []*task {
		var found []*task
		for _, serial := range t.line.Pieces {
			piece := v.s.Pieces[serial]
			if piece == nil || piece.Scrapped || !want(piece) {
				continue
			}
			if from := v.byName[Member{serial, id}]; from != nil {
				found = append(found, from)
			}
		}
		return found
	}
	if op.Per == resources.PerSample && !t.piece.Sample {
		return lineMates(func(p *Piece) bool { return p.Sample })
	}
	if from := v.byName[Member{t.piece.Serial, id}]; from != nil {
		return []*task{from}
	}
	if splitOf(t.product) == 0 {
		return nil
	}
	if t.piece.Shaft && op.Per == resources.PerTube {
		if from := v.byName[Member{t.piece.Parent, id}]; from != nil {
			return []*task{from}
		}
	}
	if !t.piece.Shaft && op.Per != resources.PerTube {
		return lineMates(func(p *Piece) bool { return p.Shaft && p.Parent == t.piece.Serial })
	}
	return nil
}

// checkWaits: minimum and maximum waits, on the wall clock. Waits into work
// that has started are history.
func (v *verifier) checkWaits() {
	breaches := v.breaches()
	for i := range v.waits {
		w := &v.waits[i]
		if w.to.work == nil || !w.to.planned() {
			continue
		}
		from, known := sourceTime(w)
		if !known {
			if !w.to.blocked && !w.from.listed {
				v.add(BreaksPredecessor, w.to.at(w.to.work.Start), "%s: planned, but %s, for which it waits, is not", w.to, w.from)
			}
			continue
		}
		start := w.to.work.Start
		if earliest := from + Tick(w.link.Min); start < earliest {
			v.add(BreaksMinWait, w.to.at(start), "%s: starts %s; after %s it may start at %s, so %s too early",
				w.to, v.clock(start), w.from, v.clock(earliest), long(Seconds(earliest-start)))
		}
		if latest := from + Tick(w.link.Max); w.link.HasMax && start > latest {
			v.checkLate(w, latest, breaches)
		}
	}
	for i := range v.p.Breaches {
		v.judgeBreach(breaches[breachKey{v.p.Breaches[i].From, v.p.Breaches[i].To}])
	}
}

func (v *verifier) judgeBreach(b *breach) {
	where := Violation{Piece: b.To.Piece, Operation: b.To.Operation, At: v.now}
	switch {
	case b.worst == 0:
		v.add(BreaksBreach, where, "breach from %s at %s to %s at %s: the plan keeps every maximum wait between them, or there is none",
			b.From.Piece, b.From.Operation, b.To.Piece, b.To.Operation)
	case b.worst != b.By:
		v.add(BreaksBreach, where, "breach from %s at %s to %s at %s: the wait is broken by %s, the plan records %s",
			b.From.Piece, b.From.Operation, b.To.Piece, b.To.Operation, long(b.worst), long(b.By))
	}
}

// sourceTime is the instant a wait counts from.
func sourceTime(w *wait) (Tick, bool) {
	o := w.from.state
	switch {
	case o.Status == Done && w.link.FromStart:
		return o.Started, true
	case o.Status == Done:
		return o.Ended, true
	case w.from.work == nil:
		return 0, false
	case w.link.FromStart:
		return w.from.work.Start, true
	}
	return w.from.work.End, true
}

// breach is a recorded one, and by how much the plan breaks the worst wait it
// stands for.
type breach struct {
	*Breach
	worst Seconds
}

type breachKey struct{ from, to Member }

func (v *verifier) breaches() map[breachKey]*breach {
	m := make(map[breachKey]*breach, len(v.p.Breaches))
	for i := range v.p.Breaches {
		b := &v.p.Breaches[i]
		key := breachKey{b.From, b.To}
		if m[key] == nil {
			m[key] = &breach{Breach: b}
			continue
		}
		v.add(BreaksBreach, Violation{Piece: b.To.Piece, Operation: b.To.Operation, At: v.now},
			"breach from %s at %s to %s at %s: recorded more than once", b.From.Piece, b.From.Operation, b.To.Piece, b.To.Operation)
	}
	return m
}

// checkLate judges a maximum wait that is not kept. Only work that has started
// excuses it, and the plan must own up to it.
func (v *verifier) checkLate(w *wait, latest Tick, breaches map[breachKey]*breach) {
	start := w.to.work.Start
	by := Seconds(start - latest)
	b := breaches[breachKey{w.from.name(), w.to.name()}]
	if b == nil {
		v.add(BreaksMaxWait, w.to.at(start), "%s: starts %s; after %s it must start by %s, so %s too late",
			w.to, v.clock(start), w.from, v.clock(latest), long(by))
		return
	}
	b.worst = max(b.worst, by)
	if w.from.planned() {
		v.add(BreaksBreach, w.to.at(start), "%s: its wait after %s is recorded as broken, but that has not started, so it can still be planned later",
			w.to, w.from)
	}
}
