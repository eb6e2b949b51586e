// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"

	"towpath/resources"
)

// checkStock: what is drawn up to any instant has arrived by then. What has
// been drawn already counts, whoever drew it.
func (v *verifier) checkStock() {
	type draw struct {
		at   Tick
		grab int64
		by   *task
	}
	draws := map[string][]draw{}
	for i := range v.tasks {
		t := &v.tasks[i]
		at := t.state.Started
		if t.planned() {
			if t.work == nil {
				continue
			}
			at = t.work.Start
		}
		for _, d := range t.op.Draws {
			draws[d.Material] = append(draws[d.Material], draw{at, d.Quantity, t})
		}
	}
	gone := map[string]int64{} // by operations that had to be done again
	for _, p := range v.s.Pieces {
		for i := range p.Earlier {
			if product := v.s.Plant.Product(p.Product); product != nil && p.Earlier[i].Index >= 0 {
				for _, d := range product.Routing[p.Earlier[i].Index].Draws {
					gone[d.Material] += d.Quantity
				}
			}
		}
	}
	for i := range v.s.Plant.Materials {
		m := &v.s.Plant.Materials[i]
		list := draws[m.ID]
		// Past draws first: they are gone whatever their reported time.
		slices.SortStableFunc(list, func(a, b draw) int {
			if a.by.planned() != b.by.planned() {
				if b.by.planned() {
					return -1
				}
				return 1
			}
			return cmp.Compare(a.at, b.at)
		})
		drawn := gone[m.ID]
		for _, d := range list {
			drawn += d.grab
			if supply := suppliedBy(m, d.at); d.by.planned() && drawn > supply {
				v.add(BreaksStock, d.by.at(d.at), "%s: wants %d milli-%s of %s at %s; %d are drawn by then and %d are there",
					d.by, d.grab, m.Unit, m.ID, v.clock(d.at), drawn, supply)
			}
		}
	}
}

// suppliedBy is what has been on hand or come in up to an instant.
func suppliedBy(m *resources.Material, t Tick) int64 {
	sum := m.Stock
	for _, r := range m.Receipts {
		if r.At <= t {
			sum += r.Quantity
		}
	}
	return sum
}
