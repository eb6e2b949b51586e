// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"slices"

	"towpath/resources"
)

// MaxQuantity is the most pieces one order line may ask for: far beyond any
// shop, near enough to catch a slip of a finger.
const MaxQuantity = 10_000

// addLine takes a new order line and makes its pieces.
func (t *change) addLine(line resources.OrderLine) *Refusal {
	key := LineKey(line.Order, line.Line)
	about := "order " + key
	if old := t.lines.look(key); old != nil {
		hint := "change it instead"
		if old.Cancelled {
			hint = "it was cancelled; use a new line"
		}
		return refuse(RefusedExists, about, hint, "this order line exists already")
	}
	if r := t.checkLine(&line); r != nil {
		return r
	}
	if line.Due == 0 {
		line.Due = t.plant.Due(line.ShipBy)
	}
	l := &Line{OrderLine: line}
	t.lines.put(key, l)
	return t.settle(l, nil, true)
}

// checkLine finds what the plant cannot do with a line.
func (t *change) checkLine(line *resources.OrderLine) *Refusal {
	about := "order " + LineKey(line.Order, line.Line)
	switch {
	case line.Order == StockOrder:
		return refuse(RefusedExists, about, "give it another number", "%q is the name of what is in stock", StockOrder)
	case line.Order == "" || line.Line == "":
		return refuse(RefusedMalformed, about, "", "an order line needs an order and a line number")
	case t.plant.Product(line.Product) == nil:
		return refuse(RefusedUnknown, about, "add it to the plant file, or correct the order", "the plant has no product %q", line.Product)
	case line.Quantity < 1 || line.Quantity > MaxQuantity:
		return refuse(RefusedMalformed, about, fmt.Sprintf("give 1 to %d", MaxQuantity), "quantity %d", line.Quantity)
	case line.Weight < 0:
		return refuse(RefusedMalformed, about, "give 0 or more", "weight %d", line.Weight)
	case line.Kind > resources.Event:
		return refuse(RefusedMalformed, about, "firm or event", "unknown kind of order line")
	}
	return nil
}

// settle makes the pieces an order line lacks and drops those it no longer
// needs and nobody has begun. Of lost pieces, those still needed are made
// again first. What is in stock is taken before anything is made; ordered says
// that the quantity is new, so that spare pieces are started as the product's
// rule wants. The line must be a copy of this change. It is refused only when
// a serial belongs to another line already.
func (t *change) settle(line *Line, lost []*Piece, ordered bool) *Refusal {
	product := t.plant.Product(line.Product)
	if line.Cancelled || product == nil || line.Order == StockOrder {
		return nil
	}
	line.Pieces = slices.Clone(line.Pieces)
	m := maker{t: t, line: line, product: product, split: splitInto(product)}
	m.count()
	if m.alive[0] < line.Quantity && m.takeStock(line.Quantity-m.alive[0]) {
		m.count()
	}
	wanted := [2]int{line.Quantity, product.Samples}
	most := [2]int{m.most(), product.Samples}
	if ordered {
		wanted = most
	}
	for _, p := range lost {
		if p.Shaft == (m.split > 0) && m.alive[kindOf(p)] < wanted[kindOf(p)] {
			m.make(p.Sample, p)
		}
	}
	for kind, want := range wanted {
		for m.alive[kind] < want {
			m.make(kind == 1, nil)
		}
	}
	for kind, want := range most {
		if m.alive[kind] > want {
			m.drop(kind, m.alive[kind]-want)
		}
	}
	if m.clash != nil {
		return refuse(RefusedExists, "order "+LineKey(line.Order, line.Line), "use another order or line number",
			"the serial %s belongs to order %s", m.clash.Serial, LineKey(m.clash.Order, m.clash.Line))
	}
	return nil
}

// splitInto is how many shafts are cut from a tube of the product, 0 when it
// is not cut.
func splitInto(product *resources.Product) int {
	for i := range product.Routing {
		if k := product.Routing[i].Split; k > 0 {
			return k
		}
	}
	return 0
}

func kindOf(p *Piece) int {
	if p.Sample {
		return 1
	}
	return 0
}

// maker makes and drops pieces of one order line.
type maker struct {
	t       *change
	line    *Line
	product *resources.Product
	split   int
	alive   [2]int // customer's pieces and samples that are not scrapped
	number  int    // highest tube number so far
	open    []slot // places on tubes not yet cut
	clash   *Piece // of another line, with a serial wanted here
}

// slot is room for a shaft on a tube.
type slot struct {
	tube *Piece
	at   int
}

// count looks once at what the line has.
func (m *maker) count() {
	m.alive, m.open, m.number = [2]int{}, nil, m.line.Highest
	used := map[string]map[int]bool{}
	var tubes []*Piece
	for _, serial := range m.line.Pieces {
		p := m.t.pieces.look(serial)
		if p.MadeFor == "" {
			m.number = max(m.number, p.Number)
		}
		switch {
		case p.Shaft:
			if used[p.Parent] == nil {
				used[p.Parent] = map[int]bool{}
			}
			used[p.Parent][p.Slot] = true
		case m.split > 0 && !p.Scrapped && !p.Held && !m.isCut(p):
			tubes = append(tubes, p)
		}
		if p.Shaft == (m.split > 0) && !p.Scrapped {
			m.alive[kindOf(p)]++
		}
	}
	for _, tube := range tubes {
		for at := 1; at <= m.split; at++ {
			if !used[tube.Serial][at] {
				m.open = append(m.open, slot{tube, at})
			}
		}
	}
}

func (m *maker) isCut(tube *Piece) bool {
	for i := range tube.Ops {
		if m.product.Routing[tube.Ops[i].Index].Split > 0 {
			return tube.Ops[i].Status == Done
		}
	}
	return true
}

// make adds one piece for the customer, or a sample: a tube, or a shaft and
// where needed the tube it is cut from.
func (m *maker) make(sample bool, again *Piece) {
	kind := 0
	if sample {
		kind = 1
	}
	m.alive[kind]++
	if m.split == 0 {
		p := m.tube(again)
		p.Sample = sample
		m.add(p)
		return
	}
	at := m.slot(again)
	p := &Piece{
		Serial: fmt.Sprintf("%s.%d", at.tube.Serial, at.at),
		Number: at.tube.Number, Remake: at.tube.Remake, Slot: at.at,
		Shaft: true, Sample: sample, Parent: at.tube.Serial,
	}
	if again != nil {
		p.Replaces = again.Serial
	}
	m.add(p)
}

// slot takes the first free place on a tube; a place on a tube that was made
// again serves only further pieces made again. Without one a tube is added.
func (m *maker) slot(again *Piece) slot {
	for i, free := range m.open {
		if again != nil || free.tube.Replaces == "" {
			m.open = slices.Delete(m.open, i, i+1)
			return free
		}
	}
	var old *Piece
	if again != nil {
		old = m.t.pieces.look(again.Parent)
	}
	tube := m.tube(old)
	m.add(tube)
	for at := 2; at <= m.split; at++ {
		m.open = append(m.open, slot{tube, at})
	}
	return slot{tube, 1}
}

// tube is the next tube, or another one for a tube that is lost.
func (m *maker) tube(again *Piece) *Piece {
	if again == nil {
		m.number++
		return &Piece{
			Serial: fmt.Sprintf("%s-%s-%02d", m.line.Order, m.line.Line, m.number),
			Number: m.number,
		}
	}
	remake := 0
	for _, serial := range m.line.Pieces {
		if p := m.t.pieces.look(serial); !p.Shaft && p.Number == again.Number {
			remake = max(remake, p.Remake)
		}
	}
	return &Piece{
		Serial: fmt.Sprintf("%s-%s-%02dR%d", m.line.Order, m.line.Line, again.Number, remake+1),
		Number: again.Number, Remake: remake + 1, Replaces: again.Serial,
	}
}

// add completes a piece with what its order line says and its operations.
func (m *maker) add(p *Piece) {
	p.Order, p.Line, p.Product = m.line.Order, m.line.Line, m.product.ID
	p.Ops = opsOf(m.product, p, m.split > 0)
	if other := m.t.pieces.look(p.Serial); other != nil && m.clash == nil {
		m.clash = other
	}
	m.t.pieces.put(p.Serial, p)
	m.line.Pieces = append(m.line.Pieces, p.Serial)
	if p.Replaces != "" {
		m.t.note(p.Serial, "made again for %s", p.Replaces)
	}
}

// opsOf lists the operations a piece passes, none of them begun.
func opsOf(product *resources.Product, p *Piece, split bool) []OpState {
	ops := make([]OpState, 0, len(product.Routing))
	for i := range product.Routing {
		if passes(&product.Routing[i], p, split) {
			ops = append(ops, OpState{Operation: product.Routing[i].ID, Index: i})
		}
	}
	return ops
}

// passes tells whether a piece of a product, cut into shafts or not, goes
// through the operation.
func passes(op *resources.Operation, p *Piece, split bool) bool {
	switch {
	case op.Per == resources.PerSample && !p.Sample, op.SkipSample && p.Sample:
		return false
	case !split:
		return true
	}
	return p.Shaft == (op.Per != resources.PerTube)
}

// drop removes up to n pieces that nobody has begun, the last first, and of
// shafts those first whose tube has not begun either. Tubes that are left
// without a shaft before they have begun go too. More pieces than needed stay
// when all have begun.
func (m *maker) drop(kind, n int) {
	left := n
	for _, freshTube := range []bool{true, false} {
		for i := len(m.line.Pieces) - 1; i >= 0 && left > 0; i-- {
			p := m.t.pieces.look(m.line.Pieces[i])
			if p.Shaft != (m.split > 0) || kindOf(p) != kind || p.Scrapped || begun(p) {
				continue
			}
			if tube := m.t.pieces.look(p.Parent); tube != nil && (begun(tube) == freshTube || m.isCut(tube)) {
				continue
			}
			m.remove(i)
			left--
		}
	}
	m.alive[kind] -= n - left
	m.dropBareTubes()
	if left > 0 {
		m.t.note("order "+LineKey(m.line.Order, m.line.Line),
			"%d more than needed have begun and stay; scrap them or keep them for stock", left)
	}
}

func (m *maker) remove(i int) {
	serial := m.line.Pieces[i]
	m.t.pieces.drop(serial)
	m.line.Pieces = slices.Delete(m.line.Pieces, i, i+1)
	m.t.note(serial, "dropped: the order no longer needs it and it has not begun")
}

func (m *maker) dropBareTubes() {
	if m.split == 0 {
		return
	}
	bears := map[string]bool{}
	for _, serial := range m.line.Pieces {
		if p := m.t.pieces.look(serial); p.Shaft {
			bears[p.Parent] = true
		}
	}
	for i := len(m.line.Pieces) - 1; i >= 0; i-- {
		p := m.t.pieces.look(m.line.Pieces[i])
		if !p.Shaft && !p.Scrapped && !begun(p) && !bears[p.Serial] {
			m.remove(i)
		}
	}
}

// begun tells whether anything was done to a piece, or it is promised to a
// load.
func begun(p *Piece) bool {
	for i := range p.Ops {
		if p.Ops[i].Status != Planned || p.Ops[i].Load != "" {
			return true
		}
	}
	return false
}
