// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"towpath/resources"
	"towpath/resources/quality"
)

// State is what is true now: the fold of all events. It is plain data; a
// value belongs to one goroutine at a time. Apply never writes to an entity
// that is in a map already: it puts a changed copy in its place, so that what
// one reader holds and what a Clone shares stays as it was. Keep to that.
type State struct {
	Plant     *resources.Plant
	PlantFile string
	Adopted   []resources.Adopted      // on top of the file, in their order
	Seq       uint64                   // last event applied
	At        Tick                     // latest instant any applied event spoke of
	Lines     map[string]*Line         // by LineKey
	Pieces    map[string]*Piece        // by serial
	Loads     map[string]*LoadRun      // by ID; only reported ones
	Mixes     map[string]*MixRun       // by ID; only made ones
	Stations  map[string]*StationState // by ID; every station of the plant
	Tools     map[string]*ToolState    // by unit mark; every unit of the plant
	Batches   map[string]*BatchHold    // by BatchKey; mixes, loads and lots that are or were on hold
	Absences  map[string]*Absence      // by the ID of the event that told of it; people who are or will be away
	Plan      *Plan                    // last published; nil before the first
	Claimed   uint64                   // sequence of the last event that asked for capacity: an order, a promise, a plant

	seen    record              // IDs of all applied and voided events
	voided  map[string]string   // ID of a voided event: of the event that voids it
	plants  []string            // IDs of the events that declared plants
	changed map[string]struct{} // entity keys since the last TakeChanged
	fresh   []mark              // of events since then
	planned *publication        // how Plan was published
	scratch *change             // reused by Apply
}

// LineKey is the key of an order line in State.Lines.
func LineKey(order, line string) string { return order + "/" + line }

// Line is an order line with the serials made for it.
type Line struct {
	resources.OrderLine
	Cancelled bool     `json:",omitempty"`
	Pieces    []string // serials, in the order they were made
	Highest   int      `json:",omitempty"` // tube number of pieces that left it; serials are not given twice
	Promise   *Promise `json:",omitempty"` // it was asked for, and a date was promised; nil for other orders
}

// Promise is what was said to a customer who asked for a date, and what became
// of it. It is kept as it was said, whatever is changed in the order later.
type Promise struct {
	Status   PromiseStatus
	Made     Tick
	By       string `json:",omitempty"` // who gave it
	Wish     Tick   `json:",omitempty"`
	ShipBy   Tick   // promised
	Due      Tick   // the carrier for it
	Quantity int
	Expires  Tick
	Plan     int64  `json:",omitempty"` // version of the plan it was fitted into
	PerMille int64  `json:",omitempty"` // it holds in so many of 1000 courses; 0: that was not asked
	Closed   Tick   `json:",omitempty"` // confirmed, released or expired
	Closer   string `json:",omitempty"` // who did that
	Why      string `json:",omitempty"`
}

// Reserved says that capacity is kept for a line that is promised and not yet
// wanted.
func (l *Line) Reserved() bool { return l.Promise != nil && l.Promise.Status == Reserved }

// PromiseStatus is what became of a promise.
type PromiseStatus string

// Reserved keeps the capacity until the promise expires; Confirmed is an order
// with that date. Of the others nothing is kept.
const (
	Reserved  PromiseStatus = "reserved"
	Confirmed PromiseStatus = "confirmed"
	Released  PromiseStatus = "released"
	Expired   PromiseStatus = "expired"
)

// Piece is one physical tube or shaft with its serial.
type Piece struct {
	Serial   string
	Order    string
	Line     string
	Product  string
	Number   int         // of the tube within the order line, from 1
	Remake   int         `json:",omitempty"` // how often that tube was made again before
	Slot     int         `json:",omitempty"` // of a shaft within its tube, from 1
	Shaft    bool        `json:",omitempty"` // cut from Parent
	Sample   bool        `json:",omitempty"` // made to be destroyed
	Parent   string      `json:",omitempty"` // serial of the tube, for shafts
	Replaces string      `json:",omitempty"` // serial of the piece it was made for again
	MadeFor  string      `json:",omitempty"` // LineKey it was started for, when it is stock or was taken from there
	Scrapped bool        `json:",omitempty"`
	Held     bool        `json:",omitempty"` // Detained is not empty
	Why      string      `json:",omitempty"` // of the hold or scrap
	Detained []Detention `json:",omitempty"`
	Ops      []OpState
	Results  []Result  `json:",omitempty"` // at gates, in the order they were believed
	Earlier  []OpState `json:",omitempty"` // operations that were done and had to be done again
}

// Detention is one reason why a piece must not go on. A piece may have several.
type Detention struct {
	By    string // cause: the serial somebody held, or "SERIAL/OPERATION" of a failed gate
	Batch string `json:",omitempty"` // or the BatchKey that is on hold; then By is empty
	Why   string
	At    Tick
}

// Result is a verdict at a gate and what it rests on.
type Result struct {
	Operation string
	Gate      string
	Decision  quality.Action    // pass, hold, rework or remake
	Ruled     quality.Action    `json:",omitempty"` // what the rule alone would have decided, where a person overrode it
	Values    []quality.Value   `json:",omitempty"` // worked out from Measured
	Measured  []quality.Measure `json:",omitempty"`
	Plain     []quality.Value   `json:",omitempty"` // values reported with the unit in the name
	Why       string            `json:",omitempty"`
	Station   string            `json:",omitempty"`
	At        Tick
	By        string `json:",omitempty"`
	Event     string // ID of the event that told it
}

// Lot is a supplier's lot of a material.
type Lot struct {
	Material string
	Lot      string
}

// BatchHold is a mix, a load or a lot of which everything is, or was, on hold.
type BatchHold struct {
	Held     bool `json:",omitempty"`
	At       Tick
	By       string `json:",omitempty"`
	Why      string `json:",omitempty"`
	Event    string // that put it on hold
	Released Tick   `json:",omitempty"`
	Releaser string `json:",omitempty"`
	Reason   string `json:",omitempty"` // of the release
	Release  string `json:",omitempty"` // event that released it
}

// OpState is one operation of a piece, in routing order, only those the piece
// passes.
type OpState struct {
	Operation string
	Index     int      // in Product.Routing
	Status    Status   `json:",omitempty"`
	Station   string   `json:",omitempty"`
	Place     int      `json:",omitempty"`
	Started   Tick     `json:",omitempty"`
	SetupFrom Tick     `json:",omitempty"` // when the changeover for it began, where that was reported
	Ended     Tick     `json:",omitempty"`
	PausedAt  Tick     `json:",omitempty"`
	PausedFor Seconds  `json:",omitempty"` // sum of the pauses that are over
	Load      string   `json:",omitempty"`
	Mix       string   `json:",omitempty"`
	Tools     []string `json:",omitempty"` // in the order of Operation.Takes
	Lots      []Lot    `json:",omitempty"` // of the materials it drew, where that was reported
	Reworks   int      `json:",omitempty"` // how often this gate sent the piece back
	Redo      Tick     `json:",omitempty"` // it is to be done again; reports from before that speak of the first time
	Passed    bool     `json:",omitempty"` // last result at this gate
	Failed    bool     `json:",omitempty"`
	// StartGuessed and EndGuessed say that nobody reported the instant yet; a
	// late report may still put it right.
	StartGuessed bool   `json:",omitempty"`
	EndGuessed   bool   `json:",omitempty"`
	StartedBy    string `json:",omitempty"` // who reported
	EndedBy      string `json:",omitempty"`
	StartEvent   string `json:",omitempty"` // IDs of the events that told it
	EndEvent     string `json:",omitempty"`
}

// LoadRun is a load as reported.
type LoadRun struct {
	ID           string
	Station      string
	Members      []Member
	Status       Status `json:",omitempty"` // Planned means closed, not started
	Closed       Tick   `json:",omitempty"`
	Started      Tick   `json:",omitempty"`
	Ended        Tick   `json:",omitempty"`
	StartGuessed bool   `json:",omitempty"`
	By           string `json:",omitempty"` // who reported last
	StartEvent   string `json:",omitempty"` // IDs of the events that told it
	EndEvent     string `json:",omitempty"`
}

// MixRun is a mix as reported.
type MixRun struct {
	ID        string
	Resin     string
	Grams     int64
	Drawn     int64 `json:",omitempty"`
	Made      Tick
	Expiry    Tick
	Discarded bool   `json:",omitempty"`
	Ended     Tick   `json:",omitempty"` // when it was discarded
	Left      int64  `json:",omitempty"` // grams thrown away
	Lots      []Lot  `json:",omitempty"` // of its ingredients, where that was reported
	Weighed   bool   `json:",omitempty"` // the weights were reported, and are within the tolerance
	By        string `json:",omitempty"` // who mixed
	Event     string `json:",omitempty"` // that told it was made
	EndEvent  string `json:",omitempty"` // that told it was thrown away
}

// StationState is a station's condition.
type StationState struct {
	Down    bool              `json:",omitempty"`
	Since   Tick              `json:",omitempty"` // of the last stop, or of its end
	Until   Tick              `json:",omitempty"` // expected end of the stop; 0: unknown
	Why     string            `json:",omitempty"`
	Setup   map[string]string `json:",omitzero"`  // attributes it is set up for; nil: as the plant says
	SetupAt Tick              `json:",omitempty"` // start of the work that set it up
	On      []Member          // what is on each place, empty when free; not for batch stations
	Load    string            `json:",omitempty"` // load that runs, for batch stations
}

// ToolState is a tool unit's condition. Holder is the serial that has it.
type ToolState struct {
	Pool   string
	Holder string `json:",omitempty"`
	Free   Tick   `json:",omitempty"` // usable again from then (turnaround)
	Out    bool   `json:",omitempty"`
	Since  Tick   `json:",omitempty"` // of being out, or of being back
	Until  Tick   `json:",omitempty"` // of being out; 0: unknown
	Why    string `json:",omitempty"`
}

// Absence is people of a crew who are away for a time. It ends by itself: those
// who are expected back need not report.
type Absence struct {
	Crew     string
	People   int
	Calendar string `json:",omitempty"` // of their shift; empty: of whichever works
	From     Tick
	Until    Tick   `json:",omitempty"` // expected; 0: unknown
	Why      string `json:",omitempty"`
	By       string `json:",omitempty"` // who reported
}

// Over tells whether they were expected back by an instant.
func (a *Absence) Over(at Tick) bool { return a.Until != 0 && a.Until <= at }

// Note is one thing the core has to say about what it did and why, fit for a
// log, a golden file and a page.
type Note struct {
	About string // serial, station, order, … it speaks of
	Text  string
}
