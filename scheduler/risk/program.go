// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"

	"towpath/resources"
	"towpath/scheduler"
)

type (
	// Tick and Seconds are the engine's time, whole seconds UTC.
	Tick    = resources.Tick
	Seconds = resources.Seconds
)

const (
	// noDate is the completion of what is not complete within the calendars.
	noDate = Tick(1) << 60
	// never is later than any instant of a history. These are seconds from the
	// program's now, so that they fit 32 bits: a history ends after 68 years.
	never = Tick(math.MaxInt32)
)

// short32 is an instant of a history, or a length of time, in 32 bits.
func short32(t Tick) int32 { return int32(max(-never, min(t, never))) }

// Program is a plan laid out for playing: flat arrays, all references indexes.
// It is never changed after Compile, so any number of players may read it.
type Program struct {
	p     *scheduler.Problem
	plan  *scheduler.Plan
	floor resources.Floor

	modes    []scheduler.Mode // those of the problem, then one for each mix to be made
	needs    []scheduler.ActNeed
	ways     []way     // modes as playing wants them
	wants    []want    // of ways
	able     [][]int32 // by skill: the crews that have it
	needing  []uint64  // by crew the stations that need it, a bit each
	ableBits []uint64  // the same, a bit each; 0: there are some beyond the 64th
	prefer   []int32   // crew the plan names, per need of a node; -1: none
	kinds    []kindOf
	sizes    [][]int64 // what pieces take of a load's room
	due      []Tick    // of the order line, by activity; 0: it has none
	holds    []int32   // by activity those that begin with it, then those that end
	acts     []act     // those of the problem and one for each mix to be made, by their planned start
	arcs     []arc     // by what they go out from
	out      []out     // of arcs, by activity
	inAt     []int32
	in       []incoming // arcs that go into an activity
	nodes    []node     // planned ones by their start, then a spare one for each activity
	actBy    []int32    // activities by their numbers
	nodeBy   []int32    // nodes by their numbers
	planned  int32      // how many are planned
	ready    []int32    // activities not begun that nothing keeps waiting
	atHand   []int64    // tools free at once, by pool
	inHand   []int32    // holds that have begun
	coming   []coming   // tools usable later
	begun    []int32    // nodes begun before now, in the order of the problem
	members  []int32    // of planned nodes
	stations []station
	crews    []crew
	turns    []turn  // changes of heads after now, by time
	duties   int     // of all crews and ways
	begins   []*duty // by way, when what must follow in time can begin; nil: nobody asks, or histories differ
	pieces   []piece
	lines    []line
	orders   []order
	tables   []table
	places   int32 // of all stations
}

// act is one operation of one piece, or the making of a mix.
type act struct {
	*more
	key         uint64
	line, piece int32 // -1: a mix
	spare       int32 // node
	number      int32 // where the problem has it: what goes first at one instant
	kind        int32
	holds       int32 // the first of its holds
	kindOf
}

// kindOf is what activities of a kind have in common.
type kindOf struct {
	pass      float64 // chance that it comes out good the first time
	again     float64 // chance that it comes out good once it failed
	load, run int32   // tables
	unload    int32
	takes     int32 // tools, and how many it gives back
	size      int32 // of sizes
	gives     int32
	times     int32 // how often it may be done again before it is made anew
	redo      redo
	last      bool
	pausable  bool
	clocks    bool // something must follow it within a time
	clocked   bool // it must follow something within a time
	draws     bool // from a mix
}

// more is the rest of an activity.
type more struct {
	modeAt, modeTo int32
	release        Tick
	deadline       Tick    // loading must start by then; never: no such limit
	begins, ends   []int32 // holds
	size           []int64
	back           int32 // where a piece that fails goes back to
	resin          int32
	mix            int32 // activity that makes the mix it draws from; -1: none to be made
	expiry         Tick  // of a mix that is there already; never: none
	remix          Seconds
	mixing         int32   // table of remix
	past           Seconds // work on its piece before the plan began, for when it is made anew
	planned        int32   // node; -1: none
	plannedStart   Tick
	plannedEnd     Tick
	name           scheduler.Member
}

// redo is what becomes of a piece that fails.
type redo uint8

const (
	redoNever redo = iota // it cannot fail
	redoHere              // the step is done again
	redoBack              // it goes back to an earlier step
	redoAll               // it is made anew
)

// node is what starts together: one activity, or the members of a load.
type node struct {
	station    int32
	place      int32
	setup      Tick // as planned
	start, end Tick
	unload     Tick
	at, to     int32 // planned members
	prefer     int32 // of prefer, for the needs of the first member's mode; -1: none
	setupCrew  int32
	number     int32 // where the problem has its first member: what goes first at one instant
	fixed      *scheduler.Fixed
}

// way is how an activity is done on a station: a mode, laid out for playing.
type way struct {
	brief              bool  // it is a run with people of one skill, and nothing else
	inside             bool  // it may wait on the station to be unloaded
	opens              uint8 // the part that it begins with
	closes             uint8 // the last part that people are wanted for
	want                     // those of brief work
	family, key        int32
	run                int32 // seconds, as stated
	load, loadEach     int32
	unload, unloadEach int32
	station            int32
	alone              [phases]int32     // for one piece
	lead               int32             // of wants, the first in the order of the file; -1: nobody is wanted
	wants              [phases + 1]int32 // by part the first of its wants
}

// want is people wanted during a part.
type want struct {
	skill int32
	named int32 // where the plan names the crew, from the prefer of a node
	share int32
}

// arc is a wait: from the end, or the start of loading, of an activity to the
// start of loading of another.
type arc struct {
	to    int32
	least int32
	most  int32 // never: no such limit
}

// clocks says that what the arc leads to must begin within a time.
func (x *arc) clocks() bool { return x.most < int32(never) }

// out is where the arcs of an activity begin: those from its start, then those
// from its end.
type out struct{ starts, ends int32 }

// incoming is an arc as seen from where it goes to.
type incoming struct{ arc, from int32 }

// coming is a tool that is usable from an instant on.
type coming struct {
	at   Tick
	pool int32
}

// span is from an instant until another.
type span struct{ start, end Tick }

type station struct {
	always     bool // it has no calendar
	unattended bool
	open       []span // when not always
	stops      []span
	places     int32
	families   int32
	needs      int32   // a skill of which people are wanted for whatever begins here, by its first part
	needsBits  uint64  // crews that have it, as in ableBits; 0: no such skill is known
	common     uint64  // skills, a bit each, of which people are wanted for all work here
	changeover []int32 // seconds as stated, from family × families + to family
	queue      []int32 // planned nodes in the order of the plan
	starts     []int32 // their planned starts
	place      int32   // the first of its places
	key        uint64
	spread     int32 // of changeovers
	every      float64
	repair     float64
	mend       int32   // table of repairs; -1: exponential
	longest    Seconds // opening
}

type crew struct {
	key     uint64
	absence float64
	steps   []scheduler.CapStep
	day     []int32 // local day of each step
	first   int32   // the step that now is in
	duty    []duty  // when nobody is absent, for each share that is wanted
}

// duty is when so much of a crew is there, or work by a way can begin.
type duty struct {
	share  int32 // of a crew
	number int32 // among those of all crews and ways
	on     []span
}

// turn is an instant at which a crew's next step begins.
type turn struct {
	at     Tick
	crew   int32
	full   int32 // heads from then on, when none is absent
	until  int32 // when they change again; never: not any more
	varies bool  // some may be absent
}

type piece struct {
	acts   []int32
	parent int32
	lasts  int32
}

type line struct {
	need    int32 // good pieces still to come; 0: complete; -1: nobody can say
	done    Tick
	spare   int32 // pieces under way beyond those
	planned Tick  // completion by the plan
}

type order struct {
	lines   []int32
	waiting bool
	stock   bool // made for stock: it has no date
}
