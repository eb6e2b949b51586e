// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
	"sort"

	"towpath/scheduler"
)

// hopeless is by how much nothing can be pushed: the order of the plan has then
// become a bad one.
const hopeless = Tick(30 * 86400)

// line is what is on a stay's place and has not begun, in the order of time.
func (x *pusher) line(s *stay) *[]int32 { return &x.lines[x.placeAt[s.station]+s.place] }

// ahead tells whether a stay goes before another where they are in each other's
// way: as the old plan began them. What is under way goes first.
func (x *pusher) ahead(i, j int32) bool {
	if i < 0 || j < 0 {
		return i < 0 && j >= 0
	}
	a, b := &x.stays[i], &x.stays[j]
	if a.fixed != b.fixed {
		return a.fixed
	}
	return cmp.Or(cmp.Compare(a.was.setup, b.was.setup), cmp.Compare(i, j)) < 0
}

// sit puts a stay on the line of its place, and has what is in its way there
// timed again.
func (x *pusher) sit(i int32) {
	s := &x.stays[i]
	if s.station < 0 {
		return
	}
	line := x.line(s)
	k := sort.Search(len(*line), func(k int) bool { return x.stays[(*line)[k]].at.setup > s.at.setup })
	*line = slices.Insert(*line, k, i)
	for n := k + 1; n < len(*line); n++ {
		o := (*line)[n]
		if x.stays[o].at.setup >= s.at.end {
			x.between(*line, n)
			break
		}
		if x.ahead(i, o) {
			x.todo.push(x, o)
		}
	}
	for n := k - 1; n >= max(0, k-reachBack); n-- {
		if o := (*line)[n]; x.stays[o].at.end > s.at.setup && x.ahead(i, o) {
			x.todo.push(x, o)
		}
	}
	x.between(*line, k)
}

// reachBack is how many stays that begin before another on its place are looked
// at for whether they last into it.
const reachBack = 8

// rise takes a stay off the line of its place.
func (x *pusher) rise(i int32) {
	s := &x.stays[i]
	if s.station < 0 {
		return
	}
	line := x.line(s)
	k := slices.Index(*line, i)
	*line = slices.Delete(*line, k, k+1)
	x.between(*line, k)
}

// between has the later of two neighbours on a line timed again, the one at a
// position and the one before it, where there is no longer time enough for the
// changeover between them.
func (x *pusher) between(line []int32, k int) {
	if k >= len(line) {
		return
	}
	x.setUp(line[k])
	if k == 0 {
		return
	}
	p, z := &x.stays[line[k-1]], &x.stays[line[k]]
	st := &x.p.Stations[p.station]
	if st.Families > 0 && p.mix < 0 && z.mix < 0 && x.ahead(line[k], line[k-1]) && p.at.end+setupTime(st, p.family, z.family) > z.at.start {
		x.todo.push(x, line[k-1])
	}
}

// setUp has a stay timed again whose changeover has become too short.
func (x *pusher) setUp(i int32) {
	s := &x.stays[i]
	if st := &x.p.Stations[s.station]; st.Families > 0 && s.mix < 0 && !s.hand && x.change(i, s.at.start) > s.at.start-s.at.setup {
		x.todo.push(x, i)
	}
}

// change is how long the changeover of a stay that starts then has to be.
func (x *pusher) change(i int32, start Tick) Tick {
	s := &x.stays[i]
	if s.station < 0 || s.mix >= 0 || x.p.Stations[s.station].Families == 0 {
		return s.kept(start)
	}
	st := &x.p.Stations[s.station]
	family := x.family0[x.placeAt[s.station]+s.place]
	line := *x.line(s)
	k := sort.Search(len(line), func(k int) bool { return x.stays[line[k]].at.start >= start })
	for k--; k >= 0; k-- {
		o := line[k]
		y := &x.stays[o]
		if o != i && y.mix < 0 && (x.ahead(o, i) || y.at.end+setupTime(st, y.family, s.family) <= start) {
			family = y.family
			break
		}
	}
	return max(s.kept(start), setupTime(st, family, s.family))
}

// kept is how long a changeover is at least: as long as it was where it was.
func (s *stay) kept(start Tick) Tick {
	if start == s.was.start {
		return s.was.start - s.was.setup
	}
	return 0
}

func setupTime(st *scheduler.StationP, from, to int32) Tick {
	return Tick(st.SetupTime[from*st.Families+to])
}

// room is the first instant from which a stay, with the times in hand, has a
// place; see serve for which.
func (x *pusher) room(i int32) Tick {
	s := &x.stays[i]
	x.place = s.place
	if s.station < 0 || x.try.setup >= x.try.end {
		return x.try.setup
	}
	first := x.placeFrom(i, s.place, false)
	st := &x.p.Stations[s.station]
	if first == x.try.setup || st.Places < 2 || st.Families > 0 || s.hand {
		return first
	}
	for _, all := range []bool{true, false} {
		for place := range int32(st.Places) {
			if place == s.place {
				continue
			}
			at := x.placeFrom(i, place, all)
			if at == x.try.setup {
				x.place = place
				return at
			}
			if !all && at < first {
				first = at
			}
		}
		if first <= x.try.setup+jump {
			break
		}
	}
	return first
}

// placeFrom is when a place is free of what goes before a stay, or of all, that
// is in the way of its times in hand.
func (x *pusher) placeFrom(i, place int32, all bool) Tick {
	s, from := &x.stays[i], x.try.setup
	st := &x.p.Stations[s.station]
	at := x.placeAt[s.station] + place
	if x.until[at] > from && !s.hand {
		return x.until[at]
	}
	line := x.lines[at]
	k := sort.Search(len(line), func(k int) bool { return x.stays[line[k]].at.setup >= x.try.end })
	next := from
	if k < len(line) && st.Families > 0 && s.mix < 0 {
		z := &x.stays[line[k]]
		if line[k] != i && z.mix < 0 && x.ahead(line[k], i) && z.at.start-setupTime(st, s.family, z.family) < x.try.end {
			next = z.at.end
		}
	}
	before := 0
	for n := k - 1; n >= 0 && before < reachBack; n-- {
		o := line[n]
		y := &x.stays[o]
		if o != i && y.at.end > from && (all || x.ahead(o, i)) {
			next = max(next, y.at.end)
		}
		if y.at.setup <= from {
			before++
		}
	}
	return next
}

// sound tells whether what is on each place has its turn and its changeover.
func (x *pusher) sound() bool {
	for _, line := range x.lines {
		last := int32(-1)
		until := Tick(0)
		for _, i := range line {
			s := &x.stays[i]
			if s.at.setup < until && s.at.setup < s.at.end {
				return false
			}
			until = max(until, s.at.end)
			if st := &x.p.Stations[s.station]; st.Families > 0 && s.mix < 0 {
				family := x.family0[x.placeAt[s.station]+s.place]
				if last >= 0 {
					family = x.stays[last].family
				}
				if (!s.hand || s.at.setup != s.was.setup) && setupTime(st, family, s.family) > s.at.start-s.at.setup {
					return false
				}
				last = i
			}
		}
	}
	return true
}
