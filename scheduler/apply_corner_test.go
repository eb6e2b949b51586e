// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
)

// Late reports of starts that were only implied may name another mix, other
// tools and another station than were assumed.
func TestLateStartsCorrectWhatWasAssumed(t *testing.T) {
	two := func(t *testing.T) *floor {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.ok("MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A", Grams: 900})
		f.ok("MIX", events.MixMade, 1, events.MixData{Mix: "y", Resin: "A", Grams: 900})
		f.ok("MIX", events.MixMade, 1, events.MixData{Mix: "z", Resin: "Z", Grams: 400})
		return f
	}
	t.Run("one piece", func(t *testing.T) {
		f := two(t)
		f.finish("W1", "A-1-01", "wind", 70)
		require.Equal(t, "x", f.op("A-1-01", "wind").Mix)
		late := events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "y", Place: 1}
		other := late
		other.Mix = "z"
		f.no(scheduler.RefusedMix, "W1", events.OperationStarted, 5, other)
		f.no(scheduler.RefusedContradicts, "W1", events.OperationStarted, 71, late)
		f.no(scheduler.RefusedWrongPlace, "T1", events.OperationStarted, 5, late)
		f.no(scheduler.RefusedInLoad, "W2", events.OperationStarted, 5, late)
		f.ok("W1", events.OperationStarted, 5, late)
		require.Equal(t, "y", f.op("A-1-01", "wind").Mix)
		require.Zero(t, f.s.Mixes["x"].Drawn)
		require.Equal(t, int64(400), f.s.Mixes["y"].Drawn)
		require.Equal(t, mins(5), f.s.Stations["W1"].SetupAt)
	})
	t.Run("a unit that another piece has", func(t *testing.T) {
		f := two(t)
		f.finish("W1", "A-1-01", "wind", 70)
		f.finish("W1", "A-1-02", "wind", 140)
		f.no(scheduler.RefusedTool, "W1", events.OperationStarted, 5, events.OperationData{Piece: "A-1-01", Operation: "wind", Tools: []string{"M-2"}})
	})
	t.Run("a load", func(t *testing.T) {
		f := two(t)
		both := func(tools ...string) events.LoadData {
			return events.LoadData{Load: "L", Mix: "y", Pieces: []events.LoadItem{
				{Piece: "A-1-01", Operation: "wind", Tools: tools}, {Piece: "A-1-02", Operation: "wind"},
			}}
		}
		d := both()
		d.Mix = ""
		f.ok("W2", events.LoadFinished, 65, d)
		require.Equal(t, int64(800), f.s.Mixes["x"].Drawn)
		f.no(scheduler.RefusedContradicts, "W2", events.LoadStarted, 66, both())
		f.no(scheduler.RefusedTool, "W2", events.LoadStarted, 8, both("M-2"))
		f.ok("W2", events.LoadStarted, 8, both("M-3"))
		require.Equal(t, []string{"M-3"}, f.op("A-1-01", "wind").Tools)
		require.Equal(t, int64(800), f.s.Mixes["y"].Drawn)
		require.Zero(t, f.s.Mixes["x"].Drawn)
		require.Equal(t, mins(8), f.op("A-1-02", "wind").Started)
		require.Equal(t, mins(8), f.s.Stations["W2"].SetupAt)
		require.Equal(t, "P", f.s.Stations["W2"].Setup["program"])
	})
}

// A late end corrects a tool's turnaround, unless the tool was used since.
func TestLateEndsAndTools(t *testing.T) {
	guessed := func(t *testing.T) *floor {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.finish("W1", "A-1-01", "wind", 60)
		f.load(events.LoadStarted, "L", 70, "A-1-01")
		f.load(events.LoadFinished, "L", 360)
		f.start("BENCH", "A-1-01", "pull", 400)
		f.start("T1", "A-1-01", "proof", 440)
		require.Equal(t, scheduler.ToolState{Pool: "M", Free: mins(560)}, *f.s.Tools["M-1"])
		return f
	}
	t.Run("not used since", func(t *testing.T) {
		f := guessed(t)
		f.finish("BENCH", "A-1-01", "pull", 425)
		require.Equal(t, scheduler.ToolState{Pool: "M", Free: mins(545)}, *f.s.Tools["M-1"])
	})
	t.Run("in other hands", func(t *testing.T) {
		f := guessed(t)
		f.ok("W1", events.OperationStarted, 570, events.OperationData{Piece: "A-1-02", Operation: "wind", Tools: []string{"M-1"}})
		f.finish("BENCH", "A-1-01", "pull", 425)
		require.Equal(t, "A-1-02", f.s.Tools["M-1"].Holder)
	})
	t.Run("used and given back since", func(t *testing.T) {
		f := guessed(t)
		f.ok("W1", events.OperationStarted, 570, events.OperationData{Piece: "A-1-02", Operation: "wind", Tools: []string{"M-1"}})
		f.ok("", events.PieceScrapped, 580, events.PieceData{Piece: "A-1-02"})
		f.finish("BENCH", "A-1-01", "pull", 425)
		require.Equal(t, scheduler.ToolState{Pool: "M", Free: mins(700)}, *f.s.Tools["M-1"])
	})
}

// What nobody reports is taken from the published plan.
func TestThePlanFillsIn(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.order("L", "LOT", 1)
	f.publish(&scheduler.Plan{
		Version: 1,
		Work: []scheduler.Work{
			{Piece: "A-1-01", Operation: "wind", Station: "W1", Place: 1, Start: mins(0), End: mins(45), Mix: "y"},
			{Piece: "L-1-01", Operation: "make", Station: "BENCH", Place: 2, Start: mins(0), End: mins(10)},
		},
		Loads: []scheduler.Load{{ID: "L", Station: "O1", Start: mins(50), End: mins(350), Members: []scheduler.Member{{Piece: "A-1-01", Operation: "cure"}}}},
		Mixes: []scheduler.Mix{{ID: "y", Resin: "A", Grams: 700}},
	})
	f.ok("MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A", Grams: 900})
	f.no(scheduler.RefusedMalformed, "MIX", events.MixMade, 1, events.MixData{Mix: "q"})
	f.ok("MIX", events.MixMade, 1, events.MixData{Mix: "y"})
	require.Equal(t, int64(700), f.s.Mixes["y"].Grams)

	f.finish("", "A-1-01", "wind", 60)
	o := f.op("A-1-01", "wind")
	require.Equal(t, [3]any{"W1", mins(15), "y"}, [3]any{o.Station, o.Started, o.Mix}, "45 minutes are planned")
	f.start("BENCH", "L-1-01", "make", 5)
	require.Equal(t, 2, f.op("L-1-01", "make").Place)
	f.ok("", events.LoadFinished, 400, events.LoadData{Load: "L"})
	require.Equal(t, "O1", f.s.Loads["L"].Station)
	f.no(scheduler.RefusedMalformed, "", events.StationDown, 410, events.StationData{})
	f.no(scheduler.RefusedAlready, "O1", events.LoadFinished, 410, events.LoadData{Load: "L"})
}

// A plant is not declared away from under work, and what waits is set free.
func TestPlantAroundLoadsAndPlaces(t *testing.T) {
	t.Run("a place that is taken", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 1)
		f.ok("BENCH", events.OperationStarted, 5, events.OperationData{Piece: "L-1-01", Operation: "make", Place: 2})
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 10, redeclared(t, "places: 2", "places: 1"))
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 10, redeclared(t, "BENCH", "TABLE"))
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 10, events.PlantData{File: replaced(t, redeclared(t, "{id: make,", "{id: turn,").File, "[make, crush]", "[turn, crush]")})
		f.finish("BENCH", "L-1-01", "make", 20)
		f.ok("", events.PlantDeclared, 30, redeclared(t, "BENCH", "TABLE"))
		require.Nil(t, f.s.Stations["BENCH"])
		require.Len(t, f.s.Stations["TABLE"].On, 2)
	})
	t.Run("a load", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.order("L", "LOT", 1)
		f.finish("W1", "A-1-01", "wind", 60)
		f.finish("W1", "A-1-02", "wind", 69)
		f.load(events.LoadClosed, "L", 70, "A-1-01")
		notes := f.ok("", events.PlantDeclared, 75, redeclared(t, "O1", "O2"))
		require.True(t, said(notes, "L", "dissolved"), "a closed load is only meant")
		f.ok("", events.PlantDeclared, 76, events.PlantData{File: kilnFile(t)})
		f.load(events.LoadClosed, "K", 77, "A-1-01", "A-1-02")
		notes = f.ok("", events.PlantDeclared, 78, redeclared(t, "{places: 1}", "{places: 3}"))
		require.True(t, said(notes, "K", "do not go together: places of the pieces add up to 6; O1 holds 4"), "%v", notes)
		f.ok("", events.PlantDeclared, 79, events.PlantData{File: kilnFile(t)})
		f.load(events.LoadStarted, "L", 90, "A-1-01")
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 95, redeclared(t, "O1", "O2"))
		f.load(events.LoadFinished, "L", 400)
		f.ok("", events.PlantDeclared, 410, redeclared(t, "O1", "O2"))
		require.Equal(t, "O1", f.op("A-1-01", "cure").Station, "what was done stays as it was")
	})
	t.Run("a resin", func(t *testing.T) {
		f := newFloor(t)
		f.ok("MIX", events.MixMade, 1, events.MixData{Mix: "z", Resin: "Z", Grams: 400})
		notes := f.ok("", events.PlantDeclared, 10, redeclared(t, "id: Z\n", "id: ZZ\n"))
		require.True(t, said(notes, "z", "forgotten"))
	})
	t.Run("a done operation", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 1)
		f.finish("BENCH", "L-1-02", "make", 20)
		f.finish("T1", "L-1-02", "crush", 40)
		d := redeclared(t, "      - {id: crush, stations: T1, run: 10m, per: sample, gate: lot}\n", "")
		d = events.PlantData{File: replaced(t, d.File, "after: [make, crush]", "after: [make]")}
		notes := f.ok("", events.PlantDeclared, 50, d)
		require.True(t, said(notes, "L-1-02", "crush, done, is not part of its routing any more"), "%v", notes)
	})
}
