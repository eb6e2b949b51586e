// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"

	"towpath/events"
)

// Response is what a fact asks of planning.
type Response uint8

// Nothing: the plan stays as it is. Repair: times are put right and the order
// of things stays. Improve: the same at once, and then a better order of
// things is looked for.
const (
	Nothing Response = iota
	Repair
	Improve
)

// String is the response as documents say it.
func (r Response) String() string {
	switch r {
	case Repair:
		return "repair"
	case Improve:
		return "repair, then improve"
	}
	return "nothing"
}

// Reaction is one row of the table of what planning does about a fact; of the
// rows of a kind the first whose condition holds.
type Reaction struct {
	Kind events.Kind
	If   string // the condition in words; empty: always
	Then Response
	// Alerts may come or go with such a fact and the plan made after it; others
	// come and go with time.
	Alerts []AlertKind
	Why    string

	when func(events.Event) bool // the condition; nil: always
}

// Reactions is the whole table, in the order of the vocabulary. REACTIONS.md
// is drawn from it, and the runner does what it says.
func Reactions() []Reaction { return slices.Clone(reactions) }

// ReactionTo is the row for an event. A kind without a row, which a test rules
// out, asks for everything.
func ReactionTo(e events.Event) Reaction {
	for i := range reactions {
		if r := &reactions[i]; r.Kind == e.Kind && (r.when == nil || r.when(e)) {
			return *r
		}
	}
	return Reaction{Kind: e.Kind, Then: Improve, Alerts: AlertKinds()}
}

func kinds(list ...AlertKind) []AlertKind { return list }

var reactions = []Reaction{
	{Kind: events.PlantDeclared, Then: Improve, Alerts: kinds(PromiseAtRisk, MaterialShort, StopOpen, WaitEnding, HoldUndecided),
		Why: "stations, hours, tools and routings may all be others"},
	{Kind: events.OrderAdded, Then: Improve, Alerts: kinds(PromiseAtRisk, MaterialShort),
		Why: "the new order first goes where there is room; another order of things may suit all better"},
	{Kind: events.OrderChanged, Then: Improve, Alerts: kinds(PromiseAtRisk, MaterialShort, HoldUndecided),
		Why: "dates, weights and quantities decide the order of things"},
	{Kind: events.OrderCancelled, Then: Improve, Alerts: kinds(PromiseAtRisk, MaterialShort, HoldUndecided, WaitEnding, LoadDue, StationSilent, FinishMissing, MixExpiring),
		Why: "what it leaves free may save another order"},
	{Kind: events.OperationStarted, Then: Repair, Alerts: kinds(StationSilent, WaitEnding, MixExpiring, FinishMissing, StopOpen),
		Why: "what people do is followed; only times behind it move"},
	{Kind: events.OperationPaused, Then: Repair, Alerts: kinds(FinishMissing, MixExpiring, PromiseAtRisk),
		Why: "its end moves, and what waits for it"},
	{Kind: events.OperationResumed, Then: Repair, Alerts: kinds(FinishMissing, MixExpiring, PromiseAtRisk),
		Why: "its end is known again"},
	{Kind: events.OperationFinished, Then: Repair, Alerts: kinds(FinishMissing, StationSilent, MixExpiring, WaitEnding, LoadDue, PromiseAtRisk),
		Why: "early or late, the order of things still holds; only times move"},
	{Kind: events.LoadClosed, Then: Repair, Alerts: kinds(LoadDue),
		Why: "its members are settled; pieces left out go into another load"},
	{Kind: events.LoadStarted, Then: Repair, Alerts: kinds(LoadDue, WaitEnding, StationSilent, MixExpiring, StopOpen),
		Why: "its end is known; pieces left out go into another load"},
	{Kind: events.LoadFinished, Then: Repair, Alerts: kinds(FinishMissing, StationSilent, WaitEnding, MixExpiring, LoadDue, PromiseAtRisk),
		Why: "early or late, only times move"},
	{Kind: events.MixMade, Then: Repair, Alerts: kinds(StationSilent, MixExpiring),
		Why: "its pot life runs; windings that take from it are held to that"},
	{Kind: events.MixDiscarded, Then: Improve, Alerts: kinds(MixExpiring, PromiseAtRisk),
		Why: "windings that were to take from it need another, and may change places"},
	{Kind: events.StationDown, Then: Improve, Alerts: kinds(StopOpen, WaitEnding, LoadDue, StationSilent, FinishMissing, PromiseAtRisk),
		Why: "what waits for it, wet tubes first, may have to go elsewhere"},
	{Kind: events.StationUp, Then: Improve, Alerts: kinds(StopOpen, WaitEnding, LoadDue, StationSilent, FinishMissing, PromiseAtRisk),
		Why: "work that went elsewhere may be better off here"},
	{Kind: events.ToolOut, Then: Improve, Alerts: kinds(StopOpen, PromiseAtRisk),
		Why: "pieces that were to use it take another or change places"},
	{Kind: events.ToolIn, Then: Improve, Alerts: kinds(StopOpen, PromiseAtRisk),
		Why: "more pieces can be on the way at once"},
	{Kind: events.PieceScrapped, Then: Improve, Alerts: kinds(HoldUndecided, PromiseAtRisk, MaterialShort, WaitEnding, LoadDue, FinishMissing, StationSilent, MixExpiring),
		Why: "a new piece is planned at once and must catch up"},
	{Kind: events.PieceHeld, Then: Improve, Alerts: kinds(HoldUndecided, PromiseAtRisk, WaitEnding, LoadDue, StationSilent, MixExpiring),
		Why: "its places in queues and loads are free for others"},
	{Kind: events.PieceReleased, Then: Improve, Alerts: kinds(HoldUndecided, PromiseAtRisk, WaitEnding, LoadDue, StationSilent, MixExpiring),
		Why: "it has lost time and goes where its date asks"},
	{Kind: events.BatchHeld, Then: Improve, Alerts: kinds(HoldUndecided, PromiseAtRisk, WaitEnding, LoadDue, StationSilent, MixExpiring),
		Why: "every piece made from it stops, and work that was to take from it needs another"},
	{Kind: events.BatchReleased, Then: Improve, Alerts: kinds(HoldUndecided, PromiseAtRisk, WaitEnding, LoadDue, StationSilent, MixExpiring),
		Why: "its pieces have lost time and go where their dates ask"},
	{Kind: events.ResultRecorded, If: "passed, and nothing was measured that a rule could judge", Then: Repair, Alerts: kinds(HoldUndecided),
		Why:  "the piece goes on as planned",
		when: plainPass},
	{Kind: events.ResultRecorded, If: "failed, measured, or decided by a person", Then: Improve, Alerts: kinds(HoldUndecided, PromiseAtRisk, MaterialShort, WaitEnding, LoadDue, FinishMissing, StationSilent),
		Why: "the piece may be held, sent back or made again"},
	{Kind: events.PlanPublished, Then: Nothing, Alerts: kinds(PromiseAtRisk, LoadDue, WaitEnding, StationSilent, MaterialShort),
		Why: "it is the answer itself"},
	{Kind: events.EventVoided, Then: Improve, Alerts: AlertKinds(),
		Why: "what did not happen may have been anything"},
	{Kind: events.PromiseReserved, Then: Repair, Alerts: kinds(PromiseAtRisk, MaterialShort),
		Why: "it comes with a plan that has room for it"},
	{Kind: events.PromiseConfirmed, Then: Improve, Alerts: kinds(PromiseAtRisk),
		Why: "work on it may begin now"},
	{Kind: events.PromiseReleased, Then: Improve, Alerts: kinds(PromiseAtRisk, MaterialShort),
		Why: "what it leaves free may save another order"},
	{Kind: events.PromiseExpired, Then: Improve, Alerts: kinds(PromiseAtRisk, MaterialShort),
		Why: "what it leaves free may save another order"},
	{Kind: events.CrewAbsent, Then: Improve, Alerts: kinds(StopOpen, WaitEnding, LoadDue, PromiseAtRisk),
		Why: "what only they can do waits, and what others can do may go first"},
	{Kind: events.CrewPresent, Then: Improve, Alerts: kinds(StopOpen, WaitEnding, LoadDue, PromiseAtRisk),
		Why: "work that was put off for want of people may go sooner"},
}

// plainPass is a pass that the reporter tells and no rule can overturn.
func plainPass(e events.Event) bool {
	d, ok := e.Data.(events.ResultData)
	return ok && d.Pass && len(d.Measured) == 0 && d.Decision == ""
}
