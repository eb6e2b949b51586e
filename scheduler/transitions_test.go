// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
)

// drill brings one thing of a life cycle into a state, lets something happen
// to it, and reads its state.
type drill struct {
	bring func(f *floor, state string, guessed bool)
	// happen gives the event; given says that the condition of the row holds.
	happen func(f *floor, from, on string, given bool) (station string, kind events.Kind, minute int, data any)
	read   func(f *floor) string
}

// TestEveryMoveOfEveryLifecycle walks each row of the tables that Apply and the
// document share: the event is taken or refused as the row says, and the thing
// is then where the row says.
func TestEveryMoveOfEveryLifecycle(t *testing.T) {
	drills := map[string]drill{
		"operation":                       operationDrill,
		"piece":                           pieceDrill,
		"load":                            loadDrill,
		"mix":                             mixDrill,
		"station":                         stationDrill,
		"tool unit, who has it":           toolHoldDrill,
		"tool unit, whether it is in use": toolUseDrill,
		"people of a crew who are away":   absenceDrill,
		"order line":                      lineDrill,
		"mix, load or lot, whether it is on hold": batchDrill,
	}
	for _, life := range scheduler.Lifecycles() {
		d, ok := drills[life.Thing]
		require.True(t, ok, "no drill for %s", life.Thing)
		for _, m := range life.Moves {
			t.Run(life.Thing+"/"+m.From+"/"+m.On+"/"+m.If, func(t *testing.T) {
				f := newFloor(t)
				f.order("A", "TUBE", 2)
				f.ok("MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A", Grams: 2000})
				d.bring(f, m.From, m.If != "")
				require.Equal(t, m.From, d.read(f))
				station, kind, minute, data := d.happen(f, m.From, m.On, m.If != "")
				if m.Refuse != "" {
					f.no(m.Refuse, station, kind, minute, data)
					require.Equal(t, m.From, d.read(f))
					return
				}
				f.ok(station, kind, minute, data)
				require.Equal(t, m.To, d.read(f))
			})
		}
	}
}

func pieceOp(piece, op string) events.OperationData {
	return events.OperationData{Piece: piece, Operation: op}
}

func statusName(x scheduler.Status) string {
	return [...]string{"planned", "started", "paused", "done"}[x]
}

// operationDrill drills the cure of A-1-01 where loads happen, else its
// winding; then pulling follows winding or curing.
var operationDrill = drill{
	bring: func(f *floor, state string, guessed bool) {
		switch {
		case state == "started":
			f.start("W1", "A-1-01", "wind", 10)
		case state == "paused":
			f.start("W1", "A-1-01", "wind", 10)
			f.ok("W1", events.OperationPaused, 20, pieceOp("A-1-01", "wind"))
		case state == "done" && guessed:
			// The start is guessed here; the end is guessed below.
			f.finish("W1", "A-1-01", "wind", 80)
		case state == "done":
			f.start("W1", "A-1-01", "wind", 10)
			f.finish("W1", "A-1-01", "wind", 70)
		}
	},
	happen: func(f *floor, from, on string, given bool) (string, events.Kind, int, any) {
		wind := pieceOp("A-1-01", "wind")
		winding := events.LoadData{Load: "L", Pieces: []events.LoadItem{{Piece: "A-1-01", Operation: "wind"}}}
		switch kind := events.Kind(on); kind {
		case events.LoadFinished:
			if from == "started" { // in a load, so begin again in one
				f.s = newFloor(f.t).s
				f.n = 1
				f.order("A", "TUBE", 2)
				f.ok("W2", events.LoadStarted, 10, winding)
			}
			return "W2", kind, 100, winding
		case events.LoadStarted:
			return "W2", kind, 100, winding
		case events.OperationFinished:
			if given { // the start of the cure made this end a guess
				f.s = newFloor(f.t).s
				f.n = 1
				f.order("A", "TUBE", 2)
				f.start("W1", "A-1-01", "wind", 10)
				f.load(events.LoadStarted, "L", 90, "A-1-01")
			}
			return "W1", kind, 85, wind
		case events.OperationStarted:
			return "W1", kind, 30, wind
		case "start of a following operation":
			return "O1", events.LoadStarted, 90, cure("L", "A-1-01")
		default:
			return "W1", kind, 60, wind
		}
	},
	read: func(f *floor) string { return statusName(f.op("A-1-01", "wind").Status) },
}

var pieceDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		switch state {
		case "held":
			f.ok("", events.ResultRecorded, 10, events.ResultData{Piece: "A-1-01", Operation: "proof", Gate: "proof"})
		case "scrapped":
			f.ok("", events.PieceScrapped, 10, events.PieceData{Piece: "A-1-01"})
		}
	},
	happen: func(_ *floor, _, on string, _ bool) (string, events.Kind, int, any) {
		switch on {
		case "result.recorded, failed":
			return "T1", events.ResultRecorded, 20, events.ResultData{Piece: "A-1-01", Operation: "proof", Gate: "proof"}
		case "result.recorded, passed":
			return "T1", events.ResultRecorded, 20, events.ResultData{Piece: "A-1-01", Operation: "proof", Gate: "proof", Pass: true}
		}
		return "", events.Kind(on), 20, events.PieceData{Piece: "A-1-01"}
	},
	read: func(f *floor) string {
		switch p := f.s.Pieces["A-1-01"]; {
		case p.Scrapped:
			return "scrapped"
		case p.Held:
			return "held"
		}
		return "open"
	},
}

var loadDrill = drill{
	bring: func(f *floor, state string, guessed bool) {
		f.start("W1", "A-1-01", "wind", 10)
		f.finish("W1", "A-1-01", "wind", 70)
		switch {
		case state == "closed":
			f.load(events.LoadClosed, "L", 80, "A-1-01")
		case state == "started":
			f.load(events.LoadStarted, "L", 80, "A-1-01")
		case state == "done" && guessed:
			f.load(events.LoadFinished, "L", 400, "A-1-01")
		case state == "done":
			f.load(events.LoadStarted, "L", 80, "A-1-01")
			f.load(events.LoadFinished, "L", 400)
		}
	},
	happen: func(_ *floor, _, on string, given bool) (string, events.Kind, int, any) {
		kind, d := events.Kind(on), cure("L")
		if given || kind == events.LoadClosed {
			d = cure("L", "A-1-01")
		}
		return "O1", kind, 380, d
	},
	read: func(f *floor) string {
		run := f.s.Loads["L"]
		if run == nil {
			return "not known"
		}
		return [...]string{"closed", "started", "paused", "done"}[run.Status]
	},
}

var mixDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		if state != "not known" {
			f.ok("MIX", events.MixMade, 5, events.MixData{Mix: "y", Resin: "A", Grams: 1000})
		}
		if state == "discarded" {
			f.ok("MIX", events.MixDiscarded, 15, events.MixData{Mix: "y"})
		}
	},
	happen: func(_ *floor, _, on string, _ bool) (string, events.Kind, int, any) {
		if on == "start of work" {
			return "W1", events.OperationStarted, 30, events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "y"}
		}
		return "MIX", events.Kind(on), 30, events.MixData{Mix: "y", Resin: "A", Grams: 1000}
	},
	read: func(f *floor) string {
		switch m := f.s.Mixes["y"]; {
		case m == nil:
			return "not known"
		case m.Discarded:
			return "discarded"
		}
		return "made"
	},
}

var batchDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		if state == "held" {
			f.ok("", events.BatchHeld, 5, events.BatchData{Mix: "x", Why: "colour"})
		}
	},
	happen: func(_ *floor, _, on string, _ bool) (string, events.Kind, int, any) {
		if on == "start of work" {
			return "W1", events.OperationStarted, 30, events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "x"}
		}
		return "", events.Kind(on), 30, events.BatchData{Mix: "x"}
	},
	read: func(f *floor) string {
		if f.s.OnHold("mix/x") {
			return "held"
		}
		return "open"
	},
}

var stationDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		if state == "down" {
			f.ok("W1", events.StationDown, 10, events.StationData{Why: "belt"})
		}
	},
	happen: func(_ *floor, _, on string, _ bool) (string, events.Kind, int, any) {
		if on == "start of work" {
			return "W1", events.OperationStarted, 30, pieceOp("A-1-01", "wind")
		}
		return "W1", events.Kind(on), 30, events.StationData{Why: "belt", Until: mins(90)}
	},
	read: func(f *floor) string {
		if f.s.Stations["W1"].Down {
			return "down"
		}
		return "up"
	},
}

var toolHoldDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		if state == "held" {
			f.ok("W1", events.OperationStarted, 10, events.OperationData{Piece: "A-1-01", Operation: "wind", Tools: []string{"M-1"}})
		}
	},
	happen: func(f *floor, from, on string, _ bool) (string, events.Kind, int, any) {
		switch on {
		case string(events.PieceScrapped):
			return "", events.PieceScrapped, 30, events.PieceData{Piece: "A-1-01"}
		case "end of the operation that gives it back":
			f.finish("W1", "A-1-01", "wind", 70)
			f.load(events.LoadStarted, "L", 80, "A-1-01")
			f.load(events.LoadFinished, "L", 400)
			return "BENCH", events.OperationFinished, 500, pieceOp("A-1-01", "pull")
		}
		if from == "held" {
			f.finish("W1", "A-1-01", "wind", 70)
			return "W1", events.OperationStarted, 80, events.OperationData{Piece: "A-1-02", Operation: "wind", Tools: []string{"M-1"}}
		}
		return "W1", events.OperationStarted, 80, events.OperationData{Piece: "A-1-01", Operation: "wind", Tools: []string{"M-1"}}
	},
	read: func(f *floor) string {
		if f.s.Tools["M-1"].Holder != "" {
			return "held"
		}
		return "free"
	},
}

var toolUseDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		if state == "out" {
			f.ok("", events.ToolOut, 10, events.ToolData{Unit: "M-1", Why: "new coat"})
		}
	},
	happen: func(_ *floor, _, on string, _ bool) (string, events.Kind, int, any) {
		if on == "start of the operation that takes it" {
			return "W1", events.OperationStarted, 30, events.OperationData{Piece: "A-1-01", Operation: "wind", Tools: []string{"M-1"}}
		}
		return "", events.Kind(on), 30, events.ToolData{Unit: "M-1", Until: mins(90)}
	},
	read: func(f *floor) string {
		if f.s.Tools["M-1"].Out {
			return "out"
		}
		return "in"
	},
}

var absenceDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		if state == "away" {
			f.ok("", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 1, Until: mins(600)})
		}
	},
	happen: func(f *floor, _, on string, met bool) (string, events.Kind, int, any) {
		if on == string(events.CrewPresent) {
			return "", events.CrewPresent, 30, events.PresentData{Crew: "all"}
		}
		d := events.AbsentData{Crew: "all", People: 2, Until: mins(90)}
		if met {
			d.Absence = keys(f.s.Absences)[0]
		}
		return "", events.CrewAbsent, 30, d
	},
	read: func(f *floor) string {
		if len(f.s.Absences) > 0 {
			return "away"
		}
		return "not known"
	},
}

var lineDrill = drill{
	bring: func(f *floor, state string, _ bool) {
		if state == "reserved" {
			f.ok("", events.PromiseReserved, 5, reserve(30))
			return
		}
		if state != "not known" {
			f.order("B", "LOT", 2)
		}
		if state == "cancelled" {
			f.ok("", events.OrderCancelled, 10, events.CancelData{Order: "B", Line: "1"})
		}
	},
	happen: func(_ *floor, _, on string, _ bool) (string, events.Kind, int, any) {
		switch kind := events.Kind(on); kind {
		case events.OrderCancelled:
			return "", kind, 20, events.CancelData{Order: "B", Line: "1"}
		case events.PromiseReserved:
			return "", kind, 20, reserve(60)
		case events.PromiseConfirmed, events.PromiseReleased:
			return "", kind, 20, events.PromiseData{Promise: "B"}
		case events.PromiseExpired:
			return "", kind, 30, events.PromiseData{Promise: "B"}
		}
		return "", events.Kind(on), 20, ordered("B", "LOT", 3)
	},
	read: func(f *floor) string {
		switch l := f.s.Lines["B/1"]; {
		case l == nil:
			return "not known"
		case l.Cancelled:
			return "cancelled"
		case l.Promise != nil && l.Promise.Status == scheduler.Reserved:
			return "reserved"
		}
		return "open"
	},
}

// reserve is a promise as number B that expires so many minutes after the
// beginning.
func reserve(until int) events.ReserveData {
	return events.ReserveData{Promise: "B", Product: "LOT", Quantity: 2, ShipBy: mins(9000), Kind: "firm", Expires: mins(until), Base: 1 << 40}
}
