// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources/quality"
	"towpath/scheduler"
)

// size is a result of the gate of product RULED.
func size(piece string, mm float64) events.ResultData {
	return events.ResultData{Piece: piece, Operation: "look", Gate: "size", Measured: []quality.Measure{{Of: "length", Unit: "mm", Values: []float64{mm}}}}
}

// looked is a floor with a piece of RULED that has been looked at.
func looked(t *testing.T) *floor {
	f := newFloor(t)
	f.order("R", "RULED", 1)
	f.look("R-1-01", 0)
	return f
}

func (f *floor) look(piece string, from int) {
	f.t.Helper()
	if f.op(piece, "turn").Status != scheduler.Done {
		f.finish("BENCH", piece, "turn", from+10)
	}
	f.finish("BENCH", piece, "polish", from+20)
	f.finish("T1", piece, "look", from+30)
}

func (f *floor) result(piece string) scheduler.Result {
	all := f.s.Pieces[piece].Results
	return all[len(all)-1]
}

func TestRulePassesWhatIsWithinLimits(t *testing.T) {
	f := looked(t)
	notes := f.ok("T1", events.ResultRecorded, 31, size("R-1-01", 100.2))
	require.True(t, said(notes, "R-1-01", "size passed: length 100.2 mm"), "%v", notes)
	require.True(t, f.op("R-1-01", "look").Passed)
	r := f.result("R-1-01")
	require.Equal(t, quality.Pass, r.Decision)
	require.Equal(t, []quality.Value{{Of: "length", Unit: "mm", Value: 100.2}}, r.Values)
	require.Equal(t, "ann", r.By)
	require.Equal(t, "e6", r.Event)
}

// A station that the plant does not have has nothing to tell.
func TestFactsComeFromStationsOfThePlant(t *testing.T) {
	f := looked(t)
	for kind, data := range map[events.Kind]any{
		events.MixMade:        events.MixData{Mix: "x", Resin: "A", Grams: 900},
		events.PieceHeld:      events.PieceData{Piece: "R-1-01", Why: "look again"},
		events.PieceScrapped:  events.PieceData{Piece: "R-1-01", Why: "dropped"},
		events.ResultRecorded: size("R-1-01", 100.2),
	} {
		r := f.no(scheduler.RefusedUnknown, "NOSUCH", kind, 31, data)
		require.ErrorContains(t, r, "station NOSUCH: the plant has no such station; check the name")
	}
	f.ok("", events.PieceHeld, 31, events.PieceData{Piece: "R-1-01", Why: "look again"})
}

// Failing without measuring is a person's word, and has a reason.
func TestFailureWithoutMeasuringHasAReason(t *testing.T) {
	f := looked(t)
	d := events.ResultData{Piece: "R-1-01", Operation: "look", Gate: "size"}
	r := f.no(scheduler.RefusedMalformed, "T1", events.ResultRecorded, 31, d)
	require.ErrorContains(t, r, "measure length in mm; or say why it fails without")
	d.Why = " "
	f.no(scheduler.RefusedMalformed, "T1", events.ResultRecorded, 31, d)
	d.Why = "burst under load"
	f.ok("T1", events.ResultRecorded, 31, d)
	require.True(t, f.op("R-1-01", "look").Reworks == 1)
}

// Twice back to the polish, then scrap and another piece at once.
func TestRuleSendsBackThenRemakes(t *testing.T) {
	f := looked(t)
	for n, from := range []int{0, 100} {
		notes := f.ok("T1", events.ResultRecorded, from+31, size("R-1-01", 101.5))
		require.True(t, said(notes, "R-1-01", "size failed: length is 101.5 mm, at most 101, back to polish"), "%v", notes)
		require.Equal(t, scheduler.Planned, f.op("R-1-01", "polish").Status)
		require.Equal(t, scheduler.Done, f.op("R-1-01", "turn").Status)
		require.Equal(t, n+1, f.op("R-1-01", "look").Reworks)
		require.Len(t, f.s.Pieces["R-1-01"].Earlier, 2*(n+1))
		require.False(t, f.s.Pieces["R-1-01"].Held)
		// A late report of the first time does not count for the second.
		f.no(scheduler.RefusedSuperseded, "T1", events.OperationFinished, from+30, events.OperationData{Piece: "R-1-01", Operation: "look"})
		f.no(scheduler.RefusedSuperseded, "BENCH", events.OperationStarted, from+12, events.OperationData{Piece: "R-1-01", Operation: "polish"})
		f.look("R-1-01", from+100)
	}
	f.ok("T1", events.ResultRecorded, 231, size("R-1-01", 98))
	require.True(t, f.s.Pieces["R-1-01"].Scrapped)
	require.NotNil(t, f.s.Pieces["R-1-01R1"], "another is planned at once")
	require.Equal(t, quality.Remake, f.result("R-1-01").Decision)
	problem, err := scheduler.Compile(f.s, mins(300))
	require.NoError(t, err)
	require.EqualValues(t, 100_000-4_000, problem.Stocks[0].Steps[0].Cap, "one turn and three polishes; nothing is given back")
}

func TestReworkNeedsThatNothingBehindHasBegun(t *testing.T) {
	f := looked(t)
	f.finish("BENCH", "R-1-01", "wrap", 40)
	f.ok("T1", events.ResultRecorded, 50, size("R-1-01", 98))
	p := f.s.Pieces["R-1-01"]
	require.True(t, p.Held)
	require.Contains(t, p.Why, "it cannot go back: wrap of R-1-01 has begun")
	require.Equal(t, quality.Rework, f.result("R-1-01").Ruled)
}

func TestAPersonDecidesInPlaceOfTheRule(t *testing.T) {
	f := looked(t)
	d := size("R-1-01", 98)
	d.Decision = "pass"
	f.no(scheduler.RefusedMalformed, "T1", events.ResultRecorded, 31, d) // no reason
	d.Why = "drawing allows 97 on this order"
	f.ok("T1", events.ResultRecorded, 31, d)
	r := f.result("R-1-01")
	require.Equal(t, quality.Pass, r.Decision)
	require.Equal(t, quality.Rework, r.Ruled)
	require.True(t, f.op("R-1-01", "look").Passed)
	f.no(scheduler.RefusedSuperseded, "T1", events.ResultRecorded, 30, size("R-1-01", 98))
	d.Decision, d.Why = "hold", "second thoughts"
	f.ok("T1", events.ResultRecorded, 40, d)
	require.True(t, f.s.Pieces["R-1-01"].Held)
	d.Decision, d.Why = "remake", "scratched too"
	f.ok("T1", events.ResultRecorded, 41, d)
	require.True(t, f.s.Pieces["R-1-01"].Scrapped)
}

func TestResultsThatCannotBeChangeNothing(t *testing.T) {
	f := looked(t)
	bad := func(reason scheduler.Reason, d events.ResultData, want string) {
		t.Helper()
		r := f.no(reason, "T1", events.ResultRecorded, 31, d)
		require.Contains(t, r.Error(), want)
	}
	d := size("R-1-01", 100)
	d.Measured[0].Unit = "g"
	bad(scheduler.RefusedMalformed, d, `length in "g": the unit must be one of mm`)
	d.Measured[0] = quality.Measure{Of: "width", Unit: "mm", Values: []float64{3}}
	bad(scheduler.RefusedMalformed, d, "width is not measured here; wanted: length; length is missing")
	bad(scheduler.RefusedUnknown, size("R-9-09", 100), "no such piece")
	bad(scheduler.RefusedMalformed, events.ResultData{Piece: "R-1-01", Operation: "look", Gate: "size", Pass: true}, "measure length in mm")
	mix := events.MixData{Mix: "m", Resin: "A", Grams: 1000, Ingredients: map[string]float64{"resin": 800}}
	r := f.no(scheduler.RefusedMalformed, "MIX", events.MixMade, 31, mix)
	require.Contains(t, r.Error(), "the weight of hardener is missing")
	mix.Ingredients["hardener"], mix.Ingredients["water"] = 200, 1
	r = f.no(scheduler.RefusedMalformed, "MIX", events.MixMade, 31, mix)
	require.Contains(t, r.Error(), "water does not belong in A")
	mix.Ingredients = map[string]float64{"resin": 1000, "hardener": -1}
	f.no(scheduler.RefusedMalformed, "MIX", events.MixMade, 31, mix)
}

// A mix found bad holds every tube wound from it, and their shafts; the plan
// draws no more from it; a person lets one go, then the rest.
func TestABadMixHoldsEverythingMadeFromIt(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 3)
	f.ok("MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A", Grams: 1500, Lots: []events.LotUse{{Material: "hardener", Lot: "H-7"}}})
	for i, piece := range []string{"A-1-01", "A-1-02"} {
		f.ok("W1", events.OperationStarted, 1+i, events.OperationData{Piece: piece, Operation: "wind", Mix: "x", Lots: []events.LotUse{{Material: "tow", Lot: "T-1"}}})
		f.finish("W1", piece, "wind", 2+i)
	}
	notes := f.ok("", events.BatchHeld, 10, events.BatchData{Mix: "x", Why: "gelled early"})
	require.True(t, said(notes, "mix x", "2 pieces wait"), "%v", notes)
	require.True(t, f.s.Pieces["A-1-01"].Held)
	require.Equal(t, "mix x is on hold: gelled early", f.s.Pieces["A-1-02"].Why)
	f.no(scheduler.RefusedHeld, "W1", events.OperationStarted, 12, events.OperationData{Piece: "A-1-03", Operation: "wind", Mix: "x"})
	p, err := scheduler.Compile(f.s, mins(12))
	require.NoError(t, err)
	require.Empty(t, p.Mixes, "nobody plans with it")
	f.ok("W1", events.OperationFinished, 13, events.OperationData{Piece: "A-1-03", Operation: "wind", Mix: "x", Started: mins(5)})
	require.True(t, f.s.Pieces["A-1-03"].Held, "wound from it before anybody knew")

	f.ok("", events.PieceReleased, 20, events.PieceData{Piece: "A-1-01", Why: "tested"})
	require.False(t, f.s.Pieces["A-1-01"].Held)
	require.True(t, f.s.OnHold("mix/x"))
	f.ok("", events.PieceHeld, 21, events.PieceData{Piece: "A-1-02"})
	f.ok("", events.BatchReleased, 30, events.BatchData{Mix: "x", Why: "certificate came"})
	require.True(t, f.s.Pieces["A-1-02"].Held, "held for something else too")
	require.False(t, f.s.Pieces["A-1-03"].Held)

	f.ok("", events.BatchHeld, 40, events.BatchData{Material: "hardener", Lot: "H-7"})
	require.True(t, f.s.Pieces["A-1-03"].Held, "the lot went into its mix")
	f.ok("", events.BatchReleased, 41, events.BatchData{Material: "hardener", Lot: "H-7"})
	f.load(events.LoadStarted, "L", 50, "A-1-03")
	f.ok("", events.BatchHeld, 60, events.BatchData{Load: "L", Why: "sensor out"})
	require.True(t, f.s.Pieces["A-1-03"].Held)
	f.load(events.LoadFinished, "L", 300)
	f.no(scheduler.RefusedUnknown, "", events.BatchHeld, 310, events.BatchData{Load: "K"})
	f.no(scheduler.RefusedUnknown, "", events.BatchHeld, 310, events.BatchData{Material: "sand", Lot: "1"})
}

// A mix out of its weigh tolerance is on hold until a person lets it go.
func TestWeighCheckHoldsTheMix(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.ok("MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A", Grams: 1000, Ingredients: map[string]float64{"resin": 830, "hardener": 170}})
	require.True(t, f.s.OnHold("mix/x"))
	require.False(t, f.s.Mixes["x"].Weighed)
	start := events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "x"}
	r := f.no(scheduler.RefusedHeld, "W1", events.OperationStarted, 5, start)
	require.Contains(t, r.Error(), "weigh check")
	f.ok("", events.BatchReleased, 6, events.BatchData{Mix: "x", Why: "scale was off, weighed again"})
	f.ok("W1", events.OperationStarted, 7, start)
	f.ok("MIX", events.MixMade, 8, events.MixData{Mix: "y", Resin: "A", Grams: 1000, Ingredients: map[string]float64{"resin": 801, "hardener": 199}})
	require.True(t, f.s.Mixes["y"].Weighed)
}

// When a changeover began is kept with the work it was for, and not with the
// same work done again.
func TestChangeoverIsKeptWithItsWork(t *testing.T) {
	f := newFloor(t)
	f.order("R", "RULED", 1)
	f.ok("BENCH", events.OperationStarted, 10, events.OperationData{Piece: "R-1-01", Operation: "turn", Setup: mins(4)})
	require.Equal(t, mins(4), f.op("R-1-01", "turn").SetupFrom)
	f.finish("BENCH", "R-1-01", "turn", 20)
	f.ok("BENCH", events.OperationFinished, 30, events.OperationData{Piece: "R-1-01", Operation: "polish", Started: mins(25), Setup: mins(22)})
	require.Equal(t, mins(22), f.op("R-1-01", "polish").SetupFrom)
	f.finish("T1", "R-1-01", "look", 40)
	f.ok("T1", events.ResultRecorded, 41, size("R-1-01", 101.5))
	require.Equal(t, scheduler.Planned, f.op("R-1-01", "polish").Status)
	require.Zero(t, f.op("R-1-01", "polish").SetupFrom)
}
