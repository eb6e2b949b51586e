// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"
	"slices"

	"towpath/resources"
)

// phases of a node in work, in order.
const (
	phaseSetup = iota
	phaseLoad
	phaseRun
	phaseUnload
	phases
)

var partOf = [phases]resources.Part{resources.PartSetup, resources.PartLoad, resources.PartRun, resources.PartUnload}

// What an activity or a node is at.
const (
	waiting uint8 = iota
	ready
	running
	done
	gone // its piece was given up
)

// held is people at work: so much of a crew.
type held struct {
	crew  int32
	share int64
}

// mostHeld is how many crews one part may want at once.
const mostHeld = 6

// actNow is an activity in one replication. It fills a line of the cache, and
// so does a node: what is asked of them all the time is here, also what never
// changes.
type actNow struct {
	key     uint64
	readyAt int32
	spoilAt int32 // loading should start by then; never: no such limit
	start   int32
	end     int32
	pend    int32 // waits before it that are not over
	from    int32 // activity whose end made it ready; -1: none
	next    int32 // member of the same node; -1: none
	node    int32
	mode    int32 // on the node's station
	kind    int32
	piece   int32 // -1: a mix
	holds   int32 // the first of its holds
	number  int32 // among what happens at one instant
	tries   uint8
	redone  uint8 // 1: again at the same step or an earlier one, 2: made anew
	state   uint8
	owed    bool // its clock runs, and people are kept for it
}

// nodeNow is a node in one replication.
type nodeNow struct {
	start   int32 // as planned; a spare one: long ago
	spoil   int32 // when the first of its members that are there should begin; never: no such limit, or begun
	firstIn int32 // when the first became ready
	unload  int32 // as planned
	first   int32 // member
	lacking int32 // members not ready
	there   int32 // members ready
	place   int32 // of all; -1: not begun
	number  int32 // among what happens at one instant
	prefer  int32 // as of the program
	before  int32 // node that had its place before; -1: none
	via     int32 // activity whose end let it begin; -1: none
	why     cause // what it last waited for
	station int32
	wanted  int16 // the planned place, of its station; -1: none
	state   uint8
	setUp   bool
}

// delays are seconds by which a node's work grew.
type delays struct {
	broken  int32 // of the run: standing broken down
	remixed int32 // of loading: mixing again
}

// workNow is what goes on at a place.
type workNow struct {
	length    [phases]Tick
	phase     int
	held      [mostHeld]held
	heldCount int
	begun     bool // loading has begun
}

// stationNow is a station in one replication. Next in turn is the first of its
// queue that is not begun; what is known of it is kept here, as it is asked for
// at each look.
type stationNow struct {
	*station
	number    int32
	next      int   // of the queue: all before are begun
	turn      int32 // node at next; -1: none is left
	passed    bool  // it has begun since
	hurry     bool  // a member of it is there that spoils
	turnStart Tick  // its planned start; never: none is left
	free      int32
	freeSince Tick
	avail     []int32 // nodes with a member there, in the order of the plan
	spoiling  int     // how many of avail have a member there that spoils
	extras    []int32
	dirty     bool  // a look at it is due
	changed   bool  // something but people has changed since it was looked at
	short     int32 // a skill found short in this look; -1: none
	opening   int   // of the calendar, the first that ends after now
	opens     span  // that one; never: none is left
	reopens   Tick  // the start of the one after
	stop      int   // of its stops, the first that ends after now
	uptime    Tick  // running time left until it breaks down
	broke     uint64
}

type placeNow struct {
	busy   bool
	family int32
	last   int32 // node; -1: none
	setup  int32 // node it is being set up for; -1: none
}

// crewNow is a crew in one replication. Of its calendar the step is kept that
// now is in.
type crewNow struct {
	used  int64
	there int64 // heads, those absent taken off
	until Tick  // when that changes; never: not any more
	step  int
}

// Player plays one replication after another. It belongs to one goroutine; it
// allocates nothing while it plays.
type Player struct {
	g    *Program
	luck luck
	now  Tick // from the program's now

	acts     []actNow
	nodes    []nodeNow
	delays   []delays // of nodes
	stations []stationNow
	places   []placeNow
	works    []workNow // at places
	crews    []crewNow
	pools    []int64
	taken    []bool // holds whose tool is out
	released []bool // arcs that are over
	lasts    []int32
	good     []int32
	doneAt   []Tick  // of lines, by the calendar; noDate: not within it
	lastAct  []int32 // that completed them; -1: none
	spare    []int32 // pieces that lines can do without
	left     int     // lines to come

	events  heap
	shifts  alarms // of crews: their next change of heads
	looks   alarms // of stations
	dirty   []int32
	onCrew  [][]int32 // stations waiting for people of a crew
	onPool  [][]int32
	owed    [][]int32 // by skill: activities that people are kept for
	stalled []int32   // nodes at work that wait for people
	unstuck []int32   // scratch
	trial   trial     // in hand
	people  bool      // somebody has become free
	again   []int32   // scratch
	mark    []bool
	fresh   struct {
		acts  []actNow
		nodes []nodeNow
	}

	breaches int64
	forced   int64
	spoiled  []bool // orders with a wait overrun
}

// NewPlayer makes room for playing.
func (g *Program) NewPlayer() *Player {
	y := &Player{
		g: g, acts: make([]actNow, len(g.acts)), nodes: make([]nodeNow, len(g.nodes)), delays: make([]delays, len(g.nodes)),
		stations: make([]stationNow, len(g.stations)), places: make([]placeNow, g.places), works: make([]workNow, g.places+1),
		crews: make([]crewNow, len(g.crews)), pools: make([]int64, len(g.p.Pools)),
		taken: make([]bool, len(g.p.Holds)), released: make([]bool, len(g.arcs)),
		lasts: make([]int32, len(g.pieces)), good: make([]int32, len(g.lines)), doneAt: make([]Tick, len(g.lines)),
		lastAct: make([]int32, len(g.lines)), spare: make([]int32, len(g.lines)),
		onCrew: make([][]int32, len(g.crews)), onPool: make([][]int32, len(g.p.Pools)),
		shifts: alarms{at: make([]Tick, len(g.crews))}, looks: alarms{at: make([]Tick, len(g.stations))},
		owed: make([][]int32, len(g.p.Skills)), mark: make([]bool, len(g.acts)), spoiled: make([]bool, len(g.orders)),
	}
	for n := range y.nodes {
		y.nodes[n] = g.freshNode(int32(n))
	}
	y.fresh.acts, y.fresh.nodes = make([]actNow, len(g.acts)), slices.Clone(y.nodes[:g.planned])
	for a := range g.acts {
		fa := &g.acts[a]
		y.fresh.acts[a] = actNow{
			key: fa.key, readyAt: short32(fa.release), spoilAt: short32(fa.deadline), pend: g.inAt[a+1] - g.inAt[a], from: -1, next: -1,
			node: fa.planned, mode: g.modeOn(int32(a), g.nodes[fa.planned].station), kind: fa.kind, piece: fa.piece, holds: fa.holds, number: fa.number,
		}
	}
	for n := range y.fresh.nodes {
		x, nd := &y.fresh.nodes[n], &g.nodes[n]
		for i := nd.to - 1; i >= nd.at; i-- {
			y.fresh.acts[g.members[i]].next = x.first
			x.first = g.members[i]
			x.lacking++
		}
	}
	return y
}

// freshNode is a node that nothing is in.
func (g *Program) freshNode(n int32) nodeNow {
	nd := &g.nodes[n]
	x := nodeNow{
		start: short32(nd.start), spoil: int32(never), unload: short32(nd.unload), first: -1, place: -1, number: nd.number,
		prefer: nd.prefer, before: -1, via: -1, station: nd.station, wanted: -1,
	}
	if nd.place <= math.MaxInt16 {
		x.wanted = int16(nd.place)
	}
	return x
}

// play is one history. Afterwards doneAt has what became of each line.
func (y *Player) play(l luck) {
	y.luck = l
	y.reset()
	y.settle()
	for y.left > 0 {
		at := min(y.shifts.next, y.looks.next)
		if len(y.events) > 0 {
			at = min(at, y.events[0].at())
		}
		if at == never {
			if !y.force() {
				break
			}
			y.settle()
			continue
		}
		y.now = at
		for len(y.events) > 0 && y.events[0].at() == at {
			y.happen(y.events.pop())
		}
		if y.shifts.next <= y.now {
			y.shifts.ring(y.now, y.wake)
		}
		if y.looks.next <= y.now {
			y.looks.ring(y.now, y.touch)
		}
		y.settle()
	}
}

func (y *Player) reset() {
	g := y.g
	y.now = 0
	copy(y.acts, y.fresh.acts)
	copy(y.nodes, y.fresh.nodes) // spare ones are made anew when they are used
	clear(y.delays)
	clear(y.taken)
	clear(y.released)
	clear(y.good)
	clear(y.spoiled)
	y.events, y.dirty, y.stalled = y.events[:0], y.dirty[:0], y.stalled[:0]
	y.shifts.reset()
	y.looks.reset()
	y.people = false
	for k := range y.owed {
		y.owed[k] = y.owed[k][:0]
	}
	y.breaches, y.forced = 0, 0
	for c := range y.crews {
		y.crews[c] = crewNow{step: -1}
		y.stepOn(int32(c))
		y.onCrew[c] = y.onCrew[c][:0]
	}
	for i := range g.pieces {
		y.lasts[i] = g.pieces[i].lasts
	}
	y.left = 0
	for i := range g.lines {
		y.doneAt[i], y.lastAct[i], y.spare[i] = g.lines[i].done, -1, g.lines[i].spare
		if g.lines[i].need > 0 {
			y.left++
		}
		if g.lines[i].need != 0 {
			y.doneAt[i] = noDate
		}
	}
	for s := range y.stations {
		x, sp := &y.stations[s], &g.p.Stations[s]
		*x = stationNow{station: &g.stations[s], number: int32(s), free: int32(sp.Places), freeSince: y.now, avail: x.avail[:0], extras: x.extras[:0]}
		y.newUptime(int32(s))
		y.takeTurn(x)
		for k := range sp.Places {
			y.places[g.stations[s].place+int32(k)] = placeNow{family: sp.Families, last: -1, setup: -1}
		}
		y.touch(int32(s))
	}
	for k := range y.works {
		y.works[k].heldCount = 0
	}
	y.resetPools()
	y.resetWork()
}

func (y *Player) resetPools() {
	for k := range y.onPool {
		y.onPool[k] = y.onPool[k][:0]
	}
	copy(y.pools, y.g.atHand)
	for _, h := range y.g.inHand {
		y.taken[h] = true
	}
	for _, e := range y.g.coming {
		y.push(e.at, evTool, e.pool)
	}
}

// resetWork begins what has begun, and makes ready what nothing keeps waiting.
func (y *Player) resetWork() {
	g := y.g
	for _, a := range g.ready {
		y.makeReady(a)
	}
	for _, n := range g.begun {
		y.resume(n)
	}
}

// touch asks for a look at a station.
func (y *Player) touch(s int32) {
	st := &y.stations[s]
	st.changed = true
	if st.free > 0 && !st.dirty { // else it is looked at when a place is free
		st.dirty = true
		y.dirty = append(y.dirty, s)
	}
}

// look asks for a look at a station because people may be free.
func (y *Player) look(s int32) {
	if st := &y.stations[s]; st.free > 0 && !st.dirty {
		st.dirty = true
		y.dirty = append(y.dirty, s)
	}
}

// settle lets everybody begin what can begin now.
func (y *Player) settle() {
	for y.people || len(y.dirty) > 0 {
		if y.people {
			y.people = false
			y.unstall()
		}
		for len(y.dirty) > 0 {
			k := y.earliest()
			s := y.dirty[k]
			y.dirty[k] = y.dirty[len(y.dirty)-1]
			y.dirty = y.dirty[:len(y.dirty)-1]
			st := &y.stations[s]
			st.dirty = false
			y.try(st)
		}
	}
}

// earliest is the station whose next in turn was planned first: it has the
// first say over people and tools.
func (y *Player) earliest() int {
	if len(y.dirty) == 1 {
		return 0
	}
	best, at, who := 0, never+1, int32(0)
	for k, s := range y.dirty {
		st := &y.stations[s]
		t := st.turnStart
		if st.hurry {
			t -= never // what would spoil goes first
		}
		if t < at || t == at && s < who {
			best, at, who = k, t, s
		}
	}
	return best
}
