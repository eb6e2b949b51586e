// SPDX-License-Identifier: Apache-2.0

package resources

import "towpath/resources/quality"

// Product is a thing the shop sells, with the routing of its pieces.
type Product struct {
	ID         string
	Name       string
	Dimensions map[string]int64 // length_mm, diameter_mm, …; checked against Station.Limits
	Samples    int              // destructive samples per order line, made beside the quantity
	Starts     *StartRule       // how many pieces to start for an order; nil: as many as are ordered
	Routing    []Operation      // in file order; After gives the precedence
}

// StartRule says how many pieces to start, so that enough good ones are there.
type StartRule struct {
	Yield      float64 // share of the pieces started that come out good, 0..1
	Confidence float64 // chance that enough of them do, 0..1
}

// StartFor is how many pieces to start for the customer so that quantity of
// them come out good, and the samples of the line too, with the product's
// confidence. The samples are not counted in. Without a rule it is quantity.
func (p *Product) StartFor(quantity int) int {
	if p.Starts == nil || quantity == 0 {
		return quantity
	}
	n, err := Starts(quantity, p.Starts.Yield, p.Starts.Confidence, p.Samples)
	if err != nil {
		return quantity
	}
	return max(quantity, n-p.Samples)
}

// Per says which piece an operation belongs to. A tube is what is wound; an
// operation with Split cuts it into shafts, and operations after it run on
// each shaft, or still on the tube (its ring sample, its mandrel).
type Per uint8

const (
	PerTube   Per = iota // once per wound tube
	PerShaft             // once per shaft cut from it, samples included unless SkipSample
	PerSample            // only on a shaft made to be destroyed
)

// Part names the four stretches of an operation, in their order.
type Part uint8

const (
	PartSetup Part = iota // sequence-dependent changeover, before the piece is there
	PartLoad
	PartRun
	PartUnload
	NumParts
)

// Operation is one step of a routing.
//
// On the station it is: changeover, load, run, unload, without gaps, except
// that a finished run may wait for people to unload it when WaitInside is set;
// the station stays occupied. Only a run with MayPause stops when the station
// or its crew goes home and resumes when both are back; the piece stays where
// it is.
type Operation struct {
	ID         string
	Name       string
	Per        Per
	SkipSample bool     // a destructive sample does not pass here
	Stations   []string // eligible station IDs
	Load       Seconds
	LoadEach   Seconds // added per member of a load
	Run        Seconds // at station speed 1; ignored when Recipe is set
	RunAt      map[string]Seconds
	MaxRun     Seconds // longest time this piece may stay in a shared run; 0: no limit
	Unload     Seconds
	UnloadEach Seconds
	Needs      []Need
	MayPause   bool
	WaitInside bool
	After      []Link
	Recipe     string
	Tau        Seconds           // time constant of part and mandrel in the oven's air; 0: follows the air
	Size       map[string]int64  // of the dimensions of Batch.Capacity
	Attributes map[string]string // for changeovers and Batch.Same
	Takes      []Take
	Draws      []Draw
	Mix        *MixDraw
	Split      int           // > 0: the tube becomes this many shafts when the operation ends
	Yield      float64       // first-pass yield, 0..1; 0 means 1
	SecondPass float64       // of those that fail, the share that passes when it is done again; 0: not said
	Spread     Spread        // of load, run and unload
	Gate       string        // kind of result recorded here ("ring", "chart", "proof", …); empty: none
	Rule       *quality.Rule // how the gate's measurements are judged; nil: by whoever reports
	Cautions   []string
}

// Need is people wanted during one part of an operation.
type Need struct {
	Part  Part
	Skill string
	Share int64 // thousandths of a person; 2000 is two people
}

// Link is a wait from an earlier operation of the routing to this one, on the
// wall clock: from the end (or, FromStart, the start of loading) of Operation
// to the start of loading here, at least Min (may be negative) and, with
// HasMax, at most Max. A link between operations of different Per holds for
// every pair of pieces it joins: tube to each of its shafts, shafts back to
// their tube, the samples of an order line to each of its shafts.
type Link struct {
	Operation string
	FromStart bool
	Min       Seconds
	Max       Seconds
	HasMax    bool
}

// Take holds one unit of a tool from the changeover of this operation until
// the end of operation Until (same routing), plus the tool's turnaround.
type Take struct {
	Tool  string
	Until string
}

// Draw takes material when loading starts.
type Draw struct {
	Material string
	Quantity int64 // milli-units
}

// MixDraw takes mixed resin. The mix must be made before loading starts and
// still be alive when the run ends.
type MixDraw struct {
	Resin string
	Grams int64
}

// OrderKind says what lateness costs.
type OrderKind uint8

const (
	Firm  OrderKind = iota // late costs per day
	Event                  // worthless after its date
)

// String is the kind as files and events have it.
func (k OrderKind) String() string {
	if k == Event {
		return "event"
	}
	return "firm"
}

// OrderLine is one line of an order. Tardiness is counted per order: the worst
// of its lines.
type OrderLine struct {
	Order         string
	Line          string
	Customer      string
	Product       string
	Quantity      int
	ShipBy        Tick // as asked
	Due           Tick // last carrier cut-off not after ShipBy
	Weight        int64
	Kind          OrderKind
	EarliestStart Tick // 0: at once
	Note          string
}
