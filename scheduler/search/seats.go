// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
)

// anyPlace stands for a station's places when each is taken for some of the
// time, but never all of them at once: those who come later change places to
// make one free.
const anyPlace = int32(-1)

// moved is a slot that changes places.
type moved struct {
	slot
	was, now int32
}

// seats is the first time from t on, and before beat, at which so much can be
// put on a station's places when others may change theirs, and when the places
// are all taken next. Places that are set up for work differ; so do those that
// people, facts or a published plan have given out.
func (b *board) seats(o *option, t, least, beat Tick) (start, end Tick, ok bool) {
	lines := b.places[o.station]
	if len(lines) < 2 || o.family >= 0 || b.scratch.keep || !movable(lines, t) {
		return 0, 0, false
	}
	for t < beat {
		from, to := full(lines, t)
		if t+least <= from {
			return t, from, true
		}
		t = to
	}
	return 0, 0, false
}

// movable tells whether everything that begins at t or later may change places.
func movable(lines []timeline, t Tick) bool {
	for k := range lines {
		slots := lines[k].slots
		for i := len(slots) - 1; i >= 0 && slots[i].from >= t; i-- {
			if slots[i].owner == 0 {
				return false
			}
		}
	}
	return true
}

// full is the first stretch, what of it lies at t or later, in which no place
// is free.
func full(lines []timeline, t Tick) (from, to Tick) {
	for again := true; again; {
		again = false
		to = never
		for k := range lines {
			slots := lines[k].slots
			i := lines[k].after(t)
			if i == len(slots) {
				return never, never
			}
			if slots[i].from > t {
				t, again = slots[i].from, true
				break
			}
			to = min(to, slots[i].to)
		}
	}
	return t, to
}

// makeRoom lets what begins when s does or later change places, so that s gets
// one, and says which: in the order of their beginnings each stays where it is
// if that is free by then.
func (b *board) makeRoom(station int32, s slot) int32 {
	lines := b.places[station]
	list := b.scratch.moved[:0]
	busy := b.scratch.free[:0] // per place: until when
	for k := range lines {
		slots := lines[k].slots
		i := len(slots)
		for i > 0 && slots[i-1].from >= s.from {
			i--
			list = append(list, moved{slots[i], int32(k), int32(k)})
		}
		until := Tick(-1)
		if i > 0 {
			until = slots[i-1].to
		}
		busy = append(busy, until)
	}
	list = append(list, moved{s, anyPlace, anyPlace})
	slices.SortStableFunc(list, func(x, y moved) int { return cmp.Or(cmp.Compare(x.from, y.from), cmp.Compare(x.to, y.to)) })
	for i := range list {
		x := &list[i]
		if x.now == anyPlace || busy[x.now] > x.from {
			x.now = tightest(busy, x.from)
		}
		busy[x.now] = max(busy[x.now], x.to)
	}
	place := anyPlace
	for i := range list {
		if x := &list[i]; x.was == anyPlace {
			place = x.now
		} else if x.now != x.was {
			lines[x.was].remove(x.from, x.to)
			b.journal = append(b.journal, entry{kind: movedSeat, a: station, b: x.was, share: int64(x.now), from: x.from, to: x.to})
		}
	}
	for i := range list {
		if x := &list[i]; x.was != anyPlace && x.now != x.was {
			lines[x.now].insert(x.slot)
			b.sit(x.owner, x.now)
		}
	}
	b.scratch.moved, b.scratch.free = list, busy
	return place
}

// tightest is the place that is free at t for the shortest time.
func tightest(busy []Tick, t Tick) int32 {
	best := -1
	for k, until := range busy {
		if until <= t && (best < 0 || until > busy[best]) {
			best = k
		}
	}
	return int32(best)
}

// sit notes the place of a node, given as its first activity and one.
func (b *board) sit(owner, place int32) {
	for _, a := range b.at[owner-1].node.acts {
		b.at[a].place = place
	}
}

// sitBack undoes a change of places.
func (b *board) sitBack(e *entry) {
	lines := b.places[e.a]
	now := &lines[e.share]
	s := now.slots[now.find(e.from, e.to)]
	now.remove(e.from, e.to)
	lines[e.b].insert(s)
	b.sit(s.owner, e.b)
}
