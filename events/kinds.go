// SPDX-License-Identifier: Apache-2.0

package events

import (
	"towpath/resources"
	"towpath/resources/quality"
)

// Kind names a kind of fact. It is the last part of a CloudEvents type.
type Kind string

// The vocabulary. Each kind has one payload type below.
const (
	PlantDeclared     Kind = "plant.declared"
	OrderAdded        Kind = "order.added"
	OrderChanged      Kind = "order.changed"
	OrderCancelled    Kind = "order.cancelled"
	PromiseReserved   Kind = "promise.reserved"
	PromiseConfirmed  Kind = "promise.confirmed"
	PromiseReleased   Kind = "promise.released"
	PromiseExpired    Kind = "promise.expired"
	OperationStarted  Kind = "operation.started"
	OperationPaused   Kind = "operation.paused"
	OperationResumed  Kind = "operation.resumed"
	OperationFinished Kind = "operation.finished"
	LoadClosed        Kind = "load.closed"
	LoadStarted       Kind = "load.started"
	LoadFinished      Kind = "load.finished"
	MixMade           Kind = "mix.made"
	MixDiscarded      Kind = "mix.discarded"
	StationDown       Kind = "station.down"
	StationUp         Kind = "station.up"
	ToolOut           Kind = "tool.out"
	ToolIn            Kind = "tool.in"
	CrewAbsent        Kind = "crew.absent"
	CrewPresent       Kind = "crew.present"
	PieceScrapped     Kind = "piece.scrapped"
	PieceHeld         Kind = "piece.held"
	PieceReleased     Kind = "piece.released"
	BatchHeld         Kind = "batch.held"
	BatchReleased     Kind = "batch.released"
	ResultRecorded    Kind = "result.recorded"
	PlanPublished     Kind = "plan.published"
	EventVoided       Kind = "event.voided"
)

// Event is one fact. At is when it happened as the reporter says; the log adds
// Seq when it stores it. Data holds the payload type of Kind, by value.
type Event struct {
	ID      string
	Kind    Kind
	Plant   string // plant name token in the subject
	Station string // reporting station; empty for orders, plans, voids
	At      resources.Tick
	By      string // person or program; may be empty
	Data    any
	Seq     uint64 // stream sequence; 0 before it is stored
}

// PlantData carries the whole plant file, so that the log alone rebuilds
// everything.
type PlantData struct {
	File    string              `json:"file"`              // the text of plant.yaml
	Adopted []resources.Adopted `json:"adopted,omitempty"` // sets of changes that stand on top of it, in their order
}

// OrderData is an order line, added or changed. Instants are RFC 3339.
type OrderData struct {
	Order         string         `json:"order"`
	Line          string         `json:"line"`
	Customer      string         `json:"customer,omitempty"`
	Product       string         `json:"product"`
	Quantity      int            `json:"quantity"`
	ShipBy        resources.Tick `json:"ship_by"`
	Due           resources.Tick `json:"due"`
	Weight        int64          `json:"weight"`
	Kind          string         `json:"kind"` // "firm" or "event"
	EarliestStart resources.Tick `json:"earliest_start,omitempty"`
	Note          string         `json:"note,omitempty"`
	Asked         *AskedData     `json:"asked,omitempty"` // of an order that is added: its shipment was promised
}

// AskedData is what was said to a customer who asked for a date, where more than
// keeping its capacity was needed.
type AskedData struct {
	Wish     resources.Tick `json:"wish,omitempty"`       // asked for
	Plan     int64          `json:"plan,omitempty"`       // version of the plan it was fitted into
	PerMille int64          `json:"confidence,omitempty"` // the promised date holds in so many of 1000 courses; 0: not asked
}

// NewOrderData is an order line that is added, with what was said to its
// customer.
func NewOrderData(l *resources.NewOrder) OrderData {
	d := OrderDataOf(&l.OrderLine)
	if a := l.Asked; a != nil {
		d.Asked = &AskedData{Wish: a.Wish, Plan: a.Plan, PerMille: a.PerMille}
	}
	return d
}

// OrderDataOf is an order line as its event has it.
func OrderDataOf(l *resources.OrderLine) OrderData {
	return OrderData{
		Order: l.Order, Line: l.Line, Customer: l.Customer, Product: l.Product, Quantity: l.Quantity,
		ShipBy: l.ShipBy, Due: l.Due, Weight: l.Weight, Kind: l.Kind.String(), EarliestStart: l.EarliestStart, Note: l.Note,
	}
}

// CancelData names an order line; an empty Line cancels the whole order.
type CancelData struct {
	Order string `json:"order"`
	Line  string `json:"line,omitempty"`
	Why   string `json:"why,omitempty"`
}

// ReserveData keeps the capacity for an order that was asked for, until it is
// confirmed, released, or has expired. Its promise is the order's number; there is
// one line.
type ReserveData struct {
	Promise  string         `json:"promise"`
	Customer string         `json:"customer,omitempty"`
	Product  string         `json:"product"`
	Quantity int            `json:"quantity"`
	Wish     resources.Tick `json:"wish,omitempty"` // asked for
	ShipBy   resources.Tick `json:"ship_by"`        // promised
	Due      resources.Tick `json:"due,omitempty"`
	Weight   int64          `json:"weight,omitempty"`
	Kind     string         `json:"kind"` // "firm" or "event"
	Expires  resources.Tick `json:"expires"`
	Base     uint64         `json:"base"`                 // sequence of the state it was computed from
	Plan     int64          `json:"plan,omitempty"`       // version of the plan it was fitted into
	PerMille int64          `json:"confidence,omitempty"` // the promised date holds in so many of 1000 courses; 0: not asked
}

// PromiseData names a promise.
type PromiseData struct {
	Promise  string `json:"promise"`
	Customer string `json:"customer,omitempty"` // when confirmed: who it is for, if not said before
	Why      string `json:"why,omitempty"`
}

// OperationData says where a piece is in its routing. For a finish, Started
// may carry the start that was not reported; for either, Setup when the
// station's changeover for it began, where there was one and somebody knows.
type OperationData struct {
	Piece     string         `json:"piece"`
	Operation string         `json:"operation"`
	Place     int            `json:"place,omitempty"` // from 1; 0: not said
	Mix       string         `json:"mix,omitempty"`
	Tools     []string       `json:"tools,omitempty"` // unit marks
	Lots      []LotUse       `json:"lots,omitempty"`  // of the materials it draws
	Started   resources.Tick `json:"started,omitempty"`
	Setup     resources.Tick `json:"setup,omitempty"`
	Why       string         `json:"why,omitempty"`
}

// LoadData is a load of a batch station: its pieces at one operation. For its
// start, Setup is as in OperationData.
// Operation may differ per piece when products name it differently.
type LoadData struct {
	Load   string         `json:"load"`
	Pieces []LoadItem     `json:"pieces,omitempty"` // required when closed; may be repeated later
	Mix    string         `json:"mix,omitempty"`
	Lots   []LotUse       `json:"lots,omitempty"` // of the materials its members draw
	Setup  resources.Tick `json:"setup,omitempty"`
	Why    string         `json:"why,omitempty"`
}

// LotUse says from which lot of the supplier a material came.
type LotUse struct {
	Material string `json:"material"`
	Lot      string `json:"lot"`
}

// LoadItem is one member of a load.
type LoadItem struct {
	Piece     string   `json:"piece"`
	Operation string   `json:"operation"`
	Tools     []string `json:"tools,omitempty"`
}

// MixData is one batch of mixed resin.
type MixData struct {
	Mix         string             `json:"mix"`
	Resin       string             `json:"resin,omitempty"`
	Grams       int64              `json:"grams,omitempty"`
	Ingredients map[string]float64 `json:"ingredients_g,omitempty"` // weighed grams by name
	Lots        []LotUse           `json:"lots,omitempty"`          // of its ingredients, under their names
	Why         string             `json:"why,omitempty"`
}

// StationData is a change of a station's condition. Until is the expected end
// of a stop, 0 when nobody knows.
type StationData struct {
	Why   string         `json:"why,omitempty"`
	Until resources.Tick `json:"until,omitempty"`
}

// ToolData takes one tool unit out of use or brings it back.
type ToolData struct {
	Unit  string         `json:"unit"`
	Why   string         `json:"why,omitempty"`
	Until resources.Tick `json:"until,omitempty"`
}

// AbsentData says that people of a crew are away for a time: From is the
// event's own time when it is left out, Until 0 when nobody knows. Absence is the
// ID of the event that told of them before, which this one replaces.
type AbsentData struct {
	Crew     string         `json:"crew"`
	People   int            `json:"people"`
	Calendar string         `json:"calendar,omitempty"` // of the shift they belong to, where a crew has several; empty: of whichever works
	From     resources.Tick `json:"from,omitempty"`
	Until    resources.Tick `json:"until,omitempty"`
	Why      string         `json:"why,omitempty"`
	Absence  string         `json:"absence,omitempty"`
}

// PresentData says that people of a crew are back, or do not go after all.
// Absence is the ID of the event that told that they are away; empty, it is all of
// the crew who are away at that instant.
type PresentData struct {
	Crew    string `json:"crew"`
	Absence string `json:"absence,omitempty"`
	Why     string `json:"why,omitempty"`
}

// PieceData scraps, holds or releases a piece.
type PieceData struct {
	Piece string `json:"piece"`
	Why   string `json:"why,omitempty"`
}

// BatchData holds or releases everything made from one mix, in one load, or
// from one lot of a material; exactly one of Mix, Load and Lot is given.
type BatchData struct {
	Mix      string `json:"mix,omitempty"`
	Load     string `json:"load,omitempty"`
	Material string `json:"material,omitempty"` // with Lot
	Lot      string `json:"lot,omitempty"`
	Why      string `json:"why,omitempty"`
}

// ResultData is a measured result at a gate. Where the plant file has a rule
// for the gate, Measured is what it is judged by. Pass is the reporter's
// verdict; it counts where there is no rule. With a rule and nothing measured
// a piece can only fail, and Why says for what. Decision is that of a person who
// puts another in the place of the rule's, and says why.
type ResultData struct {
	Piece     string             `json:"piece"`
	Operation string             `json:"operation"`
	Gate      string             `json:"gate"`
	Pass      bool               `json:"pass"`
	Values    map[string]float64 `json:"values,omitempty"`   // unit in the name, e.g. torque_nm; kept, not judged
	Measured  []quality.Measure  `json:"measured,omitempty"` // raw, with units
	Decision  string             `json:"decision,omitempty"` // pass, rework, remake, hold
	Why       string             `json:"why,omitempty"`
}

// PlanData carries a published plan, gzip-compressed JSON, opaque here.
type PlanData struct {
	Version int64  `json:"version"`
	Base    uint64 `json:"base"` // sequence of the state it was checked against
	Gzip    []byte `json:"gzip"`

	Parts   []PlanPart `json:"parts,omitempty"`   // what the plan costs; none: not looked at yet
	Optimal bool       `json:"optimal,omitempty"` // no plan is better
	Churn   *PlanChurn `json:"churn,omitempty"`   // against the plan before; nil: there was none
	Asked   *PlanAsked `json:"asked,omitempty"`   // why another order of things was looked for; nil: it was not
}

// PlanAsked is what asked for a plan with another order of things: the plan
// comes from a search that began after it, not from a repair.
type PlanAsked struct {
	Why   string `json:"why"`   // the kind of the first fact that asked, or words
	Since uint64 `json:"since"` // its sequence; what else asked came later
}

// PlanChurn is what a plan changes against the one before it, of the operations
// that both plan and that have not begun.
type PlanChurn struct {
	Against  int64    `json:"against"`        // version compared with
	Compared int      `json:"compared"`       // operations
	Moved    int      `json:"moved"`          // of those, with another start or station
	Station  int      `json:"station"`        // of the moved, on another station
	Near     int      `json:"near"`           // of the moved, published for the frozen window or soon after
	Frozen   int      `json:"frozen"`         // of those compared, published for the frozen window
	Slipped  int      `json:"slipped"`        // of the frozen, moved because facts pushed them
	Next     []string `json:"next,omitempty"` // stations whose next job is another one
}

// PlanPart is one part of the objective: what the plan costs there, and what no
// plan can go below.
type PlanPart struct {
	Part  string `json:"part"`
	Unit  string `json:"unit"` // weight, s, moves, cost or g
	Value int64  `json:"value"`
	Bound int64  `json:"bound"`
	By    string `json:"by,omitempty"` // the relaxation that says so
}

// VoidData says an earlier event never happened.
type VoidData struct {
	Event string `json:"event"` // its ID
	Why   string `json:"why,omitempty"`
}
