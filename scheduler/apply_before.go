// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/resources"

// predecessors asks whether what comes before operation k of a piece, which
// starts at an instant, is done. An earlier operation that is reported running
// on the same piece, outside a load, is over by then: it ends here, until a
// late report says when. Waits that were not kept are noted: they are facts.
func (t *change) predecessors(p *Piece, k int, at Tick) *Refusal {
	product := t.product(p)
	op := &product.Routing[p.Ops[k].Index]
	var refused *Refusal
	for i := range op.After {
		link := &op.After[i]
		from := product.OperationIndex(link.Operation)
		if from < 0 {
			continue
		}
		t.sources(p, product, &product.Routing[from], func(q *Piece) {
			if refused == nil {
				refused = t.predecessor(p, k, at, link, q, from)
			}
		})
		if refused != nil {
			return refused
		}
	}
	return nil
}

// sources calls visit for each piece on which an operation comes before one of
// p: p itself, its tube, its shafts, or the samples of its order line.
func (t *change) sources(p *Piece, product *resources.Product, op *resources.Operation, visit func(*Piece)) {
	split := splitInto(product) > 0
	switch {
	case op.Per == resources.PerSample && !p.Sample:
		t.siblings(p, func(q *Piece) {
			if q.Sample && !q.Scrapped {
				visit(q)
			}
		})
	case !split || p.Shaft == (op.Per != resources.PerTube):
		visit(p)
	case p.Shaft:
		if tube := t.pieces.look(p.Parent); tube != nil {
			visit(tube)
		}
	default:
		t.shafts(p, visit)
	}
}

// predecessor looks at one earlier operation: number from of the routing, on
// piece q, which may be p.
func (t *change) predecessor(p *Piece, k int, at Tick, link *resources.Link, q *Piece, from int) *Refusal {
	j := opIndex(q, from)
	if j < 0 {
		return nil // q does not pass there
	}
	o := &q.Ops[j]
	overlaps := link.FromStart || link.Min < 0
	if o.Status != Done && !overlaps {
		if q != p || o.Status == Planned || o.Load != "" {
			return t.missing(p, k, q, o)
		}
		if at < o.Started || at < o.PausedAt {
			return refuse(RefusedContradicts, "piece "+p.Serial, "check the times; void the report that is wrong",
				"%s is reported running from %s, so %s cannot start at %s", o.Operation, t.s.clock(max(o.Started, o.PausedAt)), p.Ops[k].Operation, t.s.clock(at))
		}
		t.end(p, j, at, true)
		t.note(p.Serial, "%s taken to be finished at %s: %s has started", o.Operation, t.s.clock(at), p.Ops[k].Operation)
	}
	t.waited(p, k, at, link, q, o)
	return nil
}

// opIndex finds routing operation ix among a piece's operations, -1 if it does not
// pass there.
func opIndex(p *Piece, ix int) int {
	for i := range p.Ops {
		if p.Ops[i].Index == ix {
			return i
		}
	}
	return -1
}

func (t *change) missing(p *Piece, k int, q *Piece, o *OpState) *Refusal {
	whose := ""
	if q != p {
		whose = " of " + q.Serial
	}
	hint := "report that first"
	if o.Load != "" {
		hint = "report load " + o.Load + " finished first"
	}
	return refuse(RefusedMissing, "piece "+p.Serial, hint, "%s cannot start: %s%s has not been reported finished", p.Ops[k].Operation, o.Operation, whose)
}

// waited notes a wait that was too short or too long.
func (t *change) waited(p *Piece, k int, at Tick, link *resources.Link, q *Piece, o *OpState) {
	since := o.Ended
	if link.FromStart {
		since = o.Started
	}
	if since == 0 {
		return
	}
	wait, name := Seconds(at-since), p.Ops[k].Operation
	switch {
	case wait < 0 && wait < link.Min:
		t.note(p.Serial, "%s is reported to have started %s before %s of %s was over", name, resources.Spell(-wait), o.Operation, q.Serial)
	case wait < link.Min:
		t.note(p.Serial, "%s started %s after %s of %s; at least %s are asked", name, resources.Spell(wait), o.Operation, q.Serial, resources.Spell(link.Min))
	case link.HasMax && wait > link.Max:
		t.note(p.Serial, "%s started %s after %s of %s; at most %s are allowed", name, resources.Spell(wait), o.Operation, q.Serial, resources.Spell(link.Max))
	}
}
