// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"

	"towpath/resources"
)

// Lacking says which operations go without a material, and which: open work wants
// more of it than is there and in any receipt to come. They cannot be planned
// before more is entered, and nor can what waits for them; all else can. Pieces that
// have been begun are served first, then those of the lines that are due first. Nil:
// there is enough of everything.
func Lacking(s *State) map[Member]string {
	return reckon(s, productsOf(s)).lacking()
}

func productsOf(s *State) map[string]*resources.Product {
	return byID(s.Plant.Products, func(x *resources.Product) string { return x.ID })
}

// Shortage is a material of which open work wants more than is there and to come.
type Shortage struct {
	Material string   `json:"material" doc:"material's ID"`
	Lack     int64    `json:"lack" doc:"how much more is wanted, thousandths of its unit"`
	Pieces   []string `json:"pieces" doc:"pieces that go without, by serial"`
	Orders   []string `json:"orders" doc:"orders they are for, by number"`
}

// Shortages lists the materials that are short, in the order of the plant.
func Shortages(s *State) []Shortage {
	x := reckon(s, productsOf(s))
	var out []Shortage
	for i := range s.Plant.Materials {
		if id := s.Plant.Materials[i].ID; x.short[id] {
			out = append(out, Shortage{Material: id, Lack: x.want[id] - x.left[id], Pieces: []string{}, Orders: []string{}})
		}
	}
	without := x.lacking()
	for _, m := range slices.SortedFunc(maps.Keys(without), func(a, b Member) int { return cmp.Compare(a.Piece, b.Piece) }) {
		k := slices.IndexFunc(out, func(o Shortage) bool { return o.Material == without[m] })
		out[k].Pieces = append(out[k].Pieces, m.Piece)
		if order := s.Pieces[m.Piece].Order; !slices.Contains(out[k].Orders, order) {
			out[k].Orders = append(out[k].Orders, order)
		}
	}
	for i := range out {
		slices.Sort(out[i].Orders)
	}
	return out
}

// ordersNamed is how many orders a sentence names.
const ordersNamed = 8

// Words says it in a sentence, in the plant's names and units.
func (x *Shortage) Words(plant *resources.Plant) string { return x.WordsOfAsked(plant, "") }

// WordsOfAsked is Words where one of the orders is only asked for, so that its
// number means nothing to a reader; empty: none is.
func (x *Shortage) WordsOfAsked(plant *resources.Plant, asked string) string {
	m := plant.Material(x.Material)
	if m == nil {
		m = &resources.Material{ID: x.Material}
	}
	short := quantity(x.Lack, m.Unit) + " short of " + cmp.Or(m.Name, m.ID) + "; "
	if len(x.Pieces) == 0 {
		return short + "what wants it lacks something else before"
	}
	pieces := "pieces wait"
	if len(x.Pieces) == 1 {
		pieces = "piece waits"
	}
	return fmt.Sprintf("%s%d %s for it, of %s", short, len(x.Pieces), pieces, ordersOf(x.Orders, asked))
}

// ordersOf names orders, the one that is only asked for first and by no number.
func ordersOf(list []string, asked string) string {
	known := slices.DeleteFunc(slices.Clone(list), func(id string) bool { return asked != "" && id == asked })
	var parts []string
	if len(known) < len(list) {
		parts = append(parts, "what is asked for")
	}
	if len(known) > 0 {
		orders, more := "orders ", ""
		if len(known) == 1 {
			orders = "order "
		}
		if len(known) > ordersNamed {
			more = fmt.Sprintf(" and %d more", len(known)-ordersNamed)
			known = known[:ordersNamed]
		}
		parts = append(parts, orders+strings.Join(known, ", ")+more)
	}
	return strings.Join(parts, " and of ")
}

// supply shares materials out among pieces.
type supply struct {
	s        *State
	products map[string]*resources.Product
	drawn    map[string]int64 // by what has begun or is done, of all pieces ever made
	want     map[string]int64 // by open work
	left     map[string]int64 // there and to come
	short    map[string]bool
}

// reckon finds what has been drawn of each material, what is left and which is short.
func reckon(s *State, products map[string]*resources.Product) *supply {
	x := &supply{s: s, products: products, drawn: map[string]int64{}, want: map[string]int64{}, left: map[string]int64{}, short: map[string]bool{}}
	if len(s.Plant.Materials) == 0 {
		return x
	}
	for _, p := range s.Pieces {
		product := products[p.Product]
		if product == nil {
			continue
		}
		open := x.line(p) != nil
		for o, d := range draws(p, product) {
			if o.Status != Planned {
				x.drawn[d.Material] += d.Quantity
			} else if open {
				x.want[d.Material] += d.Quantity
			}
		}
	}
	for i := range s.Plant.Materials {
		m := &s.Plant.Materials[i]
		x.left[m.ID] = m.Stock - x.drawn[m.ID]
		for _, r := range m.Receipts {
			x.left[m.ID] += r.Quantity
		}
		if x.want[m.ID] > x.left[m.ID] {
			x.short[m.ID] = true
		}
	}
	return x
}

// draws goes through what the operations of a piece draw, or have drawn, those that
// were done before a rework too.
func draws(p *Piece, product *resources.Product) iter.Seq2[*OpState, *resources.Draw] {
	return func(yield func(*OpState, *resources.Draw) bool) {
		for _, ops := range [...][]OpState{p.Earlier, p.Ops} {
			for i := range ops {
				o := &ops[i]
				if o.Index < 0 || o.Index >= len(product.Routing) {
					continue
				}
				list := product.Routing[o.Index].Draws
				for k := range list {
					if !yield(o, &list[k]) {
						return
					}
				}
			}
		}
	}
}

// line is the line that still wants a piece; nil: none does.
func (x *supply) line(p *Piece) *Line {
	line := x.s.Lines[LineKey(p.Order, p.Line)]
	if p.Scrapped || line == nil || line.Cancelled {
		return nil
	}
	return line
}

// lacking gives each piece in turn what it wants of what is short, operation by
// operation, and says which go without. A piece that does takes nothing for what
// comes after. Nil: nothing is short.
func (x *supply) lacking() map[Member]string {
	if len(x.short) == 0 {
		return nil
	}
	var turn []*Piece
	for _, p := range x.s.Pieces {
		if x.products[p.Product] != nil && x.line(p) != nil {
			turn = append(turn, p)
		}
	}
	slices.SortFunc(turn, func(a, b *Piece) int {
		one, other := x.line(a), x.line(b)
		return cmp.Or(
			later(!begun(a), !begun(b)), cmp.Compare(one.Due, other.Due), cmp.Compare(other.Weight, one.Weight),
			cmp.Compare(LineKey(one.Order, one.Line), LineKey(other.Order, other.Line)), later(!a.Sample, !b.Sample), cmp.Compare(a.Serial, b.Serial))
	})
	out := map[Member]string{}
	without := map[string]bool{} // pieces
	for _, p := range turn {
		if p.Parent != "" && without[p.Parent] {
			continue // it is not there before its tube is
		}
		routing := x.products[p.Product].Routing
		for i := range p.Ops {
			o := &p.Ops[i]
			if o.Status != Planned || o.Index < 0 || o.Index >= len(routing) {
				continue
			}
			if lack := x.draw(routing[o.Index].Draws); lack != "" {
				out[Member{p.Serial, o.Operation}] = lack
				without[p.Serial] = true
				break
			}
		}
	}
	return out
}

// draw takes what an operation wants, all or nothing; it tells what is lacking.
func (x *supply) draw(draws []resources.Draw) string {
	for _, d := range draws {
		if x.short[d.Material] && x.left[d.Material] < d.Quantity {
			return d.Material
		}
	}
	for _, d := range draws {
		x.left[d.Material] -= d.Quantity
	}
	return ""
}

// later orders false before true.
func later(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}
