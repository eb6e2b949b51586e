// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/events"

// Lifecycle is the states of one thing and what may lead from one to another.
// The tables below are what Apply asks, and LIFECYCLES.md is drawn from them.
type Lifecycle struct {
	Thing string
	About string // what the thing is, a sentence
	First string // the state before anything was reported
	Moves []Move
}

// Move is one row of a life cycle: in state From, On happens, given If. A row
// with a Refusal reason leads nowhere.
type Move struct {
	From   string
	On     string // an event kind, or what another event implies
	If     string // condition; empty: always
	To     string
	Refuse Reason
	Does   string // what else happens, or what the refusal says
}

// Conditions of moves.
const (
	ifGuessed = "nobody had reported that instant"
	ifNamed   = "the report names them"
	ifGiven   = "the report lists the pieces, or the plan has the load"
)

// Implied happenings: what other events mean for a thing.
const (
	onNextStarted = "start of a following operation"
	onWorkStarted = "start of work"
	onTaken       = "start of the operation that takes it"
	onGiven       = "end of the operation that gives it back"
	onGateFailed  = "result.recorded, failed"
	onGatePassed  = "result.recorded, passed"
)

// Names of the states that Status numbers.
const (
	statePlanned = "planned"
	stateStarted = "started"
	statePaused  = "paused"
	stateDone    = "done"
	stateNone    = "not known"
	stateClosed  = "closed"
	stateAway    = "away"
)

func operationState(x Status) string {
	return [...]string{statePlanned, stateStarted, statePaused, stateDone}[x&3]
}

// loadState names a load's state; nil is a load nobody has reported.
func loadState(run *LoadRun) string {
	switch {
	case run == nil:
		return stateNone
	case run.Status == Planned:
		return stateClosed
	}
	return operationState(run.Status)
}

// Lifecycles lists every life cycle, in the order of the document.
func Lifecycles() []*Lifecycle {
	return []*Lifecycle{
		&operationLife, &pieceLife, &loadLife, &mixLife, &stationLife, &toolHoldLife, &toolUseLife, &absenceLife, &lineLife, &batchLife,
	}
}

// move finds the row for what happens; nil when the table has none. met says
// whether a condition holds and is asked only when a row has one.
func (l *Lifecycle) move(from string, on events.Kind, met func(string) bool) *Move {
	for i := range l.Moves {
		m := &l.Moves[i]
		if m.From == from && m.On == string(on) && (m.If == "" || met(m.If)) {
			return m
		}
	}
	return nil
}

var operationLife = Lifecycle{
	Thing: "operation",
	About: "One step of a piece. Members of a load move only with their load.",
	First: statePlanned,
	Moves: []Move{
		{From: statePlanned, On: string(events.OperationStarted), To: stateStarted, Does: "takes its place, tools and resin; earlier operations that still run on the same piece end"},
		{From: statePlanned, On: string(events.LoadStarted), To: stateStarted, Does: "the same, without a place of its own"},
		{From: statePlanned, On: string(events.OperationFinished), To: stateDone, Does: "implies the start, at the instant the report gives or an estimate"},
		{From: statePlanned, On: string(events.LoadFinished), To: stateDone, Does: "implies the start of the load"},
		{From: statePlanned, On: string(events.OperationPaused), Refuse: RefusedNotYet, Does: "it has not been reported started"},
		{From: statePlanned, On: string(events.OperationResumed), Refuse: RefusedNotYet, Does: "it has not been reported started"},
		{From: stateStarted, On: string(events.OperationPaused), To: statePaused, Does: "keeps its place"},
		{From: stateStarted, On: string(events.OperationFinished), To: stateDone, Does: "frees its place; gives tools back"},
		{From: stateStarted, On: string(events.LoadFinished), To: stateDone, Does: "gives tools back"},
		{From: stateStarted, On: onNextStarted, To: stateDone, Does: "ends when that starts; not when it is in a load"},
		{From: stateStarted, On: string(events.OperationStarted), Refuse: RefusedAlready, Does: "already started, by whom and when"},
		{From: stateStarted, On: string(events.LoadStarted), Refuse: RefusedAlready, Does: "already started, by whom and when"},
		{From: stateStarted, On: string(events.OperationResumed), Refuse: RefusedNotYet, Does: "it is not paused"},
		{From: statePaused, On: string(events.OperationResumed), To: stateStarted, Does: "adds up the pause"},
		{From: statePaused, On: string(events.OperationFinished), To: stateDone, Does: "adds up the pause; frees its place; gives tools back"},
		{From: statePaused, On: onNextStarted, To: stateDone, Does: "ends when that starts"},
		{From: statePaused, On: string(events.OperationStarted), Refuse: RefusedAlready, Does: "already started, by whom and when; resume it"},
		{From: statePaused, On: string(events.LoadStarted), Refuse: RefusedAlready, Does: "already started, by whom and when"},
		{From: statePaused, On: string(events.OperationPaused), Refuse: RefusedAlready, Does: "already paused since when"},
		{From: stateDone, On: string(events.OperationStarted), If: ifGuessed, To: stateDone, Does: "a late report: corrects the start"},
		{From: stateDone, On: string(events.OperationStarted), Refuse: RefusedAlready, Does: "already finished, by whom and when"},
		{From: stateDone, On: string(events.OperationFinished), If: ifGuessed, To: stateDone, Does: "a late report: corrects the end"},
		{From: stateDone, On: string(events.OperationFinished), Refuse: RefusedAlready, Does: "already finished, by whom and when"},
		{From: stateDone, On: string(events.OperationPaused), Refuse: RefusedAlready, Does: "already finished"},
		{From: stateDone, On: string(events.OperationResumed), Refuse: RefusedAlready, Does: "already finished"},
		{From: stateDone, On: string(events.LoadStarted), Refuse: RefusedAlready, Does: "already finished"},
	},
}

var pieceLife = Lifecycle{
	Thing: "piece",
	About: "A tube or shaft. It may be held for several causes and goes on when none is left.",
	First: "open",
	Moves: []Move{
		{From: "open", On: string(events.PieceHeld), To: "held", Does: "with all shafts of a tube; leaves a load that is closed and not started"},
		{From: "open", On: onGateFailed, To: "held", Does: "with all shafts of a tube; where the gate has a rule, what the rule says: held, back to an earlier operation, or scrapped and made again"},
		{From: "open", On: onGatePassed, To: "open"},
		{From: "open", On: string(events.PieceReleased), Refuse: RefusedNotYet, Does: "it is not held"},
		{From: "open", On: string(events.PieceScrapped), To: "scrapped", Does: "with all shafts of a tube; made again if the order still needs it"},
		{From: "held", On: string(events.PieceHeld), To: "held", Does: "refused as already held when a person has held it; a cause more when only a gate has"},
		{From: "held", On: onGateFailed, To: "held", Does: "a cause more"},
		{From: "held", On: onGatePassed, To: "open", Does: "when the failure of that gate was the only cause; else still held"},
		{From: "held", On: string(events.PieceReleased), To: "open", Does: "for every cause, with the shafts that the tube held; refused for a shaft that its tube holds"},
		{From: "held", On: string(events.PieceScrapped), To: "scrapped", Does: "as above"},
		{From: "scrapped", On: string(events.PieceHeld), Refuse: RefusedScrapped},
		{From: "scrapped", On: string(events.PieceReleased), Refuse: RefusedScrapped},
		{From: "scrapped", On: string(events.PieceScrapped), Refuse: RefusedScrapped, Does: "already scrapped"},
		{From: "scrapped", On: onGateFailed, Refuse: RefusedScrapped},
		{From: "scrapped", On: onGatePassed, Refuse: RefusedScrapped},
	},
}

var loadLife = Lifecycle{
	Thing: "load",
	About: "Pieces that share one run of a batch station.",
	First: stateNone,
	Moves: []Move{
		{From: stateNone, On: string(events.LoadClosed), To: stateClosed, Does: "its members are settled"},
		{From: stateNone, On: string(events.LoadStarted), If: ifGiven, To: stateStarted, Does: "implies that it was closed"},
		{From: stateNone, On: string(events.LoadStarted), Refuse: RefusedUnknown, Does: "list the pieces"},
		{From: stateNone, On: string(events.LoadFinished), If: ifGiven, To: stateDone, Does: "implies that it was closed and started"},
		{From: stateNone, On: string(events.LoadFinished), Refuse: RefusedUnknown, Does: "list the pieces"},
		{From: stateClosed, On: string(events.LoadClosed), Refuse: RefusedAlready, Does: "already closed; other pieces may be listed when it starts"},
		{From: stateClosed, On: string(events.LoadStarted), To: stateStarted, Does: "every member starts; pieces listed replace those of the closing"},
		{From: stateClosed, On: string(events.LoadFinished), To: stateDone, Does: "implies the start"},
		{From: stateStarted, On: string(events.LoadClosed), Refuse: RefusedAlready, Does: "already started"},
		{From: stateStarted, On: string(events.LoadStarted), Refuse: RefusedAlready, Does: "already started, by whom and when"},
		{From: stateStarted, On: string(events.LoadFinished), To: stateDone, Does: "every member ends"},
		{From: stateDone, On: string(events.LoadClosed), Refuse: RefusedAlready, Does: "already finished"},
		{From: stateDone, On: string(events.LoadStarted), If: ifGuessed, To: stateDone, Does: "a late report: corrects the start of every member"},
		{From: stateDone, On: string(events.LoadStarted), Refuse: RefusedAlready, Does: "already finished"},
		{From: stateDone, On: string(events.LoadFinished), Refuse: RefusedAlready, Does: "already finished, by whom and when"},
	},
}

var mixLife = Lifecycle{
	Thing: "mix",
	About: "One batch of mixed resin. Its expiry is an instant, not a state: drawing from an expired mix is noted.",
	First: stateNone,
	Moves: []Move{
		{From: stateNone, On: string(events.MixMade), To: "made", Does: "its pot life begins"},
		{From: stateNone, On: string(events.MixDiscarded), Refuse: RefusedUnknown},
		{From: stateNone, On: onWorkStarted, Refuse: RefusedUnknown, Does: "when the report names it"},
		{From: "made", On: onWorkStarted, To: "made", Does: "grams are drawn; too little left, or expired, is noted"},
		{From: "made", On: string(events.MixMade), Refuse: RefusedExists},
		{From: "made", On: string(events.MixDiscarded), To: "discarded", Does: "what is left is counted as thrown away"},
		{From: "discarded", On: onWorkStarted, Refuse: RefusedMix, Does: "unless the work started before that: then as above"},
		{From: "discarded", On: string(events.MixMade), Refuse: RefusedExists},
		{From: "discarded", On: string(events.MixDiscarded), Refuse: RefusedAlready, Does: "already discarded"},
	},
}

var stationLife = Lifecycle{
	Thing: "station",
	About: "Whether it can work. A report older than the last change of its condition is refused as superseded.",
	First: "up",
	Moves: []Move{
		{From: "up", On: string(events.StationDown), To: "down"},
		{From: "up", On: string(events.StationUp), Refuse: RefusedAlready, Does: "it is not down"},
		{From: "up", On: onWorkStarted, To: "up"},
		{From: "down", On: string(events.StationDown), To: "down", Does: "changes the reason or the expected end; refused as already down when it changes nothing"},
		{From: "down", On: string(events.StationUp), To: "up"},
		{From: "down", On: onWorkStarted, To: "up", Does: "implies that it is up again; not when the work started before it went down"},
	},
}

var toolHoldLife = Lifecycle{
	Thing: "tool unit, who has it",
	About: "A mandrel or a fixture is held by one piece at a time.",
	First: "free",
	Moves: []Move{
		{From: "free", On: onTaken, To: "held", Does: "the unit reported, else the planned one, else the first free of its pool"},
		{From: "held", On: onTaken, Refuse: RefusedTool, Does: "another piece, or this one, still has it"},
		{From: "held", On: onGiven, To: "free", Does: "usable after its turnaround"},
		{From: "held", On: string(events.PieceScrapped), To: "free", Does: "usable after its turnaround; in a load that runs, after the load's expected end and its turnaround"},
	},
}

var toolUseLife = Lifecycle{
	Thing: "tool unit, whether it is in use",
	About: "A unit can be taken out for repair or a new coat, held or not. A report older than the last change is refused as superseded.",
	First: "in",
	Moves: []Move{
		{From: "in", On: string(events.ToolOut), To: "out"},
		{From: "in", On: string(events.ToolIn), Refuse: RefusedAlready, Does: "it is not out"},
		{From: "out", On: string(events.ToolOut), To: "out", Does: "changes the reason or the expected end; refused as already out when it changes nothing"},
		{From: "out", On: string(events.ToolIn), To: "in"},
		{From: "out", On: onTaken, Refuse: RefusedTool, Does: "report it in first"},
	},
}

var absenceLife = Lifecycle{
	Thing: "people of a crew who are away",
	About: "Known by the event that told of them. It is over when they were expected back, or when somebody says so before.",
	First: stateNone,
	Moves: []Move{
		{From: stateNone, On: string(events.CrewAbsent), To: stateAway},
		{From: stateNone, On: string(events.CrewPresent), Refuse: RefusedAlready, Does: "nobody of the crew is reported away then"},
		{From: stateAway, On: string(events.CrewAbsent), If: ifNamed, To: stateAway, Does: "replaces what was said of them"},
		{From: stateAway, On: string(events.CrewAbsent), To: stateAway, Does: "others of the crew are away too; refused as already away when the report is the same in all but its time"},
		{From: stateAway, On: string(events.CrewPresent), To: stateNone, Does: "the one it names, else all of the crew who are away"},
	},
}

var batchLife = Lifecycle{
	Thing: "mix, load or lot, whether it is on hold",
	About: "Held, it holds every piece it went into; work with it is refused, and the plan makes do without. A mix that fails its weigh check is held by that.",
	First: "open",
	Moves: []Move{
		{From: "open", On: string(events.BatchHeld), To: "held", Does: "with every piece it went into, and their shafts"},
		{From: "open", On: string(events.BatchReleased), Refuse: RefusedNotYet, Does: "it is not on hold"},
		{From: "open", On: onWorkStarted, To: "open"},
		{From: "held", On: string(events.BatchHeld), Refuse: RefusedAlready, Does: "already held"},
		{From: "held", On: string(events.BatchReleased), To: "open", Does: "its pieces go on, unless held for something else"},
		{From: "held", On: onWorkStarted, Refuse: RefusedHeld, Does: "when the report names it; work that is over counts, and the piece is held"},
	},
}

var lineLife = Lifecycle{
	Thing: "order line",
	About: "What a customer wants of one product by one date. A promise keeps the capacity for one until it is confirmed, let go or has expired.",
	First: stateNone,
	Moves: []Move{
		{From: stateNone, On: string(events.OrderAdded), To: "open", Does: "finished pieces in stock are taken, the others made; spare ones as the product's yield and confidence ask"},
		{From: stateNone, On: string(events.OrderChanged), Refuse: RefusedUnknown},
		{From: stateNone, On: string(events.OrderCancelled), Refuse: RefusedUnknown},
		{From: stateNone, On: string(events.PromiseReserved), To: "reserved", Does: "as when an order is added; no work begins before it expires. Refused as stale when an order or another promise came after the state it was computed from"},
		{From: stateNone, On: string(events.PromiseConfirmed), Refuse: RefusedUnknown},
		{From: stateNone, On: string(events.PromiseReleased), Refuse: RefusedUnknown},
		{From: stateNone, On: string(events.PromiseExpired), Refuse: RefusedUnknown},
		{From: "reserved", On: string(events.OrderAdded), Refuse: RefusedExists},
		{From: "reserved", On: string(events.OrderChanged), Refuse: RefusedNotYet, Does: "confirm it first, or let it go"},
		{From: "reserved", On: string(events.OrderCancelled), Refuse: RefusedNotYet, Does: "confirm it first, or let it go"},
		{From: "reserved", On: string(events.PromiseReserved), Refuse: RefusedExists},
		{From: "reserved", On: string(events.PromiseConfirmed), To: "open", Does: "an order with the promised date; refused as too late at or after its expiry"},
		{From: "reserved", On: string(events.PromiseReleased), To: "cancelled", Does: "its capacity is free again"},
		{From: "reserved", On: string(events.PromiseExpired), To: "cancelled", Does: "its capacity is free again; refused before its expiry"},
		{From: "open", On: string(events.OrderAdded), Refuse: RefusedExists},
		{From: "open", On: string(events.OrderChanged), To: "open", Does: "more pieces are made, or pieces that have not begun are dropped; another product only before work has begun"},
		{From: "open", On: string(events.OrderCancelled), To: "cancelled", Does: "pieces that have not begun are dropped"},
		{From: "open", On: string(events.PromiseReserved), Refuse: RefusedExists},
		{From: "open", On: string(events.PromiseConfirmed), Refuse: RefusedAlready, Does: "it is an order"},
		{From: "open", On: string(events.PromiseReleased), Refuse: RefusedAlready, Does: "it is an order: cancel it"},
		{From: "open", On: string(events.PromiseExpired), Refuse: RefusedAlready, Does: "it is an order"},
		{From: "cancelled", On: string(events.OrderAdded), Refuse: RefusedExists, Does: "use a new line"},
		{From: "cancelled", On: string(events.OrderChanged), Refuse: RefusedCancelled},
		{From: "cancelled", On: string(events.OrderCancelled), Refuse: RefusedAlready, Does: "already cancelled"},
		{From: "cancelled", On: string(events.PromiseReserved), Refuse: RefusedExists, Does: "ask under another number"},
		{From: "cancelled", On: string(events.PromiseConfirmed), Refuse: RefusedCancelled, Does: "it was let go or has expired: ask again"},
		{From: "cancelled", On: string(events.PromiseReleased), Refuse: RefusedAlready},
		{From: "cancelled", On: string(events.PromiseExpired), Refuse: RefusedAlready},
	},
}
