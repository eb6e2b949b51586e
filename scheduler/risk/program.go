// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"towpath/resources"
	"towpath/scheduler"
)

type (
	// Tick and Seconds are the engine's time, whole seconds UTC.
	Tick    = resources.Tick
	Seconds = resources.Seconds
)

// never is later than anything.
const never = Tick(1) << 60

// Program is a plan laid out for playing: flat arrays, all references indexes.
// It is never changed after Compile, so any number of players may read it.
type Program struct {
	p     *scheduler.Problem
	plan  *scheduler.Plan
	floor resources.Floor

	modes    []scheduler.Mode // those of the problem, then one for each mix to be made
	needs    []scheduler.ActNeed
	prefer   []int32 // crew the plan names, per need of a node; -1: none
	acts     []act   // those of the problem, then one for each mix to be made
	arcs     []scheduler.Arc
	inAt, in []int32
	outAt    []int32
	out      []int32
	nodes    []node  // planned ones, then a spare one for each activity
	planned  int32   // how many are planned
	members  []int32 // of planned nodes
	stations []station
	crews    []crew
	pieces   []piece
	lines    []line
	orders   []order
	tables   []table
	places   int32 // of all stations
}

// act is one operation of one piece, or the making of a mix: what playing asks
// for all the time, and the rest behind a pointer, so that the caches hold it.
type act struct {
	*more
	key         uint64
	pass        float64 // chance that it comes out good the first time
	line, piece int32   // -1: a mix
	load, run   int32   // tables
	unload      int32
	spare       int32 // node
	redo        redo
	last        bool
	pausable    bool
	clocks      bool // something must follow it within a time
	clocked     bool // it must follow something within a time
	tools       bool // takes or gives some
	draws       bool // from a mix
}

// more is the rest of an activity.
type more struct {
	modeAt, modeTo int32
	release        Tick
	deadline       Tick // loading must start by then; 0: none
	takes, gives   []int32
	size           []int64
	again          float64 // chance that it comes out good once it failed
	back           int32   // where a piece that fails goes back to
	times          int32   // how often it may be done again before it is made anew
	mix            int32   // activity that makes the mix it draws from; -1: none to be made
	expiry         Tick    // of a mix that is there already; 0: none
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
	rank       int32 // in its station's queue
	fixed      *scheduler.Fixed
}

type station struct {
	queue   []int32 // planned nodes in the order of the plan
	place   int32   // the first of its places
	key     uint64
	spread  int32 // of changeovers
	every   float64
	repair  float64
	mend    int32   // table of repairs; -1: exponential
	longest Seconds // opening
}

type crew struct {
	key     uint64
	absence float64
	day     []int32 // local day of each step
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
