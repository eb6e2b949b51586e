// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"

	"towpath/resources"
)

// take gives an operation that starts one unit for each tool it takes: those
// reported, else those planned, else the first that are free.
func (t *change) take(p *Piece, k int, reported []string, at Tick) *Refusal {
	o := &p.Ops[k]
	op := &t.product(p).Routing[o.Index]
	units, r := t.assign(p, op, reported)
	if r != nil {
		return r
	}
	for i := range op.Takes {
		if units[i] == "" {
			if units[i], r = t.choose(p, o, op, i, units, at); r != nil {
				return r
			}
			t.note(p.Serial, "%s taken to use %s", o.Operation, units[i])
		}
		if r := t.hold(p, k, &op.Takes[i], units[i], at); r != nil {
			return r
		}
	}
	if len(units) > 0 {
		o.Tools = units
	}
	return nil
}

// assign matches reported units to what the operation takes.
func (t *change) assign(p *Piece, op *resources.Operation, reported []string) ([]string, *Refusal) {
	units := make([]string, len(op.Takes))
	for _, unit := range reported {
		tool := t.tools.look(unit)
		if tool == nil {
			return nil, refuse(RefusedUnknown, "tool "+unit, "check the mark", "the plant has no such tool unit")
		}
		i := 0
		for i < len(op.Takes) && (op.Takes[i].Tool != tool.Pool || units[i] != "") {
			i++
		}
		if i == len(op.Takes) {
			return nil, refuse(RefusedTool, "piece "+p.Serial, "leave it out", "%s does not take %s (%s)", op.ID, unit, tool.Pool)
		}
		units[i] = unit
	}
	return units, nil
}

// choose finds the unit for take number i when nobody said.
func (t *change) choose(p *Piece, o *OpState, op *resources.Operation, i int, units []string, at Tick) (string, *Refusal) {
	pool := t.plant.Tool(op.Takes[i].Tool)
	usable := func(unit string) bool {
		tool := t.tools.look(unit)
		return tool != nil && tool.Holder == "" && !tool.Out && !slices.Contains(units, unit)
	}
	if w := t.planned(p.Serial, o.Operation); w != nil && i < len(w.Tools) &&
		slices.Contains(pool.Units, w.Tools[i]) && usable(w.Tools[i]) {
		return w.Tools[i], nil
	}
	best := ""
	for _, unit := range pool.Units {
		if !usable(unit) {
			continue
		}
		free := t.tools.look(unit).Free
		if free <= at {
			return unit, nil
		}
		if best == "" || free < t.tools.look(best).Free {
			best = unit
		}
	}
	if best == "" {
		return "", refuse(RefusedTool, "piece "+p.Serial, "report the operation that gave one back, and say which unit it is",
			"%s takes a %s, and all are held or out of use", o.Operation, pool.ID)
	}
	return best, nil
}

// hold gives a unit to the piece until the operation that gives it back.
func (t *change) hold(p *Piece, k int, take *resources.Take, unit string, at Tick) *Refusal {
	tool := t.tools.edit(unit)
	switch {
	case tool.Holder != "":
		return refuse(RefusedTool, "tool "+unit, "report the operation that gave it back", "piece %s still has it", tool.Holder)
	case tool.Out:
		return refuse(RefusedTool, "tool "+unit, "report it in first", "it is out of use since %s%s", t.s.clock(tool.Since), because(tool.Why))
	}
	if tool.Free > at {
		t.note(unit, "taken by %s %s before its turnaround was over", p.Serial, resources.Spell(Seconds(tool.Free-at)))
	}
	if p.Ops[t.giver(p, k, take)].Status != Done {
		tool.Holder = p.Serial
	}
	return nil
}

// giver is the operation of a piece that gives back a tool taken at k: k
// itself when the piece does not pass the one the routing names.
func (t *change) giver(p *Piece, k int, take *resources.Take) int {
	if j := opIndex(p, t.product(p).OperationIndex(take.Until)); j >= 0 {
		return j
	}
	return k
}

// giveBack frees the units that operation k of a piece gives back. It ended at
// an instant; was is when it was taken to have ended before that was reported,
// 0 for the first time.
func (t *change) giveBack(p *Piece, k int, was, at Tick) {
	product := t.product(p)
	for j := range p.Ops {
		o := &p.Ops[j]
		if len(o.Tools) == 0 {
			continue
		}
		takes := product.Routing[o.Index].Takes
		for i := range min(len(takes), len(o.Tools)) {
			if t.giver(p, j, &takes[i]) == k {
				t.free(p.Serial, o.Tools[i], was, at)
			}
		}
	}
}

// free lets go of a unit; its turnaround begins. Of a unit let go already, at
// was, only the turnaround is corrected, and only if nobody has used it since.
func (t *change) free(serial, unit string, was, at Tick) {
	tool := t.tools.look(unit)
	if tool == nil {
		return
	}
	var turnaround Tick
	if pool := t.plant.Tool(tool.Pool); pool != nil {
		turnaround = Tick(pool.Turnaround)
	}
	if tool.Holder != serial && (was == 0 || tool.Holder != "" || tool.Free != was+turnaround) {
		return
	}
	tool = t.tools.edit(unit)
	tool.Holder, tool.Free = "", at+turnaround
	t.note(unit, "given back by %s, usable from %s", serial, t.s.clock(tool.Free))
}

// draw takes the mixed resin an operation needs, from the mix reported, else
// the planned one, else the one that expires first.
func (t *change) draw(p *Piece, k int, reported string, at Tick, over bool) *Refusal {
	o := &p.Ops[k]
	want := t.product(p).Routing[o.Index].Mix
	if want == nil {
		if reported != "" {
			return refuse(RefusedMix, "piece "+p.Serial, "leave it out", "%s takes no mixed resin", o.Operation)
		}
		return nil
	}
	id := reported
	if id == "" {
		if id = t.likelyMix(p, o, want, at); id == "" {
			t.note(p.Serial, "%s has started and nobody said from which mix of %s", o.Operation, want.Resin)
			return nil
		}
		t.note(p.Serial, "%s taken to use mix %s", o.Operation, id)
	}
	mix := t.mixes.edit(id)
	switch {
	case mix == nil:
		return refuse(RefusedUnknown, "mix "+id, "report it made first", "there is no such mix")
	case mix.Resin != want.Resin:
		return refuse(RefusedMix, "mix "+id, "check the label", "it is %s; %s of %s takes %s", mix.Resin, o.Operation, p.Serial, want.Resin)
	case mix.Discarded && at > mix.Ended:
		return refuse(RefusedMix, "mix "+id, "check the label", "it was discarded at %s", t.s.clock(mix.Ended))
	}
	if r := t.usable(p, batchMix+id, over); r != nil {
		return r
	}
	if at > mix.Expiry {
		t.note(id, "expired at %s, and %s of %s started from it %s later", t.s.clock(mix.Expiry), o.Operation, p.Serial, resources.Spell(Seconds(at-mix.Expiry)))
	}
	mix.Drawn += want.Grams
	if mix.Drawn > mix.Grams {
		t.note(id, "%d g drawn of %d g made", mix.Drawn, mix.Grams)
	}
	o.Mix = id
	return nil
}

// likelyMix is the mix an operation most likely draws from; empty when none is
// there.
func (t *change) likelyMix(p *Piece, o *OpState, want *resources.MixDraw, at Tick) string {
	fits := func(m *MixRun) bool {
		return m != nil && m.Resin == want.Resin && !m.Discarded && !t.batchIsHeld(batchMix+m.ID) && m.Made <= at && at <= m.Expiry && m.Drawn+want.Grams <= m.Grams
	}
	if w := t.planned(p.Serial, o.Operation); w != nil && w.Mix != "" && fits(t.mixes.look(w.Mix)) {
		return w.Mix
	}
	best := ""
	for id := range t.s.Mixes {
		m := t.mixes.look(id)
		if !fits(m) {
			continue
		}
		if best == "" || m.Expiry < t.mixes.look(best).Expiry || m.Expiry == t.mixes.look(best).Expiry && id < best {
			best = id
		}
	}
	return best
}

func (t *change) batchIsHeld(key string) bool {
	b := t.batches.look(key)
	return b != nil && b.Held
}
