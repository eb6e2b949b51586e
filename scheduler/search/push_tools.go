// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
)

// tools lists the holds of each tool unit in the order in which they begin.
func (x *pusher) tools() {
	p := x.p
	x.unit = none(len(p.Holds))
	x.units = make([][][]int32, len(p.Pools))
	for i := range p.Pools {
		x.units[i] = make([][]int32, len(p.Pools[i].Units))
	}
	var taken []int32
	for h := range p.Holds {
		hold := &p.Holds[h]
		switch {
		case hold.Take < 0:
			x.unit[h] = hold.Unit
			x.units[hold.Pool][hold.Unit] = append(x.units[hold.Pool][hold.Unit], int32(h))
		case x.of[hold.Take] >= 0:
			if x.unit[h] = x.marked(int32(h)); x.unit[h] >= 0 {
				taken = append(taken, int32(h))
			}
		}
		x.odd = x.odd || x.unit[h] < 0 || x.of[hold.Give] < 0
	}
	slices.SortStableFunc(taken, func(a, b int32) int { return cmp.Compare(x.of[p.Holds[a].Take], x.of[p.Holds[b].Take]) })
	for _, h := range taken {
		list := &x.units[p.Holds[h].Pool][x.unit[h]]
		*list = append(*list, h)
	}
}

// marked is the unit that the old plan has for a hold.
func (x *pusher) marked(h int32) int32 {
	hold := &x.p.Holds[h]
	act := &x.p.Acts[hold.Take]
	said := x.w.old.Work[x.w.was[hold.Take]].Tools
	if act.Fixed != nil {
		said = act.Fixed.Tools
	}
	if i := slices.Index(act.Holds, h); i < len(said) {
		for u, name := range x.p.Pools[hold.Pool].Units {
			if name == said[i] {
				return int32(u)
			}
		}
	}
	return -1
}

// taker is the stay that takes the unit of a hold; -1: it is taken.
func (x *pusher) taker(h int32) int32 {
	if take := x.p.Holds[h].Take; take >= 0 {
		return x.of[take]
	}
	return -1
}

// back is when a hold's unit can be taken again.
func (x *pusher) back(h int32) Tick {
	hold := &x.p.Holds[h]
	if give := x.of[hold.Give]; give >= 0 {
		return x.stays[give].at.end + Tick(x.p.Pools[hold.Pool].Turnaround)
	}
	return 0 // its end is not known here
}

// away is from when to when a hold has its unit, turnaround included.
func (x *pusher) away(h int32) (from, to Tick) {
	if i := x.taker(h); i >= 0 {
		from = x.stays[i].at.setup
	}
	return from, x.back(h)
}

// unitFrom is the first instant from which a unit is free so long of those who
// have it before a stay, or of all.
func (x *pusher) unitFrom(i, pool, u int32, from, long Tick, all bool) Tick {
	from = max(from, x.p.Pools[pool].FreeAt[u])
	for again := true; again; {
		again = false
		for _, h := range x.units[pool][u] {
			if j := x.taker(h); j != i && (all || x.ahead(j, i)) {
				if since, until := x.away(h); since < from+long && until > from {
					from, again = until, true
				}
			}
		}
	}
	return from
}

// toolsFrom is the first instant from which a stay has its tools. Where one is
// not there when it could begin it takes another of the pool: one that is free as
// long as it needs it, else the one that is given back first.
func (x *pusher) toolsFrom(i int32, from Tick) Tick {
	p, floor := x.p, Tick(0)
	for _, a := range x.stays[i].acts {
		for _, h := range p.Acts[a].Holds {
			if x.unit[h] < 0 {
				continue
			}
			long := max(1, x.back(h)-x.stays[i].at.setup)
			free := x.unitFrom(i, p.Holds[h].Pool, x.unit[h], from, long, false)
			if free > from {
				free = x.another(h, i, from, long, free)
			}
			floor = max(floor, free)
		}
	}
	return floor
}

func (x *pusher) another(h, i int32, from, long, free Tick) Tick {
	pool := x.p.Holds[h].Pool
	best, first := x.unit[h], free
	for u := range x.units[pool] {
		u := int32(u)
		if u == x.unit[h] || slices.ContainsFunc(x.units[pool][u], func(o int32) bool { return x.taker(o) == i }) {
			continue
		}
		if x.unitFrom(i, pool, u, from, long, true) == from {
			best, first = u, from
			break
		}
		if at := x.unitFrom(i, pool, u, from, long, false); at < first {
			best, first = u, at
		}
	}
	if best != x.unit[h] {
		x.hand(h, i, best)
	}
	return first
}

// hand gives a hold another unit.
func (x *pusher) hand(h, i, u int32) {
	pool := x.p.Holds[h].Pool
	was, now := &x.units[pool][x.unit[h]], &x.units[pool][u]
	*was = slices.DeleteFunc(*was, func(o int32) bool { return o == h })
	*now = append(*now, h)
	x.unit[h], x.changed, x.handed, x.stays[i].moved = u, true, true, true
}

// taken has those timed again who want a unit while a hold has it, or its own
// taker, where they go before.
func (x *pusher) taken(h int32) {
	pool, me := x.p.Holds[h].Pool, x.taker(h)
	if x.unit[h] < 0 {
		return
	}
	from, to := x.away(h)
	for _, o := range x.units[pool][x.unit[h]] {
		j := x.taker(o)
		if j == me {
			continue
		}
		if since, until := x.away(o); since < to && until > from {
			if x.ahead(j, me) {
				j = me
			}
			if j >= 0 {
				x.todo.push(x, j)
			}
		}
	}
}
