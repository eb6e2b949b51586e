// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"

	"towpath/resources"
)

// StockOrder is the order under whose name finished pieces wait that no
// customer needs yet, one line for each product.
const StockOrder = "stock"

// How long after its last piece the stock line is due. Nothing hangs on it: the
// line has no weight.
const stockDue = 8 * 7 * resources.Day

// most is how many customer's pieces the line may have: those that are good,
// and so many for the others that enough come out good.
func (m *maker) most() int {
	good := 0
	for _, serial := range m.line.Pieces {
		if p := m.t.pieces.look(serial); m.counts(p) && m.t.good(p) {
			good++
		}
	}
	return max(m.line.Quantity, good+m.product.StartFor(max(0, m.line.Quantity-good)))
}

// counts tells whether a piece is one of those the customer gets.
func (m *maker) counts(p *Piece) bool { return p.Shaft == (m.split > 0) && !p.Sample && !p.Scrapped }

// good tells whether a piece is finished and has passed: every operation done,
// no gate failed, and those with a rule passed.
func (t *change) good(p *Piece) bool {
	if p.Scrapped || p.Held {
		return false
	}
	product := t.product(p)
	for i := range p.Ops {
		o := &p.Ops[i]
		if o.Status != Done || o.Failed || !o.Passed && product.Routing[o.Index].Rule != nil {
			return false
		}
	}
	return len(p.Ops) > 0
}

// takeStock gives the line up to n finished pieces from stock, those that wait
// longest first.
func (m *maker) takeStock(n int) bool {
	stock := m.t.lines.edit(LineKey(StockOrder, m.product.ID))
	if stock == nil {
		return false
	}
	var ready []*Piece
	for _, serial := range stock.Pieces {
		if p := m.t.pieces.look(serial); m.counts(p) && m.t.good(p) {
			ready = append(ready, p)
		}
	}
	slices.SortStableFunc(ready, func(a, b *Piece) int { return cmp.Compare(lastEnd(a), lastEnd(b)) })
	for _, p := range ready[:min(n, len(ready))] {
		m.t.move(p, stock, m.line)
		m.t.note(p.Serial, "taken from stock for order %s", LineKey(m.line.Order, m.line.Line))
	}
	return len(ready) > 0
}

func lastEnd(p *Piece) Tick {
	var at Tick
	for i := range p.Ops {
		at = max(at, p.Ops[i].Ended)
	}
	return at
}

// move puts a piece of one line into another. Both must be copies.
func (t *change) move(p *Piece, from, to *Line) {
	from.Pieces = slices.DeleteFunc(slices.Clone(from.Pieces), func(serial string) bool { return serial == p.Serial })
	to.Pieces = append(slices.Clone(to.Pieces), p.Serial)
	if p.MadeFor == "" {
		from.Highest = max(from.Highest, p.Number)
	}
	p = t.editPiece(p.Serial)
	p.MadeFor = cmp.Or(p.MadeFor, LineKey(p.Order, p.Line))
	p.Order, p.Line = to.Order, to.Line
}

// toStock takes a piece out of an order that does not need it.
func (t *change) toStock(p *Piece, from *Line) {
	key := LineKey(StockOrder, from.Product)
	stock := t.lines.edit(key)
	if stock == nil {
		stock = &Line{OrderLine: resources.OrderLine{Order: StockOrder, Line: from.Product, Product: from.Product, Kind: resources.Firm}}
		t.lines.put(key, stock)
	}
	stock.Due = max(stock.Due, t.e.At+Tick(stockDue))
	stock.ShipBy = stock.Due
	t.move(p, from, stock)
	t.note(p.Serial, "more than order %s needs; kept as stock", LineKey(from.Order, from.Line))
}

// finished looks at the line of a piece that may have become good: once the
// order has enough, spare pieces that nobody has begun are dropped, and the
// others are stock.
func (t *change) finished(p *Piece) {
	if p.Order == StockOrder || p.Sample || !t.good(p) {
		return
	}
	key := LineKey(p.Order, p.Line)
	line := t.lines.look(key)
	if line == nil || line.Cancelled || line.Quantity == 0 {
		return
	}
	product := t.plant.Product(line.Product)
	m := maker{t: t, line: line, product: product, split: splitInto(product)}
	var good, other []*Piece
	for _, serial := range line.Pieces {
		switch q := t.pieces.look(serial); {
		case !m.counts(q):
		case t.good(q):
			good = append(good, q)
		default:
			other = append(other, q)
		}
	}
	if len(good) < line.Quantity || len(good)+len(other) == line.Quantity || product.Starts == nil && len(good) == line.Quantity {
		return
	}
	line = t.lines.edit(key)
	line.Pieces = slices.Clone(line.Pieces)
	m.line = line
	m.count()
	slices.SortStableFunc(good, func(a, b *Piece) int { return cmp.Compare(lastEnd(a), lastEnd(b)) })
	for _, q := range good[line.Quantity:] {
		t.toStock(q, line)
	}
	for _, q := range other {
		if begun(q) && t.alone(q) {
			t.toStock(q, line)
		}
	}
	m.count()
	if spare := m.alive[0] - line.Quantity; spare > 0 {
		m.drop(0, spare)
	}
}

// alone tells whether the work left on a piece waits for no other piece of its
// line: neither for the samples of the lot nor for its tube.
func (t *change) alone(p *Piece) bool {
	product := t.product(p)
	for i := range p.Ops {
		if p.Ops[i].Status == Done {
			continue
		}
		for _, link := range product.Routing[p.Ops[i].Index].After {
			if from := product.Operation(link.Operation); from != nil && from.Per == resources.PerSample {
				return false
			}
		}
	}
	tube := t.pieces.look(p.Parent)
	return !p.Held && (tube == nil || !slices.ContainsFunc(tube.Ops, func(o OpState) bool { return o.Status != Done }))
}
