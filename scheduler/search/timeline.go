// SPDX-License-Identifier: Apache-2.0

package search

import (
	"sort"

	"towpath/scheduler"
)

// Tick and Seconds are the engine's time.
type (
	Tick    = scheduler.Tick
	Seconds = scheduler.Seconds
)

// never is later than any instant a plan can speak of.
const never = Tick(1) << 60

// slot is one occupation of a station's place, or of a tool unit.
type slot struct {
	from   Tick // changeover included
	start  Tick // loading begins; from..start is the changeover
	to     Tick
	family int32 // what the station is set up for afterwards; -1: not told apart
	owner  int32 // first activity, and one, of a node that may change places; 0: it stays
	begun  bool  // it has begun: its changeover is behind it
	loose  bool  // whether its changeover is long enough is seen later, when all before it is there
}

// timeline is the occupation of one place, sorted and not overlapping.
type timeline struct {
	slots []slot
}

// after finds the first slot that ends after t.
func (l *timeline) after(t Tick) int {
	n := len(l.slots)
	// Most questions are about the end of the line.
	for least := max(0, n-few); n > least; n-- {
		if l.slots[n-1].to <= t {
			return n
		}
	}
	return sort.Search(n, func(i int) bool { return l.slots[i].to > t })
}

// few is at how many slots after looks one after the other, from the end.
const few = 4

// insert puts a slot in its place. Of slots at one instant those of no length
// come first, in the order they came.
func (l *timeline) insert(s slot) {
	behind := func(i int) bool {
		x := &l.slots[i]
		return x.from > s.from || x.from == s.from && x.to > x.from
	}
	n := len(l.slots)
	if n == 0 || !behind(n-1) { // most come last
		l.slots = append(l.slots, s)
		return
	}
	i := sort.Search(n, behind)
	l.slots = append(l.slots, slot{})
	copy(l.slots[i+1:], l.slots[i:])
	l.slots[i] = s
}

// remove takes out the slot that begins at from and ends at to.
func (l *timeline) remove(from, to Tick) {
	i := l.find(from, to)
	l.slots = append(l.slots[:i], l.slots[i+1:]...)
}

// find is the index of the slot [from, to).
func (l *timeline) find(from, to Tick) int {
	// Of equal slots of no length the last is the one put down last.
	i := sort.Search(len(l.slots), func(i int) bool { return l.slots[i].from > from }) - 1
	for i >= 0 && l.slots[i].to != to {
		i--
	}
	if i < 0 {
		panic("search: slot to be taken out is not there")
	}
	return i
}

// freeBefore is the last instant up to t with length free seconds ahead.
func (l *timeline) freeBefore(t, length Tick) Tick {
	to := t + length
	for i := min(l.after(to), len(l.slots)-1); i >= 0; i-- {
		x := &l.slots[i]
		if x.from >= to {
			continue
		}
		if x.to <= to-length {
			break
		}
		to = x.from
	}
	return to - length
}
