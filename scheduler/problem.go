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

	Declared uint64 // sequence of the event that declared the plant as it is; 0: none did

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

	Mixes    []MixP   // made, alive and not used up
	Loads    []LoadP  // with settled members
	Used     []string // identities of all loads and mixes ever reported: none is given again
	Past     []Work   // done operations of open pieces, as reported
	Pieces   int32    // how many pieces have activities
	Spoilt   int64    // grams left in mixes that nobody can draw from any more
	FlowFrom []Tick   // per piece: first start, when it has started; 0: not yet
	Dims     []string // names of the size dimensions
}

// Act is an activity that is not done: one operation of one piece.
type Act struct {
	Piece     string
	Operation string
	Index     int // of the operation in the product's routing
	Recipe    string
	Line      int32 // index into Lines
	PieceIx   int32 // dense piece number
	ModeAt    int32 // its modes are Modes[ModeAt:ModeTo], shared by all pieces of a product
	ModeTo    int32
	Release   Tick       // loading may not start before
	Deadline  Tick       // loading must start by then, from waits after work that is done; 0: none
	After     []DoneWait // all maximum waits after work that is done
	MayPause  bool
	Last      bool  // its end counts for the completion of the line
	Frozen    bool  // published to begin inside the frozen window: keeps its mode, and Release is its planned start
	Resin     int32 // -1: none
	Grams     int64
	Draws     []StockDraw
	Holds     []int32 // holds that begin here
	Gives     []int32 // holds that end here
	Size      []int64 // in the problem's Dimensions
	Key       int32   // activities that may share loads, directly or by way of others, have equal keys; -1: no batch station can run it
	Load      int32   // index into Loads when membership is settled; -1: free
	Fixed     *Fixed  // started work; nil: free
	Was       *Was    // where the published plan has it; nil: nowhere
}

// DoneWait is a maximum wait after work that is done: loading must start by By.
type DoneWait struct {
	From Member
	By   Tick
}

// Was is an activity's place in the plan that is being replaced.
type Was struct {
	Mode  int32
	Place int32
	Setup Tick
	Start Tick
	End   Tick
	Tools []string // unit marks
	Near  bool     // near enough to now that moving it disturbs somebody
	// Told is before when nobody expects it: its start inside the frozen window,
	// the end of that window behind it; 0 when its station is down.
	Told Tick
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
	Key        int32 // on a batch station members of one load must have equal keys; -1: no batch station
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
	Min       Seconds
	Max       Seconds
	FromStart bool
	HasMax    bool
}

// StationP is a station laid out over the horizon.
type StationP struct {
	ID         string
	Places     int
	Batch      bool
	Capacity   []int64              // in Dims; below 0: not limited
	Always     bool                 // no calendar
	Open       []resources.Interval // merged, sorted; when not Always
	Stops      []resources.Interval // down from now on: not even unattended work runs
	Unattended bool
	SetupSkill int32 // -1: nobody
	SetupShare int64
	Families   int32
	SetupTime  []Seconds // [from*Families+to]; from == Families: the state it is in now
	SetupCost  []int64
	Recipes    bool // runs cure recipes: its running time is oven time
	Busy       []Busy
}

// Busy is a place where something still runs that no order wants any more.
type Busy struct {
	Place int32
	Until Tick // when it should be over
}

// CrewP is a crew's head count over the horizon, in thousandths of a person.
type CrewP struct {
	ID    string
	Steps []CapStep // sorted by At, first at Now; capacity holds until the next
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

// Hold is a tool unit held from the changeover of Take to the end of Give. A
// unit already taken has Take -1.
type Hold struct {
	Pool       int32
	Take, Give int32
	Unit       int32 // the unit when already taken; -1: free choice
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

// LifeAt is the pot life of a mix whose making ends at made.
func (r *ResinP) LifeAt(made Tick) Seconds {
	life := r.Life[0].Life
	for _, step := range r.Life {
		if step.At > made {
			break
		}
		life = step.Life
	}
	return life
}

// Stock is a material's supply: on hand now, then receipts.
type Stock struct {
	ID    string
	Steps []CapStep // cumulative supply from At on
}

// OrderP is an order and its lines.
type OrderP struct {
	ID    string
	Lines []int32
}

// LineP is an order line.
type LineP struct {
	Order   int32
	ID      string
	Due     Tick
	Weight  int64
	Event   bool
	Release Tick
	Acts    []int32
	Done    Tick // latest end of its finished last operations; 0: none
	Blocked bool // a piece is held or gone, or lacks a material: nobody can say when it is complete
}

// Fixed is started work: where it is, since when, and when it should end.
type Fixed struct {
	Mode   int32 // index into Modes
	Place  int32
	Setup  Tick
	Start  Tick
	Run    Tick
	RunEnd Tick
	Unload Tick
	End    Tick
	Paused bool
	Mix    string
	Tools  []string
}

// LoadP is a load whose members are settled: closed, started, or frozen.
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

	// In hand: published and being made, but not reported yet. Made is when it
	// will be ready; until then it has its place and its crew.
	Hand  bool
	Start Tick
	Place int32
	Crew  int32 // -1: nobody
}
