// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// pusher moves the work of an earlier plan later, as far as facts ask for it and
// no farther, and leaves what they do not reach to the second: a right shift of
// what is affected. Where two want the same place, people or tool, what the plan
// began first goes first and the other moves later; a longest wait moves its earlier
// end later. So everything only ever moves later, from what facts have touched,
// until nothing is in anything's way.
//
// Stations stay, and so do places, people, tools, loads and mixes as long as they
// can be had in time: what is late may take another place of its station, crew of
// the skill or unit of the pool that is free, a mix that would not live so long is
// made twice, and a load that cannot come together any more is divided.
//
// Work that the plan does not know is no part of it, and a wait whose clock facts
// have begun cannot be kept by pushing: both are left for placing.
type pusher struct {
	p     *scheduler.Problem
	w     *window
	stays []stay
	each  []int32 // the activities
	of    []int32 // per act: its stay; -1: the plan does not know it

	facts  []int32   // per old mix: index into Problem.Mixes; -1: none
	mixing []int32   // per old mix: the stay that makes it; -1: none
	users  [][]int32 // per old mix: stays that draw from it

	placeAt []int32     // per station: its places are lines[placeAt[s]:placeAt[s+1]]
	lines   [][]int32   // per place: stays that have not begun, in their order
	until   []Tick      // per place: when what is under way there is over
	family0 []int32     // per place: what it is set up for then
	unit    []int32     // per hold; -1: not known
	units   [][][]int32 // per pool and unit: holds, in their order

	serves []serve
	crews  []crewTime
	spans  []span
	links  []link
	met    []*span // by the last look

	todo      agenda
	try       times
	place     int32            // of try
	ready     Tick             // of try: its changeover is over
	names     []string         // of the mixes that are new
	loadNames map[int32]string // of loads that are new, by stay
	odd       bool             // something is left that only placing can put right
	changed   bool             // a tool unit is another
	handed    bool             // that of the stay in hand is
}

// stay is what has a place of a station for some time: an activity, a load, or a
// mix in the making. They are numbered in the order in which the plan begins
// them, what is under way first.
type stay struct {
	acts     []int32
	mix      int32 // the old mix that it makes; -1: none
	pot      int32 // the old mix that it draws from; -1: none
	resin    int32 // of the mix that it makes
	station  int32
	place    int32
	family   int32
	fixed    bool
	pauses   bool
	wait     bool // may wait inside
	hand     bool // people have its changeover in hand
	moved    bool // is later than it was
	queued   bool
	divided  bool  // a part of a load that has been divided
	pulls    int32 // how often it has had work before it moved later
	recrewed bool  // other people serve it

	load, run, unload Tick // how long its parts take
	least             Tick // of a changeover in hand

	was, at           times
	setup, start, end Tick // not before, each

	serveAt, serveTo int32
	spanAt, spanTo   int32
}

// times are those of a stay, as those of scheduler.Work.
type times struct{ setup, start, run, runEnd, unload, end Tick }

func (t *times) part(p resources.Part) (from, to Tick) {
	return partOf(p, t.setup, t.start, t.run, t.runEnd, t.unload, t.end)
}

// serve is a crew that serves one part of a stay.
type serve struct {
	part  resources.Part
	skill int32
	crew  int32
	next  int32 // crew of the times in hand
	share int64
}

// rightShift pushes the plan of a window. nil: facts have taken something away
// that it would have to keep.
func rightShift(w *window) *pusher {
	x := &pusher{p: w.p, w: w}
	if !x.build() {
		return nil
	}
	x.begin()
	if !x.settle() || !x.supplied() || !x.sound() {
		return nil
	}
	x.judge()
	return x
}

// steps bounds how often stays may be timed again.
const steps = 6000

// settle times again what has been touched until nothing is left to move.
func (x *pusher) settle() bool {
	for left := steps; len(x.todo) > 0; left-- {
		if left == 0 {
			return false
		}
		i := x.todo.pop(x)
		x.handed = false
		if !x.time(i) {
			return false
		}
		s := &x.stays[i]
		recrewed := x.recrew(s)
		if x.try == s.at && x.place == s.place && !recrewed {
			if x.handed {
				x.onward(i)
			}
			continue
		}
		x.rise(i)
		s.at, s.place, s.moved = x.try, x.place, true
		x.sit(i)
		x.spread(i)
		x.onward(i)
	}
	return true
}

// supplied tells whether the material drawn is there.
func (x *pusher) supplied() bool {
	stocks := make([]stock, len(x.p.Stocks))
	for k := range stocks {
		for _, step := range x.p.Stocks[k].Steps {
			stocks[k].from, stocks[k].left = append(stocks[k].from, step.At), append(stocks[k].left, step.Cap)
		}
	}
	for i := range x.stays {
		if s := &x.stays[i]; !s.fixed {
			for _, a := range s.acts {
				for _, d := range x.p.Acts[a].Draws {
					stocks[d.Stock].give(s.at.start, -d.Quantity)
				}
			}
		}
	}
	return !slices.ContainsFunc(stocks, func(s stock) bool { return slices.Min(s.left) < 0 })
}

// agenda is the stays to be timed again, the first of the plan first.
type agenda []int32

func (l *agenda) push(x *pusher, i int32) {
	if x.stays[i].queued || x.stays[i].fixed {
		return
	}
	x.stays[i].queued = true
	h := append(*l, i)
	for k := len(h) - 1; k > 0; {
		up := (k - 1) / 2
		if h[up] <= h[k] {
			break
		}
		h[up], h[k] = h[k], h[up]
		k = up
	}
	*l = h
}

func (l *agenda) pop(x *pusher) int32 {
	h := *l
	first, last := h[0], len(h)-1
	h[0] = h[last]
	h = h[:last]
	for k := 0; ; {
		low := 2*k + 1
		if low >= last {
			break
		}
		if low+1 < last && h[low+1] < h[low] {
			low++
		}
		if h[k] <= h[low] {
			break
		}
		h[k], h[low] = h[low], h[k]
		k = low
	}
	*l = h
	x.stays[first].queued = false
	return first
}
