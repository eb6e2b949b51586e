// SPDX-License-Identifier: Apache-2.0

package events_test

import (
	"towpath/events"
	"towpath/resources"
	"towpath/resources/quality"
)

// at is 2026-03-02T06:00:00Z; the day is invented like everything here.
const at resources.Tick = 1772431200

// samples holds one event of every kind with every field filled.
func samples() []events.Event {
	floor := func(id string, k events.Kind, station string, data any) events.Event {
		return events.Event{ID: "sample-" + id, Kind: k, Plant: "Demo shop", Station: station, At: at, By: "Shift A", Data: data}
	}
	order := events.OrderData{
		Order: "2601", Line: "1", Customer: "Ferncastle Racing", Product: "TUBE-76", Quantity: 12, ShipBy: at + 864000,
		Due: at + 860000, Weight: 3, Kind: "event", EarliestStart: at + 60, Note: "no stickers, please\nsecond line",
	}
	lots := []events.LotUse{{Material: "tow", Lot: "T-0481"}}
	op := events.OperationData{
		Piece: "2601-1-01", Operation: "wind", Place: 2, Mix: "mix-1", Tools: []string{"M-76-1", "M-76-2"}, Lots: lots, Why: "tow ran out",
	}
	asked := order
	asked.Asked = &events.AskedData{Wish: at + 700000, Plan: 4, PerMille: 912}
	finished, begun := op, op
	finished.Started = at - 1800
	begun.Setup = at - 900
	load := events.LoadData{Load: "cure-7", Mix: "mix-1", Lots: lots, Why: "full", Pieces: []events.LoadItem{
		{Piece: "2601-1-01", Operation: "cure", Tools: []string{"M-76-1"}}, {Piece: "2601-1-02", Operation: "cure"},
	}}
	mix := events.MixData{Mix: "mix-1", Resin: "R2", Grams: 2400, Ingredients: map[string]float64{"base": 1800.5, "hardener": 599.5}, Lots: []events.LotUse{{Material: "hardener", Lot: "H-77"}}, Why: "for 2601"}
	stop := events.StationData{Why: "creel motor", Until: at + 7200}
	tool := events.ToolData{Unit: "M-76-2", Why: "coating worn", Until: at + 86400}
	piece := events.PieceData{Piece: "2601-1-01", Why: "void seen"}
	away := events.AbsentData{Crew: "winders", People: 1, Calendar: "early", From: at + 3600, Until: at + 90000, Why: "ill", Absence: "sample-14"}
	return []events.Event{
		floor("01", events.PlantDeclared, "", events.PlantData{
			File: "name: Demo shop\nzone: Europe/London\n", Adopted: []resources.Adopted{{At: at - 600, Text: "name: a mandrel\nchanges:\n    - tool: {id: M-36, count: 8}\n"}},
		}),
		floor("02", events.OrderAdded, "", asked),
		floor("03", events.OrderChanged, "", order),
		floor("04", events.OrderCancelled, "", events.CancelData{Order: "2601", Line: "1", Why: "car sold"}),
		floor("05", events.OperationStarted, "W1", begun),
		floor("06", events.OperationPaused, "W1", op),
		floor("07", events.OperationResumed, "W1", op),
		floor("08", events.OperationFinished, "W1", finished),
		floor("09", events.LoadClosed, "OV.1", load),
		floor("10", events.LoadStarted, "OV.1", load),
		floor("11", events.LoadFinished, "OV.1", load),
		floor("12", events.MixMade, "mix room", mix),
		floor("13", events.MixDiscarded, "mix room", mix),
		floor("14", events.StationDown, "W1", stop),
		floor("15", events.StationUp, "W1", stop),
		floor("16", events.ToolOut, "", tool),
		floor("17", events.ToolIn, "W1", tool),
		floor("18", events.PieceScrapped, "TEST", piece),
		floor("19", events.PieceHeld, "", piece),
		floor("20", events.PieceReleased, "", piece),
		floor("24", events.BatchHeld, "", events.BatchData{Mix: "mix-1", Why: "wrong hardener"}),
		floor("25", events.BatchReleased, "", events.BatchData{Material: "tow", Lot: "T-0481", Why: "maker's certificate came"}),
		floor("21", events.ResultRecorded, "TEST", events.ResultData{
			Piece: "2601-1-01", Operation: "proof", Gate: "proof", Pass: true, Values: map[string]float64{"torque_nm": 1250, "angle_deg": -3.25}, Why: "second pull",
			Measured: []quality.Measure{{Of: "torque", Unit: "N·m", Values: []float64{0, 400.5, 800}}, {Of: "twist", Unit: "deg", Values: []float64{-0.1, 1.5, 3}}},
			Decision: "hold",
		}),
		floor("22", events.PlanPublished, "", events.PlanData{Version: 4, Base: 812, Gzip: []byte{0x1f, 0x8b, 8, 0}, Parts: []events.PlanPart{{Part: "tardiness", Unit: "s", Value: 7200, Bound: 3600, By: "one piece alone"}}, Asked: &events.PlanAsked{Why: "station.down", Since: 809}, Churn: &events.PlanChurn{Against: 3, Compared: 90, Moved: 4, Station: 1, Near: 3, Frozen: 12, Slipped: 2, Next: []string{"W1"}}}),
		floor("23", events.EventVoided, "", events.VoidData{Event: "sample-05", Why: "wrong serial"}),
		floor("26", events.PromiseReserved, "", events.ReserveData{
			Promise: "P-12", Customer: "Ferncastle Racing", Product: "TUBE-76", Quantity: 6, Wish: at + 700000, ShipBy: at + 864000, Due: at + 860000,
			Weight: 2, Kind: "firm", Expires: at + 1800, Base: 17, Plan: 4, PerMille: 900,
		}),
		floor("27", events.PromiseConfirmed, "", events.PromiseData{Promise: "P-12", Customer: "Ferncastle Racing", Why: "called back"}),
		floor("28", events.PromiseReleased, "", events.PromiseData{Promise: "P-12", Why: "too late for them"}),
		floor("29", events.PromiseExpired, "", events.PromiseData{Promise: "P-12"}),
		floor("30", events.CrewAbsent, "", away),
		floor("31", events.CrewPresent, "W1", events.PresentData{Crew: "winders", Absence: "sample-30", Why: "back at noon"}),
	}
}
