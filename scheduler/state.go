// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/resources"

// State is what is true now: the fold of all events. It is plain data; a
// value belongs to one goroutine at a time.
type State struct {
	Plant     *resources.Plant
	PlantFile string
	Seq       uint64                   // last event applied
	At        Tick                     // latest instant any applied event spoke of
	Lines     map[string]*Line         // by LineKey
	Pieces    map[string]*Piece        // by serial
	Loads     map[string]*LoadRun      // by ID; only reported ones
	Mixes     map[string]*MixRun       // by ID; only made ones
	Stations  map[string]*StationState // by ID; every station of the plant
	Tools     map[string]*ToolState    // by unit mark; every unit of the plant
	Plan      *Plan                    // last published; nil before the first
}

// LineKey is the key of an order line in State.Lines.
func LineKey(order, line string) string { return order + "/" + line }

// Line is an order line with the serials made for it.
type Line struct {
	resources.OrderLine
	Cancelled bool
	Pieces    []string // serials, in the order they were made
}

// Piece is one physical tube or shaft with its serial.
type Piece struct {
	Serial   string
	Order    string
	Line     string
	Product  string
	Shaft    bool   // cut from Parent
	Sample   bool   // made to be destroyed
	Parent   string // serial of the tube, for shafts
	Replaces string // serial of the piece it was made for again
	Scrapped bool
	Held     bool
	Why      string // of the hold or scrap
	Ops      []OpState
}

// OpState is one operation of a piece, in routing order, only those the piece
// passes.
type OpState struct {
	Operation string
	Index     int // in Product.Routing
	Status    Status
	Station   string
	Place     int
	Started   Tick
	Ended     Tick
	PausedAt  Tick
	Load      string
	Mix       string
	Tools     []string
	Passed    bool // last result at this gate
	Failed    bool
}

// LoadRun is a load as reported.
type LoadRun struct {
	ID      string
	Station string
	Members []Member
	Status  Status // Planned means closed, not started
	Closed  Tick
	Started Tick
	Ended   Tick
}

// MixRun is a mix as reported.
type MixRun struct {
	ID        string
	Resin     string
	Grams     int64
	Drawn     int64
	Made      Tick
	Expiry    Tick
	Discarded bool
	Left      int64 // grams thrown away
}

// StationState is a station's condition.
type StationState struct {
	Down  bool
	Since Tick
	Until Tick // expected end of the stop; 0: unknown
	Why   string
	Setup map[string]string // attributes it is set up for; nil: as the plant says
}

// ToolState is a tool unit's condition. Holder is the serial that has it.
type ToolState struct {
	Pool   string
	Holder string
	Free   Tick // usable again from then (turnaround)
	Out    bool
	Until  Tick // of being out; 0: unknown
	Why    string
}

// Note is one thing the core has to say about what it did and why, fit for a
// log, a golden file and a page.
type Note struct {
	About string // serial, station, order, … it speaks of
	Text  string
}
