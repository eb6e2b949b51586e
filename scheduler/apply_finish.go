// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"

	"towpath/events"
	"towpath/resources"
)

func (t *change) operationFinished(d events.OperationData) *Refusal {
	p, k, r := t.step(d.Piece, d.Operation)
	if r != nil {
		return r
	}
	o := &p.Ops[k]
	m := operationLife.move(operationState(o.Status), events.OperationFinished, func(string) bool { return o.EndGuessed })
	if m.Refuse != "" {
		return t.already(p, o, m)
	}
	if o.Status == Planned && t.e.At <= o.Redo {
		return t.again(p, o, t.e.At)
	}
	if o.Status == Planned {
		if r := t.implyStart(p, o, d); r != nil {
			return r
		}
	} else if r := t.sameStation(p, o); r != nil {
		return r
	}
	p = t.editPiece(p.Serial)
	o = &p.Ops[k]
	if last := max(o.Started, o.PausedAt); t.e.At < last {
		return refuse(RefusedContradicts, "piece "+p.Serial, "check the times; void the report that is wrong",
			"%s cannot end at %s: it is reported running from %s", o.Operation, t.s.clock(t.e.At), t.s.clock(last))
	}
	late := o.Status == Done
	if len(o.Lots) == 0 {
		if r := t.recordLots(p, k, d.Lots, true); r != nil {
			return r
		}
	}
	t.end(p, k, t.e.At, false)
	if late {
		t.note(p.Serial, "late report: %s ended at %s", o.Operation, t.s.clock(t.e.At))
	}
	return nil
}

// sameStation refuses a report from another station than where the operation
// runs, and of a member of a load.
func (t *change) sameStation(p *Piece, o *OpState) *Refusal {
	switch {
	case o.Load != "":
		return refuse(RefusedInLoad, "piece "+p.Serial, "report load "+o.Load, "%s is in load %s", o.Operation, o.Load)
	case t.e.Station != "" && t.e.Station != o.Station:
		return refuse(RefusedWrongPlace, "piece "+p.Serial, "report it from there", "%s runs on %s, not on %s", o.Operation, o.Station, t.e.Station)
	}
	return nil
}

// implyStart begins an operation of which only the end was reported.
func (t *change) implyStart(p *Piece, o *OpState, d events.OperationData) *Refusal {
	st, r := t.stationFor(p, o, t.e.Station)
	if r != nil {
		return r
	}
	x := start{
		piece: d.Piece, operation: d.Operation, station: st.ID, place: d.Place,
		mix: d.Mix, tools: d.Tools, lots: d.Lots, at: d.Started, setup: d.Setup, over: true,
	}
	switch {
	case x.at < 0 || x.at > t.e.At:
		return refuse(RefusedContradicts, "piece "+p.Serial, "check the times", "%s cannot have started after it ended", o.Operation)
	case x.at == 0:
		x.at, x.guessed = t.guess(p, o, st), true
		t.note(p.Serial, "%s taken to have started at %s: only its end was reported", o.Operation, t.s.clock(x.at))
	}
	return t.start(x)
}

// guess estimates when an operation that is over now started: its planned or
// plain duration ago, but not before what is known of the same piece.
func (t *change) guess(p *Piece, o *OpState, st *resources.Station) Tick {
	op := &t.product(p).Routing[o.Index]
	return min(t.e.At, max(t.known(p, o), t.e.At-Tick(t.duration(p.Serial, op, st))))
}

// known is the earliest start of an operation that agrees with what is known
// of earlier ones on the same piece.
func (t *change) known(p *Piece, o *OpState) Tick {
	product := t.product(p)
	at := max(firstInstant, o.Redo)
	for _, link := range product.Routing[o.Index].After {
		j := opIndex(p, product.OperationIndex(link.Operation))
		if j < 0 || link.Min < 0 {
			continue
		}
		if before := &p.Ops[j]; before.Status == Done && !link.FromStart {
			at = max(at, before.Ended)
		} else {
			at = max(at, before.Started, before.PausedAt)
		}
	}
	return at
}

// duration is how long an operation takes from start to end.
func (t *change) duration(serial string, op *resources.Operation, st *resources.Station) Seconds {
	if w := t.planned(serial, op.ID); w != nil && w.Station == st.ID {
		return Seconds(w.End - w.Start)
	}
	return op.Load + op.LoadEach + t.plant.RunTime(op, st) + op.Unload + op.UnloadEach
}

// end finishes operation k of a piece that is a copy of this change; guessed
// says that nobody has reported the instant.
func (t *change) end(p *Piece, k int, at Tick, guessed bool) {
	o := &p.Ops[k]
	if o.Status == Paused {
		o.PausedFor += Seconds(at - o.PausedAt)
		o.PausedAt = 0
	}
	t.vacate(p, o)
	was := o.Ended
	o.Status, o.Ended, o.EndGuessed = Done, at, guessed
	if !guessed {
		o.EndedBy, o.EndEvent = t.e.By, t.e.ID
	}
	t.giveBack(p, k, was, at)
	t.finished(p)
}

func (t *change) operationPaused(d events.OperationData) *Refusal {
	return t.interrupt(d, events.OperationPaused, func(p *Piece, o *OpState) {
		o.Status, o.PausedAt = Paused, t.e.At
		if !t.product(p).Routing[o.Index].MayPause {
			t.note(p.Serial, "%s was paused though it should not be%s", o.Operation, because(d.Why))
		}
	})
}

func (t *change) operationResumed(d events.OperationData) *Refusal {
	return t.interrupt(d, events.OperationResumed, func(_ *Piece, o *OpState) {
		o.PausedFor += Seconds(t.e.At - o.PausedAt)
		o.Status, o.PausedAt = Started, 0
	})
}

// interrupt is what pausing and resuming share.
func (t *change) interrupt(d events.OperationData, kind events.Kind, change func(*Piece, *OpState)) *Refusal {
	p, k, r := t.step(d.Piece, d.Operation)
	if r != nil {
		return r
	}
	o := &p.Ops[k]
	if m := operationLife.move(operationState(o.Status), kind, never); m.Refuse != "" {
		return t.already(p, o, m)
	}
	if r := t.sameStation(p, o); r != nil {
		return r
	}
	if last := max(o.Started, o.PausedAt); t.e.At < last {
		return refuse(RefusedContradicts, "piece "+p.Serial, "check the times", "%s is reported from %s on, this is of %s",
			o.Operation, t.s.clock(last), t.s.clock(t.e.At))
	}
	p = t.editPiece(p.Serial)
	change(p, &p.Ops[k])
	return nil
}

// correctStart takes the late report of a start that was only implied.
func (t *change) correctStart(serial string, k int, d events.OperationData) *Refusal {
	p := t.editPiece(serial)
	o := &p.Ops[k]
	if t.e.At > o.Ended {
		return refuse(RefusedContradicts, "piece "+serial, "check the times", "%s was reported finished at %s already", o.Operation, t.s.clock(o.Ended))
	}
	st, r := t.eligible(p, o, t.e.Station)
	if r != nil {
		return r
	}
	if st.Batch != nil {
		return refuse(RefusedInLoad, "piece "+serial, "report the load", "%s runs loads", st.ID)
	}
	s := t.editStation(st.ID)
	if s.SetupAt == o.Started {
		s.SetupAt = t.e.At
	}
	o.Started, o.StartGuessed, o.StartedBy, o.Station = t.e.At, false, t.e.By, st.ID
	o.StartEvent, o.SetupFrom = t.e.ID, d.Setup
	if d.Place > 0 {
		o.Place = d.Place
	}
	o.Place = min(max(1, o.Place), len(s.On))
	t.setUp(st, s, p, k, t.e.At)
	t.note(serial, "late report: %s started at %s", o.Operation, t.s.clock(t.e.At))
	if r := t.correctTools(p, k, d.Tools); r != nil {
		return r
	}
	return t.correctMix(p, k, d.Mix)
}

// correctTools puts other units in the place of those that were assumed.
func (t *change) correctTools(p *Piece, k int, reported []string) *Refusal {
	o := &p.Ops[k]
	op := &t.product(p).Routing[o.Index]
	units, r := t.assign(p, op, reported)
	if r != nil {
		return r
	}
	o.Tools = slices.Clone(o.Tools)
	for i, unit := range units {
		if unit == "" || i >= len(o.Tools) || unit == o.Tools[i] {
			continue
		}
		open := p.Ops[t.giver(p, k, &op.Takes[i])].Status != Done
		was, now := t.tools.edit(o.Tools[i]), t.tools.edit(unit)
		if open && now.Holder != "" {
			return refuse(RefusedTool, "tool "+unit, "report the operation that gave it back", "piece %s still has it", now.Holder)
		}
		if was != nil && was.Holder == p.Serial {
			was.Holder = ""
		}
		if open {
			now.Holder = p.Serial
		}
		t.note(p.Serial, "%s used %s, not %s", o.Operation, unit, o.Tools[i])
		o.Tools[i] = unit
	}
	return nil
}

// correctMix moves a draw to the mix reported late.
func (t *change) correctMix(p *Piece, k int, reported string) *Refusal {
	o := &p.Ops[k]
	if reported == "" || reported == o.Mix {
		return nil
	}
	if was := t.mixes.edit(o.Mix); was != nil {
		was.Drawn -= t.product(p).Routing[o.Index].Mix.Grams
	}
	return t.draw(p, k, reported, t.e.At, true)
}
