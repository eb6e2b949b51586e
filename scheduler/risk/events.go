// SPDX-License-Identifier: Apache-2.0

package risk

import "math/bits"

// What happens at an instant.
const (
	evReady uint64 = iota // an activity's waits are over
	evPhase               // a part of the work at a place ends
	evGoOn                // what is at a place may be unloaded
	evPlace               // a changeover made ahead of time ends
	evTool                // a tool is usable again
)

// event is an instant and what happens then, in one number, so that of two
// events the smaller comes first, and who it happens to: an activity, a place
// or a pool. What happens at one instant goes by kind, then by the number that
// the problem has for it.
type event struct {
	when uint64
	who  int32
}

const (
	numberBits = 24
	kindBits   = 3
	most       = 1 << numberBits // activities, and nodes
)

// push has something happen at an instant; never: not at all.
func (y *Player) push(at Tick, kind uint64, number, who int32) {
	if at < never {
		y.events.push(event{uint64(at)<<(numberBits+kindBits) | kind<<numberBits | uint64(number), who})
	}
}

func (e event) at() Tick { return Tick(e.when >> (numberBits + kindBits)) }

func (e event) kind() uint64 { return e.when >> numberBits & (1<<kindBits - 1) }

// agenda is events in order, the next at the end: there are about as many as
// places, and most that come in come soon, so that few have to move.
type agenda []event

func (q *agenda) push(e event) {
	*q = append(*q, e)
	x := *q
	for i := len(x) - 1; i > 0; i-- {
		if x[i-1].when >= e.when {
			x[i] = e
			return
		}
		x[i] = x[i-1]
	}
	x[0] = e
}

// next is when the next event happens; never: there is none.
func (q agenda) next() Tick {
	if len(q) == 0 {
		return never
	}
	return q[len(q)-1].at()
}

func (y *Player) happen(e event) {
	switch e.kind() {
	case evReady:
		y.arrive(e.who)
	case evPhase:
		w := &y.works[e.who]
		y.release(w)
		if w.phase == phaseRun && w.length[phaseUnload] == 0 {
			y.finish(w)
			return
		}
		w.phase++
		y.advance(w)
	case evGoOn:
		y.advance(&y.works[e.who])
	case evPlace:
		y.placeReady(e.who)
	case evTool:
		y.pools[e.who]++
		waiting := &y.onPool[e.who]
		y.changed.addThose(waiting, waiting)
		y.dirty.addThose(waiting, &y.roomy)
		waiting.clear()
	}
}

// alarms are set by stations that want to be looked at again when time has
// passed: the earliest instant for each.
type alarms struct {
	at   []Tick
	on   set // those that wait for an instant
	next Tick
}

func newAlarms(n int) alarms { return alarms{at: apart[Tick](n), on: newSet(n)} }

func (x *alarms) reset() {
	for i := range x.at {
		x.at[i] = never
	}
	x.on.clear()
	x.next = never
}

// set moves an alarm, but never later.
func (x *alarms) set(i int32, at Tick) {
	if at < x.at[i] {
		x.at[i] = at
		x.on.add(i)
		x.next = min(x.next, at)
	}
}

// ring adds those whose alarm is over to a set.
func (x *alarms) ring(now Tick, rung *set) {
	over, next := x.ringSome(x.on.low, x.at, now, never)
	x.on.low &^= over
	rung.low |= over
	for k, word := range x.on.high {
		over, next = x.ringSome(word, x.at[64*(k+1):], now, next)
		x.on.high[k] &^= over
		rung.high[k] |= over
	}
	x.next = next
}

// ringSome finds which of up to 64 alarms are over, and the next of the others.
func (x *alarms) ringSome(on uint64, at []Tick, now, next Tick) (over uint64, after Tick) {
	for word := on; word != 0; word &= word - 1 {
		i := bits.TrailingZeros64(word)
		if at[i] > now {
			next = min(next, at[i])
			continue
		}
		at[i] = never
		over |= word & -word
	}
	return over, next
}

// wake lets those look again who wait for people of a crew.
func (y *Player) wake(c int32) {
	waiting := &y.onCrew[c]
	woken := waiting.low | y.needy&y.g.needing[c]
	y.dirty.low |= woken & y.roomy.low
	y.needy &^= woken
	waiting.low = 0
	if len(waiting.high) > 0 {
		y.dirty.addThose(waiting, &y.roomy)
		waiting.clear()
	}
	if c >= 64 || y.stalledFor>>uint32(c)&1 != 0 {
		y.people = true
	}
}

// lookAgain asks for a look at a station at an instant.
func (y *Player) lookAgain(s int32, at Tick) { y.looks.set(s, at) }
