// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"

	"towpath/resources"
)

// keptBack is the work that must follow w within a time and begins so late that w,
// had it gone on when it could, would have been too early for it; with how long it
// may be away, and the first start of w that is not too early. nil: there is none.
func (x *explainer) keptBack(w *Work, ready Tick) (next *Work, within Seconds, at Tick) {
	at = ready
	for _, f := range x.followers(w) {
		from := f.work.Start - Tick(f.link.Max)
		if !f.link.FromStart {
			from -= w.End - w.Start
		}
		if f.link.HasMax && from > at {
			next, within, at = f.work, f.link.Max, from
		}
	}
	return next, within, at
}

// follower is work that waits for other work, and how.
type follower struct {
	work *Work
	link resources.Link
}

// followers is the work that waits for w: of its piece, or of what is cut from it.
func (x *explainer) followers(w *Work) []follower {
	piece := x.s.Pieces[w.Piece]
	if piece == nil {
		return nil
	}
	product := x.s.Plant.Product(piece.Product)
	if product == nil {
		return nil
	}
	serials := []string{w.Piece}
	if line := x.s.Lines[LineKey(w.Order, w.Line)]; line != nil {
		for _, serial := range line.Pieces {
			if other := x.s.Pieces[serial]; other != nil && other.Parent == w.Piece {
				serials = append(serials, serial)
			}
		}
	}
	var out []follower
	for i := range product.Routing {
		op := &product.Routing[i]
		for _, link := range op.After {
			if link.Operation != w.Operation {
				continue
			}
			for _, serial := range serials {
				if v := x.work[Member{serial, op.ID}]; v != nil {
					out = append(out, follower{v, link})
				}
			}
		}
	}
	return out
}

// clock explains w by what it is kept back for: the step that follows it, with what
// that waits for besides what is kept back like w, and the work to look at next when
// that is of another kind; nil: where w's piece comes from.
func (x *explainer) clock(w, next *Work, within Seconds) (text string, ahead *Step, via *Work) {
	ready, before, wait := x.readyFor(next, false)
	ahead = &Step{Piece: next.Piece, Operation: next.Operation, Station: next.Station, Start: next.Start, End: next.End}
	ahead.Waited = max(0, Seconds(next.Start-ready))
	text = fmt.Sprintf("is kept back: %s must begin within %s of it", next.Operation, resources.Spell(within))
	switch {
	case next.Status != Planned:
		return text, ahead, nil
	case ahead.Waited > 0:
		ahead.Kind, ahead.Because, ahead.Ahead, via = x.cause(next, ready)
		if via == w {
			via = nil
		}
		return text + ", and waits: " + ahead.Because, ahead, via
	case before == nil || before == w:
		return text, ahead, nil
	case wait > 0:
		ahead.Kind, ahead.Because = CauseWait, fmt.Sprintf("%s must rest %s after %s", before.Piece, resources.Spell(wait), before.Operation)
	default:
		ahead.Kind, ahead.Because = CauseNothing, "goes on at once after "+before.Operation
	}
	return text + ", and waits for " + before.Operation, ahead, before
}
