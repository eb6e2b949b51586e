// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"
	"strings"

	"towpath/events"
)

// Keys of what can be held as a whole.
const (
	batchMix  = "mix/"
	batchLoad = "load/"
	batchLot  = "lot/"
)

// BatchKey is the key in State.Batches of what an event holds or releases.
func BatchKey(d events.BatchData) string {
	switch {
	case d.Mix != "":
		return batchMix + d.Mix
	case d.Load != "":
		return batchLoad + d.Load
	}
	return batchLot + d.Material + "/" + d.Lot
}

// batchText names it to people: "mix M-7".
func batchText(key string) string {
	kind, name, _ := strings.Cut(key, "/")
	return kind + " " + name
}

func (l Lot) key() string { return batchLot + l.Material + "/" + l.Lot }

func batchState(b *BatchHold) string {
	if b != nil && b.Held {
		return "held"
	}
	return "open"
}

func (t *change) batchHeld(d events.BatchData) *Refusal {
	key := BatchKey(d)
	if r := t.knownBatch(d); r != nil {
		return r
	}
	old := t.batches.look(key)
	if m := batchLife.move(batchState(old), events.BatchHeld, never); m.Refuse != "" {
		return refuse(m.Refuse, batchText(key), "nothing to do", "it is held already since %s%s%s", t.s.clock(old.At), by(old.By), because(old.Why))
	}
	t.holdBatch(key, d.Why)
	return nil
}

// knownBatch refuses what nobody has ever heard of.
func (t *change) knownBatch(d events.BatchData) *Refusal {
	about := batchText(BatchKey(d))
	switch {
	case d.Mix != "":
		if t.mixes.look(d.Mix) == nil {
			return refuse(RefusedUnknown, about, "check the name", "there is no such mix")
		}
	case d.Load != "":
		run := t.loads.look(d.Load)
		if run == nil {
			return refuse(RefusedUnknown, about, "check the name", "there is no such load")
		}
		if run.Status == Planned {
			return refuse(RefusedNotYet, about, "hold the pieces", "it has not started, so nothing was made in it")
		}
	case d.Lot == "" || d.Material == "":
		return refuse(RefusedMalformed, about, "name a mix, a load, or a material and its lot", "nothing is named")
	case t.plant.Material(d.Material) == nil && !t.ingredient(d.Material):
		return refuse(RefusedUnknown, about, "check the name", "the plant has no material and no ingredient %q", d.Material)
	}
	return nil
}

func (t *change) ingredient(name string) bool {
	for i := range t.plant.Resins {
		for _, in := range t.plant.Resins[i].Ingredients {
			if in.Name == name {
				return true
			}
		}
	}
	return false
}

// holdBatch puts a mix, a load or a lot on hold, with everything made from it.
func (t *change) holdBatch(key, why string) {
	t.batches.put(key, &BatchHold{Held: true, At: t.e.At, By: t.e.By, Why: why, Event: t.e.ID})
	if material, lot, ok := lotOf(key); ok {
		for _, id := range sortedKeys(t.s.Mixes) {
			if m := t.mixes.look(id); slices.Contains(m.Lots, Lot{material, lot}) && !m.Discarded {
				t.note(id, "made with %s, which is on hold: hold the mix, or throw it away", batchText(key))
			}
		}
	}
	n := 0
	for _, serial := range sortedKeys(t.s.Pieces) {
		if p := t.pieces.look(serial); p != nil && !p.Scrapped && t.contains(p, key) {
			t.detainFor(p, key)
			n++
		}
	}
	t.note(batchText(key), "on hold%s; %d pieces wait", because(why), n)
}

// detainFor holds one piece for a batch that went into it, or into its tube.
func (t *change) detainFor(p *Piece, key string) {
	if slices.ContainsFunc(p.Detained, func(c Detention) bool { return c.Batch == key }) {
		return
	}
	why := batchText(key) + " is on hold" + because(t.batches.look(key).Why)
	t.leaveLoad(p.Serial, why)
	p = t.editPiece(p.Serial)
	p.Detained = append(slices.Clone(p.Detained), Detention{Batch: key, Why: why, At: t.e.At})
	p.tellDetained()
}

// contains tells whether a batch went into a piece, or into its tube.
func (t *change) contains(p *Piece, key string) bool {
	mix := func(id string) *MixRun { return t.mixes.look(id) }
	if p.has(key, mix) {
		return true
	}
	tube := t.pieces.look(p.Parent)
	return tube != nil && tube.has(key, mix)
}

// has tells whether a batch went into the piece itself.
func (p *Piece) has(key string, mix func(string) *MixRun) bool { return p.with(key, mix) != nil }

// with is the operation at which a batch went into the piece itself, now or
// before a rework: the mix it was wound from, a load it was in, a lot it or its
// mix drew from. nil: it did not.
func (p *Piece) with(key string, mix func(string) *MixRun) *OpState {
	for _, ops := range [][]OpState{p.Earlier, p.Ops} {
		for i := range ops {
			o := &ops[i]
			if o.Status == Planned {
				continue
			}
			if o.Mix != "" && (key == batchMix+o.Mix || slices.ContainsFunc(lotsOf(mix(o.Mix)), func(l Lot) bool { return l.key() == key })) ||
				o.Load != "" && key == batchLoad+o.Load || slices.ContainsFunc(o.Lots, func(l Lot) bool { return l.key() == key }) {
				return o
			}
		}
	}
	return nil
}

func lotsOf(m *MixRun) []Lot {
	if m == nil {
		return nil
	}
	return m.Lots
}

// lotOf takes the key of a lot apart.
func lotOf(key string) (material, lot string, ok bool) {
	rest, ok := strings.CutPrefix(key, batchLot)
	if !ok {
		return "", "", false
	}
	material, lot, ok = strings.Cut(rest, "/")
	return material, lot, ok
}

func (t *change) batchReleased(d events.BatchData) *Refusal {
	key := BatchKey(d)
	b := t.batches.look(key)
	if m := batchLife.move(batchState(b), events.BatchReleased, never); m.Refuse != "" {
		return refuse(m.Refuse, batchText(key), "nothing to do", "it is not on hold")
	}
	b = t.batches.edit(key)
	b.Held, b.Released, b.Releaser, b.Reason, b.Release = false, t.e.At, t.e.By, d.Why, t.e.ID
	for _, serial := range sortedKeys(t.s.Pieces) {
		p := t.pieces.look(serial)
		if p == nil || !slices.ContainsFunc(p.Detained, func(c Detention) bool { return c.Batch == key }) {
			continue
		}
		p = t.editPiece(serial)
		p.Detained = slices.DeleteFunc(slices.Clone(p.Detained), func(c Detention) bool { return c.Batch == key })
		if len(p.Detained) == 0 {
			p.Detained = nil
		}
		p.tellDetained()
		if p.Held {
			t.note(serial, "still held%s", because(p.Why))
		}
	}
	return nil
}

// usable refuses work with a batch that is on hold. Work that is over was done
// all the same; then the piece is held for it.
func (t *change) usable(p *Piece, key string, over bool) *Refusal {
	b := t.batches.look(key)
	if b == nil || !b.Held {
		return nil
	}
	if !over {
		return refuse(RefusedHeld, batchText(key), "use another, or have it released", "it is on hold since %s%s", t.s.clock(b.At), because(b.Why))
	}
	t.note(p.Serial, "made with %s, which is on hold", batchText(key))
	t.detainFor(p, key)
	return nil
}

// recordLots keeps the lots that a report names.
func (t *change) recordLots(p *Piece, k int, lots []events.LotUse, over bool) *Refusal {
	if len(lots) == 0 {
		return nil
	}
	o := &p.Ops[k]
	draws := t.product(p).Routing[o.Index].Draws
	kept := make([]Lot, 0, len(lots))
	for _, l := range lots {
		used := false
		var names []string
		for _, d := range draws {
			used = used || d.Material == l.Material
			names = append(names, d.Material)
		}
		if !used {
			hint := "leave it out"
			if len(names) > 0 {
				hint = "it draws " + list(names)
			}
			return refuse(RefusedUnknown, "piece "+p.Serial, hint, "%s draws no %q", o.Operation, l.Material)
		}
		lot := Lot{l.Material, l.Lot}
		if !slices.Contains(kept, lot) {
			kept = append(kept, lot)
		}
		if r := t.usable(p, lot.key(), over); r != nil {
			return r
		}
	}
	o.Lots = kept
	return nil
}

// OnHold tells whether a mix, load or lot is on hold, by its BatchKey.
func (s *State) OnHold(key string) bool {
	b := s.Batches[key]
	return b != nil && b.Held
}
