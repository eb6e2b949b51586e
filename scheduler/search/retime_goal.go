// SPDX-License-Identifier: Apache-2.0

package search

// goal prices tardiness and flow; nothing else changes with the instants.
func (t *retimer) goal() {
	goal := &t.d.m.p.Goal
	late, flow := int64(goal.Tardiness.Weight), int64(goal.Flow.Weight)
	switch {
	case goal.Tardiness.Level < goal.Flow.Level:
		late *= apart
	case goal.Tardiness.Level > goal.Flow.Level:
		flow *= apart
	}
	for o := range t.d.m.p.Orders {
		t.order(int32(o), late)
	}
	if flow > 0 {
		t.pieces(flow)
	}
}

// order prices how late the latest line of an order is, and lets none become
// late, or lost, that is not.
func (t *retimer) order(o int32, price int64) {
	p := t.d.m.p
	worst, of := int64(0), int32(-1)
	for _, l := range p.Orders[o].Lines {
		line := &p.Lines[l]
		if late := int64(t.d.completion(l)-line.Due) * line.Weight; !line.Event && late > worst {
			worst, of = late, l
		}
	}
	for _, l := range p.Orders[o].Lines {
		line := &p.Lines[l]
		late := t.d.completion(l) > line.Due
		if line.Event && late {
			continue
		}
		limit := line.Due
		if late && !line.Event {
			limit += Tick(worst / max(1, line.Weight))
		}
		var done int32
		if l == of {
			done = t.lp.add(t.d.completion(l)-p.Now, price*line.Weight)
			t.notBefore(instant{done, 0}, max(line.Due, line.Done))
		}
		for _, a := range line.Acts {
			if !p.Acts[a].Last {
				continue
			}
			end := t.outOf(a, t.d.b.at[a].end)
			t.notAfter(end, limit)
			if l == of {
				t.after(instant{done, 0}, end, 0)
			}
		}
	}
}

// pieces prices the time of each from its first start to its last end.
func (t *retimer) pieces(price int64) {
	p := t.d.m.p
	for piece, acts := range t.d.m.byPiece {
		first, last := p.FlowFrom[piece], Tick(0)
		begun := first != 0
		for _, a := range acts {
			at := &t.d.b.at[a]
			if !begun && (first == 0 || at.start < first) {
				first = at.start
			}
			last = max(last, at.end)
		}
		if len(acts) == 0 {
			continue
		}
		end := t.lp.add(last-p.Now, price)
		var from int32
		if !begun {
			from = t.lp.add(first-p.Now, -price)
		}
		for _, a := range acts {
			at := &t.d.b.at[a]
			t.after(instant{end, 0}, t.outOf(a, at.end), 0)
			if !begun {
				t.after(t.instantOf(a, at.start), instant{from, 0}, 0)
			}
		}
	}
}
