// SPDX-License-Identifier: Apache-2.0

package risk

// What happens at an instant.
const (
	evReady uint64 = iota // an activity's waits are over
	evPhase               // a part of a node's work ends
	evGoOn                // a node at work may be unloaded
	evPlace               // a changeover made ahead of time ends
	evTool                // a tool is usable again
)

// event is an instant, what happens then, and to whom, all in one number, so that of two events the smaller comes
// first. What happens at one instant goes by kind, then by index.
type event uint64

const (
	idBits   = 24
	kindBits = 3
	most     = 1 << idBits // activities, and nodes
)

// push has something happen at an instant; never: not at all.
func (y *Player) push(at Tick, kind uint64, id int32) {
	if at < never {
		y.events.push(event(uint64(at)<<(idBits+kindBits) | kind<<idBits | uint64(id)))
	}
}

func (e event) at() Tick { return Tick(e >> (idBits + kindBits)) }

func (e event) kind() uint64 { return uint64(e) >> idBits & (1<<kindBits - 1) }

func (e event) id() int32 { return int32(e & (most - 1)) }

// heap is a heap of events in which each has four below it, earliest first.
type heap []event

func (h *heap) push(e event) {
	*h = append(*h, e)
	x := *h
	i := len(x) - 1
	for i > 0 {
		up := (i - 1) / 4
		if e >= x[up] {
			break
		}
		x[i] = x[up]
		i = up
	}
	x[i] = e
}

func (h *heap) pop() event {
	x := *h
	top, last := x[0], x[len(x)-1]
	x = x[:len(x)-1]
	*h = x
	i := 0
	for {
		down := 4*i + 1
		if down >= len(x) {
			break
		}
		least := x[down]
		for k, e := range x[down+1 : min(down+4, len(x))] {
			if e < least {
				least, down = e, 4*i+2+k
			}
		}
		if least >= last {
			break
		}
		x[i] = least
		i = down
	}
	if len(x) > 0 {
		x[i] = last
	}
	return top
}

func (y *Player) happen(e event) {
	id := e.id()
	switch e.kind() {
	case evReady:
		y.arrive(y.g.actBy[id])
	case evPhase:
		n := y.g.nodeBy[id]
		w := &y.works[y.nodes[n].place]
		y.release(w)
		w.phase++
		y.advance(n)
	case evGoOn:
		y.advance(y.g.nodeBy[id])
	case evPlace:
		y.placeReady(id)
	case evTool:
		y.pools[id]++
		for _, s := range y.onPool[id] {
			y.touch(s)
		}
		y.onPool[id] = y.onPool[id][:0]
	}
}

// alarms are set by the many that want to be looked at again when time has
// passed: the earliest instant for each, never for who waits for none.
type alarms struct {
	at   []Tick
	next Tick
}

func (x *alarms) reset() {
	for i := range x.at {
		x.at[i] = never
	}
	x.next = never
}

// set moves an alarm, but never later.
func (x *alarms) set(i int32, at Tick) {
	if at < x.at[i] {
		x.at[i] = at
		x.next = min(x.next, at)
	}
}

// ring tells of each whose alarm is over, in the order of their numbers.
func (x *alarms) ring(now Tick, tell func(i int32)) {
	next := never
	for i, at := range x.at {
		if at <= now {
			x.at[i] = never
			tell(int32(i))
			continue
		}
		next = min(next, at)
	}
	x.next = next
}

// wake lets those look again who wait for people of a crew.
func (y *Player) wake(c int32) {
	for _, s := range y.onCrew[c] {
		y.look(s)
	}
	y.onCrew[c] = y.onCrew[c][:0]
	if len(y.stalled) > 0 {
		y.people = true
	}
}

// lookAgain asks for a look at a station at an instant.
func (y *Player) lookAgain(s int32, at Tick) { y.looks.set(s, at) }
