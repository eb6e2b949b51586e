// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"
	"math/bits"
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
type held struct{ crew, share int32 }

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
	number  int32 // where the problem has it: what goes first at one instant
	holds   int32 // the first of its holds
	mix     int32 // activity that makes the mix it draws from; -1: none to be made
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
	why     cause // what it last waited for, if it was not what all at its station did
	whyAt   int32 // when
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
	length    [phases]int32
	node      int32
	phase     uint8
	heldCount uint8
	begun     bool // loading has begun
	held      [mostHeld]held
}

// stationNow is a station in one replication. Next in turn is the first of its
// queue that is not begun; what is known of it is kept here, as it is asked for
// at each look.
type stationNow struct {
	*station
	number    int32
	turn      int32 // node at next; -1: none is left
	next      int   // of the queue: all before are begun
	turnStart Tick  // planned start of the next in turn; never: none is left
	opens     span  // of the calendar, the first opening that ends after now; never: none is left
	freeSince Tick
	avail     []int32 // nodes with a member there, in the order of the plan
	shelf     []int32 // where avail lies: what leaves at its front makes no other move
	extras    []int32
	free      int32
	spoiling  int32 // how many of avail have a member there that spoils
	lackedFor int32 // a skill that all here lacked people with
	lackedAt  int32 // when that was last so
	short     int32 // a skill found short in this look; -1: none
	reopens   Tick  // the start of the opening after
	opening   int   // of the calendar, which it is
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

// crewNow is a crew in one replication, as its calendar has it now.
type crewNow struct {
	there int32 // heads, those absent taken off
	free  int32 // of them, those not busy
	until int32 // when that changes; never: not any more
	step  int32
}

// Player plays one replication after another. It belongs to one goroutine; it
// allocates nothing while it plays.
type Player struct {
	g               *Program
	luck            luck
	now             Tick // from the program's now
	early, turnWait Tick // of the floor

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

	events     agenda
	looks      alarms  // of stations
	dirty      set     // stations that a look is due at
	changed    set     // those where something but people has changed since they were looked at
	roomy      set     // those with a free place
	rank       []Tick  // of stations: who has the first say
	turn       int     // of the crews' calendars, the next change of heads
	turnAt     Tick    // when that is; never: there is none
	turned     set     // crews whose heads change now, and somebody waits for that
	duty       []int32 // of duties, where they were last asked for
	watched    set     // crews whose next change somebody waits for
	loose      uint64  // of the first 64 crews those of which somebody is free, a bit each
	needy      uint64  // stations, a bit each, where all that could begin waits for people with one skill
	onCrew     []set   // stations waiting for people of a crew
	onPool     []set
	owed       [][]int32 // by skill: activities that people are kept for
	stalled    []int32   // places where work waits for people
	stalledFor uint64    // the crews, of the first 64, that it waits for, a bit each
	unstuck    []int32   // scratch
	trial      trial     // in hand
	people     bool      // somebody has become free
	again      []int32   // scratch
	mark       []bool
	fresh      struct {
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
		g: g, early: Tick(g.floor.BeginEarly), turnWait: Tick(g.floor.TurnWait), acts: apart[actNow](len(g.acts)), nodes: apart[nodeNow](len(g.nodes)), delays: apart[delays](len(g.nodes)),
		stations: apart[stationNow](len(g.stations)), places: apart[placeNow](int(g.places) + len(g.begun)), works: apart[workNow](int(g.places) + len(g.begun) + 1),
		crews: apart[crewNow](len(g.crews)), pools: apart[int64](len(g.p.Pools)),
		taken: apart[bool](len(g.p.Holds)), released: apart[bool](len(g.arcs)),
		lasts: apart[int32](len(g.pieces)), good: apart[int32](len(g.lines)), doneAt: apart[Tick](len(g.lines)),
		lastAct: apart[int32](len(g.lines)), spare: apart[int32](len(g.lines)),
		looks: newAlarms(len(g.stations)), dirty: newSet(len(g.stations)), changed: newSet(len(g.stations)), roomy: newSet(len(g.stations)),
		rank: apart[Tick](len(g.stations)), turned: newSet(len(g.crews)), duty: apart[int32](g.duties), watched: newSet(len(g.crews)),
		onCrew: newSets(len(g.crews), len(g.stations)), onPool: newSets(len(g.p.Pools), len(g.stations)),
		owed: apart[[]int32](len(g.p.Skills)), mark: apart[bool](len(g.acts)), spoiled: apart[bool](len(g.orders)),
	}
	for s := range y.stations {
		y.stations[s].shelf, y.stations[s].extras = apart[int32](len(g.stations[s].queue))[:0], some[int32]()
	}
	for k := range y.owed {
		y.owed[k] = some[int32]()
	}
	y.events, y.stalled, y.unstuck, y.again = apart[event](64)[:0], some[int32](), some[int32](), some[int32]()
	for n := range y.nodes {
		y.nodes[n] = g.freshNode(int32(n))
	}
	y.fresh.acts, y.fresh.nodes = make([]actNow, len(g.acts)), slices.Clone(y.nodes[:g.planned])
	for a := range g.acts {
		fa := &g.acts[a]
		y.fresh.acts[a] = actNow{
			key: fa.key, readyAt: short32(fa.release), spoilAt: short32(fa.deadline), pend: g.inAt[a+1] - g.inAt[a], from: -1, next: -1,
			node: fa.planned, mode: g.modeOn(int32(a), g.nodes[fa.planned].station), kind: fa.kind, number: fa.number, holds: fa.holds, mix: fa.mix,
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
		prefer: nd.prefer, before: -1, via: -1, whyAt: -1, station: nd.station, wanted: -1,
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
		at := min(y.looks.next, y.events.next())
		if at == never && !y.expecting() {
			if !y.force() {
				break
			}
			y.settle()
			continue
		}
		turns := y.turnAt <= at
		if turns {
			at = y.turnAt
		}
		y.now = at
		if turns {
			y.turnCrews()
		}
		for after := uint64(at+1) << (numberBits + kindBits); ; {
			k := len(y.events) - 1
			if k < 0 || y.events[k].when >= after {
				break
			}
			e := y.events[k]
			y.events = y.events[:k]
			y.happen(e)
		}
		if turns {
			y.wakeTurned()
		}
		if y.looks.next <= at {
			y.looks.ring(at, &y.changed)
			y.dirty.addThose(&y.changed, &y.roomy)
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
	y.events, y.stalled = y.events[:0], y.stalled[:0]
	y.looks.reset()
	y.people, y.needy, y.stalledFor = false, 0, 0
	y.dirty.clear()
	for k := range y.owed {
		y.owed[k] = y.owed[k][:0]
	}
	y.breaches, y.forced = 0, 0
	y.resetCrews()
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
	y.resetStations()
	y.resetPools()
	y.resetWork()
}

func (y *Player) resetCrews() {
	y.turnFrom(0)
	clear(y.duty)
	y.watched.clear()
	y.turned.clear()
	for c := range y.crews {
		x := &y.g.crews[c]
		y.crews[c] = crewNow{step: x.first}
		y.stand(int32(c), y.capacity(int32(c), int(x.first)), x.until(int(x.first)))
		y.onCrew[c].clear()
	}
}

func (y *Player) resetStations() {
	g := y.g
	for s := range y.stations {
		x, sp := &y.stations[s], &g.p.Stations[s]
		*x = stationNow{station: &g.stations[s], number: int32(s), free: int32(sp.Places), freeSince: y.now, lackedAt: -1, avail: x.shelf[:0], shelf: x.shelf, extras: x.extras[:0]}
		if x.always {
			x.opens = span{-never, never}
		}
		y.newUptime(x)
		y.takeTurn(x)
		for k := range sp.Places {
			y.places[g.stations[s].place+int32(k)] = placeNow{family: sp.Families, last: -1, setup: -1}
		}
		y.roomy.add(int32(s))
		y.touch(int32(s))
	}
	for k := range y.works {
		y.works[k].heldCount = 0
	}
}

func (y *Player) resetPools() {
	for k := range y.onPool {
		y.onPool[k].clear()
	}
	copy(y.pools, y.g.atHand)
	for _, h := range y.g.inHand {
		y.taken[h] = true
	}
	for _, e := range y.g.coming {
		y.push(e.at, evTool, e.pool, e.pool)
	}
}

// resetWork begins what has begun, and makes ready what nothing keeps waiting.
func (y *Player) resetWork() {
	g := y.g
	for _, a := range g.ready {
		y.makeReady(a)
	}
	for i := range g.begun {
		y.resume(int32(i))
	}
}

// touch asks for a look at a station.
func (y *Player) touch(s int32) {
	if s < 64 {
		bit := uint64(1) << uint32(s)
		y.changed.low |= bit
		y.dirty.low |= bit & y.roomy.low // else it is looked at when a place is free
		return
	}
	y.changed.add(s)
	if y.roomy.has(s) {
		y.dirty.add(s)
	}
}

// seize takes a place of a station.
func (y *Player) seize(st *stationNow) {
	if st.free--; st.free <= 0 {
		y.roomy.drop(st.number)
	}
}

// vacate gives it back.
func (y *Player) vacate(st *stationNow) {
	if st.free++; st.free > 0 {
		y.roomy.add(st.number)
	}
}

// settle lets everybody begin what can begin now.
func (y *Player) settle() {
	for {
		if y.people {
			y.people = false
			y.unstall()
		}
		s, changed := int32(0), false
		if due := y.dirty.low; len(y.dirty.high) == 0 {
			if due == 0 {
				return
			}
			bit := due & -due
			if due != bit { // others are due too
				s = y.earliest()
				bit = 1 << uint32(s)
			} else {
				s = int32(bits.TrailingZeros64(due))
			}
			changed = y.changed.low&bit != 0
			y.dirty.low &^= bit
			y.changed.low &^= bit
		} else {
			if s = y.earliest(); s < 0 {
				return
			}
			changed = y.changed.has(s)
			y.dirty.drop(s)
			y.changed.drop(s)
		}
		st := &y.stations[s]
		if !changed && st.needsBits == 0 && st.short >= 0 && !y.anyFree(st.short) {
			// All it waited for, when it was last looked at, was people with one
			// skill, and none are free.
			y.wait(s, st.short)
			continue
		}
		for st.free > 0 && !y.lacksPeople(st) && y.beginOne(st) {
		}
	}
}

// lacksPeople says that whatever could begin at a station wants people with one
// skill, and none are free: it waits for them.
func (y *Player) lacksPeople(st *stationNow) bool {
	if y.loose&st.needsBits != 0 || st.needsBits == 0 || !st.unattended && !st.openAt(y.now) {
		return false
	}
	st.short = st.needs
	y.lacked(st, st.needs)
	y.needy |= 1 << uint32(st.number)
	y.watched.low |= st.needsBits
	return true
}

// earliest is the station due for a look whose next in turn was planned first:
// it has the first say over people and tools. -1: none is due.
func (y *Player) earliest() int32 {
	best, least := int32(-1), never+1
	for k := range y.dirty.words() {
		for word := y.dirty.word(k); word != 0; word &= word - 1 {
			s := int32(k*64 + bits.TrailingZeros64(word))
			if t := y.rank[s]; t < least {
				best, least = s, t
			}
		}
	}
	return best
}
