// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"
)

// ViolationKind names the rule a plan breaks. Its text is stable: tests, the
// plan file's documentation and programs may compare it.
type ViolationKind string

// One kind per rule; ViolationKinds says what each of them asks.
const (
	BreaksCoverage    ViolationKind = "coverage"
	BreaksQuantity    ViolationKind = "quantity"
	BreaksIdentity    ViolationKind = "identity"
	BreaksTimes       ViolationKind = "times"
	BreaksEligibility ViolationKind = "eligibility"
	BreaksPlace       ViolationKind = "place"
	BreaksLimits      ViolationKind = "limits"
	BreaksRecipe      ViolationKind = "recipe"
	BreaksLoading     ViolationKind = "loading-time"
	BreaksRun         ViolationKind = "run-time"
	BreaksWaitInside  ViolationKind = "wait-inside"
	BreaksUnloading   ViolationKind = "unloading-time"
	BreaksOccupancy   ViolationKind = "occupancy"
	BreaksChangeover  ViolationKind = "changeover"
	BreaksOpening     ViolationKind = "opening"
	BreaksStop        ViolationKind = "stop"
	BreaksNeeds       ViolationKind = "needs"
	BreaksSkill       ViolationKind = "skill"
	BreaksShift       ViolationKind = "shift"
	BreaksCrew        ViolationKind = "crew"
	BreaksPredecessor ViolationKind = "predecessor"
	BreaksMinWait     ViolationKind = "min-wait"
	BreaksMaxWait     ViolationKind = "max-wait"
	BreaksBreach      ViolationKind = "breach"
	BreaksRelease     ViolationKind = "release"
	BreaksNow         ViolationKind = "now"
	BreaksFacts       ViolationKind = "facts"
	BreaksFreeze      ViolationKind = "freeze"
	BreaksHold        ViolationKind = "hold"
	BreaksMembership  ViolationKind = "membership"
	BreaksClosedLoad  ViolationKind = "closed-load"
	BreaksSame        ViolationKind = "same"
	BreaksCapacity    ViolationKind = "capacity"
	BreaksMaxRun      ViolationKind = "max-run"
	BreaksTool        ViolationKind = "tool"
	BreaksToolState   ViolationKind = "tool-state"
	BreaksToolHold    ViolationKind = "tool-hold"
	BreaksMix         ViolationKind = "mix"
	BreaksMixLife     ViolationKind = "mix-life"
	BreaksMixMass     ViolationKind = "mix-mass"
	BreaksMixUsers    ViolationKind = "mix-users"
	BreaksStock       ViolationKind = "stock"
)

// KindRule is a violation kind and the rule behind it, in one sentence.
type KindRule struct {
	Kind ViolationKind
	Rule string
}

// ViolationKinds lists every kind in the order a person meets them, with what
// the rule asks of a plan.
func ViolationKinds() []KindRule {
	return []KindRule{
		{BreaksCoverage, "Every operation of every open piece is in the plan once, and nothing else is; what is held or lacks a material waits, with what comes after it."},
		{BreaksQuantity, "An order line has as many pieces and samples as were ordered."},
		{BreaksIdentity, "Work names the order and line its piece belongs to."},
		{BreaksTimes, "Setup ≤ start ≤ run ≤ run end ≤ unload ≤ end, none of them years away."},
		{BreaksEligibility, "The station exists and is one of the operation's."},
		{BreaksPlace, "The place is one of the station's; a batch station has place 1 only."},
		{BreaksLimits, "The product is not larger than the station takes."},
		{BreaksRecipe, "The station runs the recipe, members of a load have recipes of one group, and the load names one of them."},
		{BreaksLoading, "Loading lasts what the operations ask: the longest of the members and their sum of per-member times."},
		{BreaksRun, "The run lasts exactly what the slowest member asks; a pause is whenever the station or the crew is not at work, and only then."},
		{BreaksWaitInside, "Unloading follows the run at once unless every member may wait inside."},
		{BreaksUnloading, "Unloading lasts what the operations ask."},
		{BreaksOccupancy, "A place holds one piece, load or mix at a time, from its changeover to its end."},
		{BreaksChangeover, "The changeover is at least as long as the setup table asks after what was on that place before."},
		{BreaksOpening, "Work happens while the station is open; on a station that runs unattended, attended parts do."},
		{BreaksStop, "Nothing happens on a station that is down."},
		{BreaksNeeds, "Every attended part names one crew for each skill, with the share asked, on the first member of a load, and nobody else."},
		{BreaksSkill, "The crew exists and has the skill."},
		{BreaksShift, "The crew is at work for the whole of the part."},
		{BreaksCrew, "A crew serves no more at once than it has heads."},
		{BreaksPredecessor, "Nothing is planned that waits for something that is not."},
		{BreaksMinWait, "A minimum wait is kept."},
		{BreaksMaxWait, "A maximum wait is kept, unless the plan records a breach that facts forced."},
		{BreaksBreach, "A recorded breach is real, of the right length, and starts from work that has already started."},
		{BreaksRelease, "Loading does not start before the order line's earliest start."},
		{BreaksNow, "Nothing is planned in the past; a published changeover or mix that is under way may stay."},
		{BreaksFacts, "Started and done work is as reported."},
		{BreaksFreeze, "Work inside the frozen window keeps its station and does not start earlier than published, unless the station is down."},
		{BreaksHold, "Held, scrapped and cancelled pieces have no planned work."},
		{BreaksMembership, "A load and its members name each other, and agree in station, place, times and status."},
		{BreaksClosedLoad, "A load that is closed or started keeps its station and members."},
		{BreaksSame, "Members of a load agree in the attributes the station asks."},
		{BreaksCapacity, "The members of a load fit, in each dimension."},
		{BreaksMaxRun, "A shared run is not longer than each member may stay."},
		{BreaksTool, "Work takes one existing unit of the right pool for each tool it needs."},
		{BreaksToolState, "A unit is not taken before it is free and in use again."},
		{BreaksToolHold, "A unit is held by one piece at a time, from changeover to give-back and turnaround."},
		{BreaksMix, "A mix is made in its mix room, in its mixing time, by a crew; a mix already made is as reported."},
		{BreaksMixLife, "A mix is used after it is made and while it lives, and its expiry follows from pot life and temperature."},
		{BreaksMixMass, "A mix holds what is drawn and the heel, and not more than may be mixed."},
		{BreaksMixUsers, "Work and mixes name each other, the resin is the right one, and a load draws from one mix."},
		{BreaksStock, "Material is there when loading starts."},
	}
}

// Violation is one rule broken, with what was found and what is allowed. The
// fields that do not apply are empty.
type Violation struct {
	Kind      ViolationKind
	Piece     string
	Operation string
	Station   string
	Order     string
	At        Tick // where on the time axis to look
	Text      string
}

// String is the violation on one line.
func (x Violation) String() string { return string(x.Kind) + ": " + x.Text }

// sortViolations puts them in an order that depends on nothing but themselves,
// and drops exact repeats.
func sortViolations(list []Violation) []Violation {
	slices.SortFunc(list, func(a, b Violation) int {
		return cmp.Or(
			cmp.Compare(a.At, b.At),
			cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Piece, b.Piece),
			cmp.Compare(a.Operation, b.Operation),
			cmp.Compare(a.Station, b.Station),
			cmp.Compare(a.Order, b.Order),
			cmp.Compare(a.Text, b.Text),
		)
	})
	return slices.Compact(list)
}
