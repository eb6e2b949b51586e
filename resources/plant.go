// SPDX-License-Identifier: Apache-2.0

package resources

import "time"

// Plant is everything that does not change when an order arrives. A value of
// this type has been validated: every reference resolves, every unit has been
// read, so the packages above may index it without asking again. Slices keep
// the order of the file.
type Plant struct {
	ID        string // short name for subjects and file names
	Name      string
	Zone      *time.Location
	StartsAt  Tick    // instant at which an example's clock begins; 0 = none
	Horizon   Seconds // how far ahead calendars are laid out; default 26 weeks
	Freeze    Seconds // what begins, with its changeover, sooner than this stays as published
	Calendars []Calendar
	Stations  []Station
	Crews     []Crew
	Tools     []Tool
	Resins    []Resin
	Recipes   []Recipe
	Materials []Material
	Products  []Product
	Shipping  Shipping
	Room      Room
	Objective Objective
	Chance    Chance // how times vary; unsaid where the file says nothing
	Floor     Floor  // how people follow the plan
}

// Room gives the shop's air temperature, which sets how long mixed resin lives.
type Room struct {
	Celsius float64  // ordinary temperature
	Periods []Warmth // exceptions, in time order, not overlapping
}

// Warmth is a period with its own room temperature.
type Warmth struct {
	Interval
	Celsius float64
}

// Shipping says when the carrier takes goods away. An order's due instant is
// the last cut-off on a ship day that is not after its ship-by.
type Shipping struct {
	Days   []time.Weekday // empty: every day
	CutOff Seconds        // local time of day, seconds after midnight; 0 with no Days: ship-by itself is due
	Closed []string       // local dates YYYY-MM-DD on which nothing leaves
}

// Station is a place where work happens. Its kind is data: nothing in the
// engine knows what an oven or a winder is, only whether it takes one piece at
// a time, several in places, or loads (Batch).
type Station struct {
	ID          string
	Name        string
	Kind        string
	Calendar    string      // when it is open; empty: always
	Stops       []Exception // planned: nothing at all runs then, not even unattended work
	Unattended  bool        // parts without people may run while the calendar is closed
	Places      int         // pieces worked on side by side, each in a place of its own; 1 for a plain station
	Batch       *Batch      // not nil: members of a load share start and end
	Speed       float64
	Recipes     []string         // cure recipes this station runs
	Limits      map[string]int64 // largest value of a product's dimension it takes, e.g. length_mm
	SetupSkill  string           // who does a changeover; empty: nobody needed
	SetupShare  int64            // thousandths of a person
	Setups      []SetupRule
	SetupSum    bool              // true: changes of several attributes add up; false: the longest counts
	Initial     map[string]string // attributes it is set up for at the start; nil: unknown, the first setup is free
	Freeze      Seconds           // frozen window of this station; 0: the plant's
	SetupSpread Spread            // of its changeovers
	Breakdowns  *Breakdowns       // nil: none
	Watts       int64             // mean electrical power while it runs a load; 0: not known
	Like        string            // the station it was added to the plant's own as one more of; empty: one of its own
}

// Batch makes a station run loads.
type Batch struct {
	Capacity map[string]int64 // per dimension of Operation.Size
	Same     []string         // attributes that must agree within a load; "recipe" compares Recipe.Group
}

// SetupRule is one line of a station's changeover table, keyed by one
// attribute. From and To may be "*". The most specific line wins: both named,
// then To named, then From named, then both "*". Equal values cost nothing
// unless a line names that pair (both named).
type SetupRule struct {
	Attribute string
	From      string
	To        string
	Time      Seconds
	Cost      int64
}

// Crew is a group of people with the same skills.
type Crew struct {
	ID      string
	Name    string
	Skills  []string
	Shifts  []CrewShift
	Absence float64 // chance that one of them is not there on a day
}

// CrewShift puts heads on a calendar. Shifts of one crew add up.
type CrewShift struct {
	Calendar string
	Heads    int
}

// Tool is a pool of like units (mandrels of one bore and length, bond fixtures
// of one size), each with its own mark.
type Tool struct {
	ID         string
	Name       string
	Kind       string // "mandrel", "fixture", …
	Units      []string
	Turnaround Seconds          // from given back to usable again, on the wall clock
	Dimensions map[string]int64 // bore_mm, length_mm, …
}

// Resin is a mixed system with a pot life.
type Resin struct {
	ID             string
	Name           string
	Life           Seconds // pot life at ReferenceC
	ReferenceC     float64
	HalvingC       float64 // life halves for each rise by this many degrees, as an Arrhenius law through the reference; 0: does not change
	BathC          float64 // temperature it is kept at; 0: the room's
	MaxMass        int64   // grams in one mix
	HeelMass       int64   // grams left over in bath and pot, discarded with each mix
	Mixing         Seconds // weigh, mix and weigh check
	Station        string  // the mix room
	Skill          string
	Share          int64   // thousandths of a person while mixing
	IngredientsTol float64 // weigh check: largest relative deviation of an ingredient; 0: not checked
	Ingredients    []Ingredient
}

// Ingredient is one part of a resin system.
type Ingredient struct {
	Name  string
	Parts float64 // by mass
}

// Recipe is a cure cycle. Times computed from it are planning times only.
type Recipe struct {
	ID        string
	Name      string
	Group     string // recipes of one group may share a load; default: the recipe's own ID
	StartC    float64
	Steps     []CureStep
	CoolRate  float64 // °C per minute, down to OpenC
	OpenC     float64 // safe opening temperature
	Tolerance float64 // the soak starts when the slowest part is this near the set point, °C
	Fixed     Seconds // measured time; > 0 replaces the heat model
}

// CureStep is a ramp and the dwell after it.
type CureStep struct {
	Rate  float64 // °C per minute
	ToC   float64
	Dwell Seconds
}

// Material is bought stock, counted in thousandths of its unit.
type Material struct {
	ID       string
	Name     string
	Unit     string
	Stock    int64 // milli-units on hand at the start
	Receipts []Receipt
}

// Receipt is an expected delivery.
type Receipt struct {
	At       Tick
	Quantity int64 // milli-units
}

// Objective weighs what a plan costs. Terms of a lower level are compared
// first; within a level they add up. Zero weight switches a term off.
type Objective struct {
	Lost      Term // per weight of a lost event order
	Tardiness Term // per weight and second late of a firm order
	Churn     Term // per operation moved against the published plan near now
	Oven      Term // per second a batch station runs
	SetupTime Term // per second of changeover
	SetupCost Term // per unit of the changeover table's cost
	Discard   Term // per gram of resin thrown away
	Flow      Term // per second between a piece's first start and last end
}

// Term is one weighted part of the objective.
type Term struct {
	Level  int // 0..3
	Weight int64
}

// DefaultObjective is the order of the design: lost event orders, weighted
// tardiness, changes near now, then cost. In the last an hour of a batch
// station weighs as much as a hundred pieces in work for an hour, so that loads
// fill up and leave room for what goes wrong; the weights are our own.
func DefaultObjective() Objective {
	return Objective{
		Lost:      Term{Level: 0, Weight: 1},
		Tardiness: Term{Level: 1, Weight: 1},
		Churn:     Term{Level: 2, Weight: 1},
		Oven:      Term{Level: 3, Weight: 100},
		SetupTime: Term{Level: 3, Weight: 5},
		Discard:   Term{Level: 3, Weight: 20},
		Flow:      Term{Level: 3, Weight: 1},
	}
}
