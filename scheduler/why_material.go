// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"

	"towpath/resources"
)

// arrival is when the receipt has come without which work could not start when it
// does, and the name of its material: with what is drawn until then, there was too
// little before. 0 when all was there as soon as the piece was ready.
func (x *explainer) arrival(w *Work, ready Tick) (latest Tick, material string) {
	op := x.operation(w)
	if op == nil {
		return 0, ""
	}
	for i := range op.Draws {
		m := x.s.Plant.Material(op.Draws[i].Material)
		if m == nil || suppliedBy(m, ready) == suppliedBy(m, w.Start) {
			continue // nothing came meanwhile
		}
		drawn := x.drawnBy(m.ID, w.Start)
		if suppliedBy(m, ready) >= drawn {
			continue
		}
		at := w.Start
		for _, r := range m.Receipts {
			if r.At > ready && r.At < at && suppliedBy(m, r.At) >= drawn {
				at = r.At
			}
		}
		if at > latest {
			latest, material = at, cmp.Or(m.Name, m.ID)
		}
	}
	return latest, material
}

// drawnBy is what of a material is drawn by work that has begun, and by what the
// plan has start until an instant.
func (x *explainer) drawnBy(material string, t Tick) int64 {
	if x.drawn == nil {
		x.drawn = reckon(x.s, productsOf(x.s)).drawn
	}
	sum := x.drawn[material]
	for i := range x.p.Work {
		w := &x.p.Work[i]
		if w.Status != Planned || w.Start > t {
			continue
		}
		if op := x.operation(w); op != nil {
			sum += drawOf(op, material)
		}
	}
	return sum
}

func drawOf(op *resources.Operation, material string) (sum int64) {
	for i := range op.Draws {
		if op.Draws[i].Material == material {
			sum += op.Draws[i].Quantity
		}
	}
	return sum
}
