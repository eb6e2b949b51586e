// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/resources"

// Problem is a state and its plant compiled to flat arrays at a given now. All
// references are indexes; names stay in the parallel Name fields so that a
// Plan can be written back. It is never changed after Compile, so any number
// of searches may read it at once.
type Problem struct {
	Now     Tick
	End     Tick // end of the horizon: calendars are laid out to here
	Base    uint64
	Version int64 // of the plan it would replace

	Acts     []Act
	Modes    []Mode
	Needs    []ActNeed
	Arcs     []Arc
	In, Out  []int32 // arc indexes grouped by To and by From; see InAt, OutAt
	InAt     []int32 // len(Acts)+1
	OutAt    []int32
	Stations []StationP
	Crews    []CrewP
	Skills   []Skill
	Pools    []Pool
	Holds    []Hold
	Resins   []ResinP
	Stocks   []Stock
	Orders   []OrderP
	Lines    []LineP
	Goal     resources.Objective

	// Facts: mixes already made that still have life and mass.
	Mixes []MixP
	// Loads that are closed, running or frozen: their members are fixed.
	Loads []LoadP
}

// Act is an activity: one operation of one piece.
type Act struct {
	Piece     string
	Operation string
	Line      int32
	PieceIx   int32 // dense piece number
	ModeAt    int32 // Modes[ModeAt:ModeTo]
	ModeTo    int32
	Release   Tick
	MayPause  bool
	Last      bool  // its end counts for the completion of the line
	Resin     int32 // -1: none
	Grams     int64
	DrawAt    int32 // StockDraws are in Draws
	Draws     []StockDraw
	Holds     []int32 // holds that begin here
	Size      []int64 // per dimension of the batch station's capacity (all modes agree on dimensions)
	Key       int32   // members of one load must have equal keys; -1: not a batch activity
	Fixed     *Fixed  // started, done or frozen; nil: free
}

// StockDraw takes stock when loading starts.
type StockDraw struct {
	Stock    int32
	Quantity int64
}

// Mode is one way to do an activity: on one station.
type Mode struct {
	Station    int32
	Load       Seconds
	LoadEach   Seconds
	Run        Seconds
	MaxRun     Seconds // 0: no limit
	Unload     Seconds
	UnloadEach Seconds
	WaitInside bool
	Family     int32 // setup family on that station
	NeedAt     int32 // Needs[NeedAt:NeedTo]
	NeedTo     int32
}

// ActNeed is people wanted during a part.
type ActNeed struct {
	Part  resources.Part
	Skill int32
	Share int64
}

// Arc is a wait between two activities, from the end (or the start of loading)
// of From to the start of loading of To.
type Arc struct {
	From, To  int32
	FromStart bool
	Min       Seconds
	Max       Seconds
	HasMax    bool
}

// StationP is a station laid out over the horizon.
type StationP struct {
	ID         string
	Places     int
	Batch      bool
	Capacity   []int64
	Open       []resources.Interval // merged, sorted; stops already cut out
	Stops      []resources.Interval // down from now on: not even unattended work runs
	Unattended bool
	SetupSkill int32 // -1: nobody
	SetupShare int64
	Families   int32
	SetupTime  []Seconds // [from*Families+to]; from == Families: the initial state
	SetupCost  []int64
	Frozen     Seconds
}

// CrewP is a crew's head count over the horizon, in thousandths of a person.
type CrewP struct {
	ID    string
	Steps []CapStep // sorted by At, first at or before Now; capacity holds until the next
}

// CapStep is a change of capacity.
type CapStep struct {
	At  Tick
	Cap int64
}

// Skill lists the crews that have it, in file order.
type Skill struct {
	Name  string
	Crews []int32
}

// Pool is a set of like tool units.
type Pool struct {
	ID         string
	Units      []string
	FreeAt     []Tick // each unit usable from; End when it is out with no known return
	Turnaround Seconds
}

// Hold is a tool unit held from the changeover of Take to the end of Give.
type Hold struct {
	Pool       int32
	Take, Give int32
	Unit       int32 // fixed unit when already taken; -1: free choice
}

// ResinP is a perishable.
type ResinP struct {
	ID      string
	Station int32
	Skill   int32 // -1: nobody
	Share   int64
	Mixing  Seconds
	MaxMass int64
	Heel    int64
	Life    []LifeStep // sorted; pot life of a mix whose making ends at or after At
}

// LifeStep is a change of pot life with the room's temperature.
type LifeStep struct {
	At   Tick
	Life Seconds
}

// Stock is a material's supply: on hand now, then receipts.
type Stock struct {
	ID    string
	Steps []CapStep // cumulative supply from At on
}

// OrderP is an order: its lines and weight.
type OrderP struct {
	ID    string
	Lines []int32
}

// LineP is an order line.
type LineP struct {
	Order    int32
	ID       string
	Due      Tick
	Weight   int64
	Event    bool
	Release  Tick
	Acts     []int32
	Finished Tick // > 0: done already at
}

// Fixed pins an activity to what happened or to the frozen plan.
type Fixed struct {
	Mode   int32 // index into Modes
	Place  int32
	Status Status
	Setup  Tick
	Start  Tick
	Run    Tick
	RunEnd Tick // expected for started work
	Unload Tick
	End    Tick
	Load   int32 // index into Problem.Loads; -1
	Mix    string
	Crew   []int32 // per need, for frozen work; nil for done work
}

// LoadP is a load with fixed members.
type LoadP struct {
	ID      string
	Station int32
	Members []int32
}

// MixP is a mix made, with what is left.
type MixP struct {
	ID     string
	Resin  int32
	Left   int64
	Made   Tick
	Expiry Tick
}
