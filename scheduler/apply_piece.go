// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"
	"strings"

	"towpath/events"
)

func pieceState(p *Piece) string {
	switch {
	case p.Scrapped:
		return "scrapped"
	case p.Held:
		return "held"
	}
	return "open"
}

// pieceMove finds the piece of an event that may happen to it.
func (t *change) pieceMove(serial string, on events.Kind) (*Piece, *Refusal) {
	if r := t.sender(); r != nil {
		return nil, r
	}
	p, r := t.piece(serial)
	if r != nil {
		return nil, r
	}
	about := "piece " + serial
	switch m := pieceLife.move(pieceState(p), on, never); m.Refuse {
	case RefusedScrapped:
		return nil, refuse(RefusedScrapped, about, scrapHint, "it was scrapped%s", because(p.Why))
	case RefusedNotYet:
		return nil, refuse(RefusedNotYet, about, "nothing to do", "it is not held")
	}
	return p, nil
}

func (t *change) pieceScrapped(d events.PieceData) *Refusal {
	p, r := t.pieceMove(d.Piece, events.PieceScrapped)
	if r != nil {
		return r
	}
	return t.lose(p, d.Why)
}

// lose scraps a piece, and the shafts of a tube, and makes again what the order
// still needs.
func (t *change) lose(p *Piece, why string) *Refusal {
	lost := []*Piece{p}
	t.shafts(p, func(shaft *Piece) { lost = append(lost, shaft) })
	for _, q := range lost {
		t.scrap(q.Serial, why)
	}
	l := t.lines.edit(LineKey(p.Order, p.Line))
	if l == nil {
		return nil
	}
	return t.settle(l, lost, false)
}

// scrap ends a piece: it leaves its place, its load if that has not started,
// and its tools.
func (t *change) scrap(serial, why string) {
	t.leaveLoad(serial, "scrapped"+because(why))
	p := t.editPiece(serial)
	p.Scrapped, p.Held, p.Detained, p.Why = true, false, nil, why
	for k := range p.Ops {
		o := &p.Ops[k]
		if o.Status == Started || o.Status == Paused {
			t.vacate(p, o)
		}
	}
	for k := range p.Ops {
		for _, unit := range p.Ops[k].Tools {
			if tool := t.tools.look(unit); tool != nil && tool.Holder == serial {
				t.free(serial, unit, 0, t.outOfOven(p))
			}
		}
	}
}

// outOfOven is when the tools of a scrapped piece come free: now, or when the
// load it is in is expected to end.
func (t *change) outOfOven(p *Piece) Tick {
	at := t.e.At
	for k := range p.Ops {
		o := &p.Ops[k]
		if o.Load == "" || o.Status != Started {
			continue
		}
		run := t.loads.look(o.Load)
		st := t.plant.Station(run.Station)
		for _, m := range run.Members {
			q := t.pieces.look(m.Piece)
			if j := slices.IndexFunc(q.Ops, func(o OpState) bool { return o.Operation == m.Operation }); j >= 0 && st != nil {
				op := &t.product(q).Routing[q.Ops[j].Index]
				at = max(at, run.Started+Tick(t.duration(q.Serial, op, st)))
			}
		}
	}
	return at
}

func (t *change) pieceHeld(d events.PieceData) *Refusal {
	p, r := t.pieceMove(d.Piece, events.PieceHeld)
	if r != nil {
		return r
	}
	for _, c := range p.Detained {
		if c.By == d.Piece && c.Batch == "" {
			return refuse(RefusedAlready, "piece "+d.Piece, "nothing to do", "it is held already since %s%s", t.s.clock(c.At), because(c.Why))
		}
	}
	t.detain(p, Detention{By: d.Piece, Why: d.Why, At: t.e.At})
	return nil
}

// detain holds a piece, and the shafts of a tube, for a cause.
func (t *change) detain(p *Piece, c Detention) {
	held := []string{p.Serial}
	t.shafts(p, func(shaft *Piece) { held = append(held, shaft.Serial) })
	for _, serial := range held {
		t.leaveLoad(serial, "held"+because(c.Why))
		q := t.editPiece(serial)
		q.Detained = append(slices.Clone(q.Detained), c)
		q.tellDetained()
	}
	if len(held) > 1 {
		t.note(p.Serial, "held with its shafts %s", list(held[1:]))
	}
}

// tellDetained sets what follows from Detained. The piece must be a copy.
func (p *Piece) tellDetained() {
	p.Held, p.Why = len(p.Detained) > 0, ""
	var whys []string
	for _, c := range p.Detained {
		if c.Why != "" && !slices.Contains(whys, c.Why) {
			whys = append(whys, c.Why)
		}
	}
	p.Why = strings.Join(whys, "; ")
}

// absolve ends the holds of a piece, and of the shafts of a tube, whose cause
// is gone.
func (t *change) absolve(p *Piece, gone func(Detention) bool) {
	freed := []string{p.Serial}
	t.shafts(p, func(shaft *Piece) { freed = append(freed, shaft.Serial) })
	for _, serial := range freed {
		q := t.pieces.look(serial)
		if !slices.ContainsFunc(q.Detained, gone) {
			continue
		}
		q = t.editPiece(serial)
		q.Detained = slices.DeleteFunc(slices.Clone(q.Detained), gone)
		if len(q.Detained) == 0 {
			q.Detained = nil
		}
		q.tellDetained()
		if q.Held {
			t.note(serial, "still held%s", because(q.Why))
		}
	}
}

// causedBy tells whether a hold is for a piece itself or one of its gates, or
// for a mix, a load or a lot that went into it.
func (c Detention) causedBy(serial string) bool {
	return c.Batch != "" || c.By == serial || strings.HasPrefix(c.By, serial+"/")
}

func (t *change) pieceReleased(d events.PieceData) *Refusal {
	p, r := t.pieceMove(d.Piece, events.PieceReleased)
	if r != nil {
		return r
	}
	own := slices.ContainsFunc(p.Detained, func(c Detention) bool { return c.causedBy(p.Serial) })
	if !own {
		return refuse(RefusedHeld, "piece "+p.Serial, "release "+p.Parent, "it is held with its tube %s%s", p.Parent, because(p.Why))
	}
	for _, c := range p.Detained {
		if c.Batch != "" {
			t.note(p.Serial, "released by itself; %s stays on hold", batchText(c.Batch))
		}
	}
	t.absolve(p, func(c Detention) bool { return c.causedBy(p.Serial) })
	return nil
}
