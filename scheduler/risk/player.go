// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"towpath/resources"
	"towpath/scheduler"
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

// actNow is an activity in one replication.
type actNow struct {
	pend    int32 // waits before it that are not over
	from    int32 // activity whose end made it ready; -1: none
	next    int32 // member of the same node; -1: none
	node    int32
	mode    int32 // on the node's station
	readyAt Tick
	spoilAt Tick // loading should start by then; never: no such limit
	start   Tick
	end     Tick
	tries   uint8
	redone  uint8 // 1: again at the same step or an earlier one, 2: made anew
	state   uint8
	owed    bool // its clock runs, and people are kept for it
}

// nodeNow is a node in one replication.
type nodeNow struct {
	first   int32 // member
	lacking int32 // members not ready
	there   int32 // members ready
	before  int32 // node that had its place before
	firstIn Tick  // when the first became ready
	via     int32 // activity whose end let it begin; -1: none
	place   int32
	why     cause // what it last waited for
	broken  int32 // seconds of the run: standing broken down
	remixed int32 // seconds of loading: mixing again
	state   uint8
	setUp   bool
}

// workNow is what goes on at a place.
type workNow struct {
	length    [phases]Tick
	phase     int
	held      [mostHeld]held
	heldCount int
	begun     bool // loading has begun
}

type stationNow struct {
	next      int // of the queue: all before are begun
	free      int32
	freeSince Tick
	timer     Tick    // when it will be looked at again; never: no event is due
	avail     []int32 // nodes with a member there, in the order of the plan
	extras    []int32
	changed   bool  // something but people has changed since it was looked at
	short     int32 // a skill found short in this look; -1: none
	opening   int   // of the calendar, the first that ends after now
	stop      int   // the same of its stops
	uptime    Tick  // running time left until it breaks down
	broke     uint64
}

type placeNow struct {
	busy   bool
	family int32
	last   int32 // node; -1: none
	setup  int32 // node it is being set up for; -1: none
}

type crewNow struct {
	step int
	used int64
	due  bool // an event is due at the next step
}

// Player plays one replication after another. It belongs to one goroutine; it
// allocates nothing while it plays.
type Player struct {
	g    *Program
	luck luck
	now  Tick

	acts     []actNow
	nodes    []nodeNow
	stations []stationNow
	places   []placeNow
	works    []workNow // at places
	crews    []crewNow
	pools    []int64
	taken    []bool // holds whose tool is out
	released []bool // arcs that are over
	lasts    []int32
	good     []int32
	doneAt   []Tick  // of lines
	lastAct  []int32 // that completed them; -1: none
	spare    []int32 // pieces that lines can do without
	left     int     // lines to come

	events  heap
	dirty   []int32
	isDirty []bool
	onCrew  [][]int32 // stations waiting for people of a crew
	onPool  [][]int32
	owed    [][]int32 // by skill: activities that people are kept for
	stalled []int32   // nodes at work that wait for people
	unstuck []int32   // scratch
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
		g: g, acts: make([]actNow, len(g.acts)), nodes: make([]nodeNow, len(g.nodes)),
		stations: make([]stationNow, len(g.stations)), places: make([]placeNow, g.places), works: make([]workNow, g.places+1),
		crews: make([]crewNow, len(g.crews)), pools: make([]int64, len(g.p.Pools)),
		taken: make([]bool, len(g.p.Holds)), released: make([]bool, len(g.arcs)),
		lasts: make([]int32, len(g.pieces)), good: make([]int32, len(g.lines)), doneAt: make([]Tick, len(g.lines)),
		lastAct: make([]int32, len(g.lines)), spare: make([]int32, len(g.lines)),
		isDirty: make([]bool, len(g.stations)), onCrew: make([][]int32, len(g.crews)), onPool: make([][]int32, len(g.p.Pools)),
		owed: make([][]int32, len(g.p.Skills)), mark: make([]bool, len(g.acts)), spoiled: make([]bool, len(g.orders)),
	}
	y.fresh.acts, y.fresh.nodes = make([]actNow, len(g.acts)), make([]nodeNow, len(g.nodes))
	for a := range g.acts {
		x := &y.fresh.acts[a]
		*x = actNow{pend: g.inAt[a+1] - g.inAt[a], from: -1, next: -1, node: g.acts[a].planned, mode: g.modeOn(int32(a), g.nodes[g.acts[a].planned].station), readyAt: g.acts[a].release, spoilAt: never}
		if d := g.acts[a].deadline; d > 0 {
			x.spoilAt = d
		}
	}
	for n := range g.nodes {
		x := &y.fresh.nodes[n]
		*x = nodeNow{first: -1, before: -1, place: -1}
		nd := &g.nodes[n]
		for i := nd.to - 1; i >= nd.at; i-- {
			y.fresh.acts[g.members[i]].next = x.first
			x.first = g.members[i]
			x.lacking++
		}
	}
	return y
}

// play is one history. Afterwards doneAt has what became of each line.
func (y *Player) play(l luck) {
	y.luck = l
	y.reset()
	y.settle()
	for y.left > 0 {
		if len(y.events) == 0 {
			if !y.force() {
				break
			}
			y.settle()
			continue
		}
		y.now = y.events[0].at
		for len(y.events) > 0 && y.events[0].at == y.now {
			y.happen(y.events.pop())
		}
		y.settle()
	}
}

func (y *Player) reset() {
	g := y.g
	y.now = g.p.Now
	copy(y.acts, y.fresh.acts)
	copy(y.nodes, y.fresh.nodes)
	clear(y.taken)
	clear(y.released)
	clear(y.good)
	clear(y.spoiled)
	y.events, y.dirty, y.stalled = y.events[:0], y.dirty[:0], y.stalled[:0]
	clear(y.isDirty)
	y.people = false
	for k := range y.owed {
		y.owed[k] = y.owed[k][:0]
	}
	y.breaches, y.forced = 0, 0
	for c := range y.crews {
		y.crews[c] = crewNow{}
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
			y.doneAt[i] = never
		}
	}
	for s := range y.stations {
		x, sp := &y.stations[s], &g.p.Stations[s]
		*x = stationNow{free: int32(sp.Places), freeSince: y.now, timer: never, avail: x.avail[:0], extras: x.extras[:0]}
		y.newUptime(int32(s))
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
	g := y.g
	clear(y.pools)
	for k := range y.onPool {
		y.onPool[k] = y.onPool[k][:0]
	}
	out := func(h *scheduler.Hold) bool { return h.Take < 0 }
	for i := range g.p.Pools {
		for u, at := range g.p.Pools[i].FreeAt {
			inHand := false
			for h := range g.p.Holds {
				x := &g.p.Holds[h]
				if out(x) && x.Pool == int32(i) && x.Unit == int32(u) {
					inHand = true
					y.taken[h] = true
				}
			}
			switch {
			case inHand:
			case at <= y.now:
				y.pools[i]++
			default:
				y.events.push(event{at, evTool, int32(i)})
			}
		}
	}
}

// resetWork begins what has begun, and makes ready what nothing keeps waiting.
func (y *Player) resetWork() {
	g := y.g
	for a := range g.acts {
		if y.acts[a].pend == 0 && (a >= len(g.p.Acts) || g.p.Acts[a].Fixed == nil) {
			y.makeReady(int32(a))
		}
	}
	for n := int32(0); n < g.planned; n++ {
		if g.nodes[n].fixed != nil {
			y.resume(n)
		}
	}
}

// touch asks for a look at a station.
func (y *Player) touch(s int32) {
	y.stations[s].changed = true
	y.look(s)
}

func (y *Player) look(s int32) {
	if !y.isDirty[s] {
		y.isDirty[s] = true
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
			y.isDirty[s] = false
			y.try(s)
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
		t := never
		if st := &y.stations[s]; st.next < len(y.g.stations[s].queue) {
			n := y.g.stations[s].queue[st.next]
			if t = y.g.nodes[n].start; y.nodes[n].there > 0 && y.clocked(n) {
				t -= never // what would spoil goes first
			}
		}
		if t < at || t == at && s < who {
			best, at, who = k, t, s
		}
	}
	return best
}
