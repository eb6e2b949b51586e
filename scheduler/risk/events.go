// SPDX-License-Identifier: Apache-2.0

package risk

// What happens at an instant.
const (
	evReady   uint8 = iota // an activity's waits are over
	evPhase                // a part of a node's work ends
	evGoOn                 // a node at work may be unloaded
	evPlace                // a changeover made ahead of time ends
	evTool                 // a tool is usable again
	evCrew                 // a crew's head count changes
	evStation              // time to look at a station again
)

type event struct {
	at   Tick
	kind uint8
	id   int32
}

func (a event) before(b event) bool {
	if a.at != b.at {
		return a.at < b.at
	}
	if a.kind != b.kind {
		return a.kind < b.kind
	}
	return a.id < b.id
}

// heap is a binary heap of events, earliest first.
type heap []event

func (h *heap) push(e event) {
	*h = append(*h, e)
	x := *h
	i := len(x) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !e.before(x[up]) {
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
		down := 2*i + 1
		if down >= len(x) {
			break
		}
		if down+1 < len(x) && x[down+1].before(x[down]) {
			down++
		}
		if !x[down].before(last) {
			break
		}
		x[i] = x[down]
		i = down
	}
	if len(x) > 0 {
		x[i] = last
	}
	return top
}

func (y *Player) happen(e event) {
	switch e.kind {
	case evReady:
		y.arrive(e.id)
	case evPhase:
		w := &y.works[y.nodes[e.id].place]
		y.release(w)
		w.phase++
		y.advance(e.id)
	case evGoOn:
		y.advance(e.id)
	case evPlace:
		y.placeReady(e.id)
	case evTool:
		y.pools[e.id]++
		for _, s := range y.onPool[e.id] {
			y.touch(s)
		}
		y.onPool[e.id] = y.onPool[e.id][:0]
	case evCrew:
		y.crews[e.id].due = false
		y.wake(e.id)
	case evStation:
		if y.stations[e.id].timer <= y.now {
			y.stations[e.id].timer = never
			y.touch(e.id)
		}
	}
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
func (y *Player) lookAgain(s int32, at Tick) {
	if st := &y.stations[s]; at < st.timer && at < never {
		st.timer = at
		y.events.push(event{at, evStation, s})
	}
}
