// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/resources"

// jump is how much later than it was told work must be to have jumped, unjumps
// how often a repair looks for a way that it does not.
const (
	jump    = Tick(resources.Hour)
	unjumps = 4
)

// inFront is added to the keys of what has jumped, so that it is placed before
// all else of its sort that it need not wait for.
const inFront = firstKey / 10

// unjump looks for what has jumped in the solution on the board, which is that
// of kept. Work that hangs together is placed whole, its last step before the
// first of others: a load pushed by half a minute finds its oven taken by the
// evening's and comes after that, tomorrow. Placed first, it takes half a minute
// from the other. Kept becomes the better way, and the board holds it.
func (d *decoder) unjump(kept *genome) {
	was := d.assess()
	for range unjumps {
		next := kept.clone()
		if !d.bringForward(next) {
			return
		}
		if d.decode(next) {
			if is := d.assess(); is.better(&was) {
				was = is
				kept.copyFrom(next)
				continue
			}
		}
		if !d.decode(kept) {
			panic("a solution that was on the board does not fit it any more")
		}
		return
	}
}

// bringForward has what has jumped placed first, in the order in which it was
// told; false when nothing has that is not already.
func (d *decoder) bringForward(g *genome) bool {
	found := false
	for a := range g.key {
		act := &d.m.p.Acts[a]
		if act.Fixed != nil || g.floor[a] == 0 || d.b.at[a].start <= max(g.floor[a], d.m.p.Now)+jump {
			continue
		}
		key := inFront + float64(g.floor[a])
		if d.m.first[a] {
			key = firstKey + inFront + float64(g.floor[a])
		}
		if key < g.key[a] {
			g.key[a], found = key, true
		}
	}
	return found
}
