// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"sort"

	"towpath/resources"
)

// choose finds the operations that can be planned: not done, on a piece that
// is not held, with the material they draw, and not waiting for one that cannot be
// planned.
func (c *compiler) choose() error {
	lack := c.supply.lacking()
	for i := range c.rows {
		r := &c.rows[i]
		for k := range r.piece.Ops {
			c.acts[r.at+k] = noAct
			st := r.piece.Ops[k].Status
			idle := r.piece.Held || lack[Member{r.piece.Serial, r.piece.Ops[k].Operation}] != ""
			if st == Started || st == Paused || st == Planned && !idle {
				c.acts[r.at+k] = wanted
			}
		}
	}
	for again := true; again; {
		again = false
		for i := range c.rows {
			r := &c.rows[i]
			for k := range r.piece.Ops {
				if c.acts[r.at+k] != noAct && r.piece.Ops[k].Status == Planned && c.waitsInVain(opRef{r.piece, k, i}) {
					c.acts[r.at+k] = noAct
					again = true
				}
			}
		}
	}
	return nil
}

func (c *compiler) waitsInVain(ref opRef) bool {
	vain := false
	c.sources(ref, func(_ *resources.Link, from opRef) {
		if from.piece.Ops[from.op].Status == Done {
			return
		}
		if _, ok := c.act(from); !ok {
			vain = true
		}
	})
	return vain || c.keepsTool(ref)
}

// keepsTool says that a tool taken here could not be given back: the giving
// operation cannot be planned.
func (c *compiler) keepsTool(ref opRef) bool {
	for _, until := range c.rows[ref.row].route.until[ref.piece.Ops[ref.op].Index] {
		k := opAt(ref.piece, until)
		if k < 0 {
			return true
		}
		if _, ok := c.act(opRef{ref.piece, k, ref.row}); !ok {
			return true
		}
	}
	return false
}

// sources calls visit for every operation that a link of ref's operation
// waits for.
func (c *compiler) sources(ref opRef, visit func(*resources.Link, opRef)) {
	r := c.rows[ref.row].route
	ix := ref.piece.Ops[ref.op].Index
	links := r.product.Routing[ix].After
	for i, from := range r.after[ix] {
		if from < 0 {
			continue
		}
		if op := &r.product.Routing[from]; c.onItself(ref.row, op) {
			if k := opAt(ref.piece, from); k >= 0 {
				visit(&links[i], opRef{ref.piece, k, ref.row})
			}
		} else {
			c.onPieces(ref.row, op, func(piece *Piece, row int) {
				if k := opAt(piece, from); k >= 0 {
					visit(&links[i], opRef{piece, k, row})
				}
			})
		}
	}
}

// onPieces calls visit for every piece on which the operation speaks to the
// piece of a row.
func (c *compiler) onPieces(at int, op *resources.Operation, visit func(*Piece, int)) {
	piece := c.rows[at].piece
	others := func(choose func(*Piece) bool) {
		for _, serial := range c.s.Lines[LineKey(piece.Order, piece.Line)].Pieces {
			if other := c.s.Pieces[serial]; other != nil && choose(other) {
				visit(other, c.rowNumber(other))
			}
		}
	}
	if op.Per == resources.PerSample && !piece.Sample {
		others(func(p *Piece) bool { return p.Sample && !p.Scrapped })
		return
	}
	if c.onItself(at, op) {
		visit(piece, at)
		return
	}
	if piece.Shaft {
		if tube := c.s.Pieces[piece.Parent]; tube != nil {
			visit(tube, c.rowNumber(tube))
		}
		return
	}
	others(func(p *Piece) bool { return p.Parent == piece.Serial && p.Shaft && !p.Scrapped })
}

// onItself tells whether the operation is one on the piece of a row itself.
func (c *compiler) onItself(at int, op *resources.Operation) bool {
	r := &c.rows[at]
	if op.Per == resources.PerSample && !r.piece.Sample {
		return false
	}
	return !r.route.split || r.piece.Shaft == (op.Per != resources.PerTube)
}

// rowNumber is a piece's row, -1 when it is not open.
func (c *compiler) rowNumber(piece *Piece) int {
	if i, ok := c.rowOf[piece]; ok {
		return i
	}
	return -1
}

// opAt finds routing operation ix among a piece's operations, -1 if it does
// not pass there.
func opAt(piece *Piece, ix int) int {
	if ix >= 0 && ix < len(piece.Ops) && piece.Ops[ix].Index == ix {
		return ix // it passes everywhere up to there
	}
	k := sort.Search(len(piece.Ops), func(i int) bool { return piece.Ops[i].Index >= ix })
	if k < len(piece.Ops) && piece.Ops[k].Index == ix {
		return k
	}
	return -1
}

// opNamed finds an operation of a piece by name, -1 if it does not pass there.
func opNamed(piece *Piece, operation string) int {
	for k := range piece.Ops {
		if piece.Ops[k].Operation == operation {
			return k
		}
	}
	return -1
}
