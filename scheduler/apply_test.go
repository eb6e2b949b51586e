// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// said tells whether a note about something holds a text.
func said(notes []scheduler.Note, about, text string) bool {
	for _, n := range notes {
		if n.About == about && strings.Contains(n.Text, text) {
			return true
		}
	}
	return false
}

func TestSecondOperatorIsTold(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.start("W1", "A-1-01", "wind", 12)
	r := f.no(scheduler.RefusedAlready, "W1", events.OperationStarted, 13, pieceOp("A-1-01", "wind"))
	require.Equal(t, "piece A-1-01: wind was already started by ann on W1 at Mon 2 Mar 07:12; nothing to do; if that report is wrong, void it", r.Error())
	f.finish("W1", "A-1-01", "wind", 72)
	r = f.no(scheduler.RefusedAlready, "W1", events.OperationFinished, 73, pieceOp("A-1-01", "wind"))
	require.Contains(t, r.Error(), "already finished, reported by ann at Mon 2 Mar 08:12")
}

func TestSameEventCountsOnce(t *testing.T) {
	f := newFloor(t)
	e := f.event("", events.OrderAdded, 0, ordered("A", "TUBE", 1))
	_, err := f.s.Apply(e)
	require.NoError(t, err)
	before := f.s.Hash()
	for _, seq := range []uint64{0, e.Seq, e.Seq + 1} {
		again := e
		again.Seq = seq
		_, err = f.s.Apply(again)
		var r *scheduler.Refusal
		require.ErrorAs(t, err, &r)
		require.Equal(t, scheduler.RefusedRepeated, r.Reason)
		require.Equal(t, before, f.s.Hash())
	}
	old := f.event("", events.OrderAdded, 0, ordered("B", "TUBE", 1))
	old.Seq = e.Seq // another event in a place of the log that was applied
	_, err = f.s.Apply(old)
	require.Error(t, err)
}

func TestMalformedEvents(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	for name, e := range map[string]events.Event{
		"no ID":        {Kind: events.StationDown, Station: "W1", At: six, Data: events.StationData{}},
		"no time":      {ID: "x", Kind: events.StationDown, Station: "W1", Data: events.StationData{}},
		"far time":     {ID: "x", Kind: events.StationDown, Station: "W1", At: 1 << 60, Data: events.StationData{}},
		"no payload":   {ID: "x", Kind: events.StationDown, Station: "W1", At: six},
		"other":        {ID: "x", Kind: events.StationDown, Station: "W1", At: six, Data: events.PieceData{}},
		"pointer":      {ID: "x", Kind: events.StationDown, Station: "W1", At: six, Data: &events.StationData{}},
		"unknown kind": {ID: "x", Kind: "station.gone", Station: "W1", At: six, Data: events.StationData{}},
		"no kind":      {ID: "x", At: six},
		"void of what": {ID: "x", Kind: events.EventVoided, At: six, Data: events.StationData{}},
	} {
		before := f.s.Hash()
		_, err := f.s.Apply(e)
		var r *scheduler.Refusal
		require.ErrorAs(t, err, &r, name)
		require.Equal(t, scheduler.RefusedMalformed, r.Reason, name)
		require.Equal(t, before, f.s.Hash(), name)
	}
}

func TestNothingBeforeThePlant(t *testing.T) {
	s := scheduler.NewState(nil)
	_, err := s.Apply(events.Event{ID: "x", Kind: events.OrderAdded, At: six, Data: ordered("A", "TUBE", 1)})
	require.ErrorContains(t, err, "there is no plant yet; declare the plant first")
}

func TestTooFarAhead(t *testing.T) {
	require.False(t, scheduler.TooFarAhead(events.Event{At: six + 300}, six))
	require.True(t, scheduler.TooFarAhead(events.Event{At: six + 301}, six))
	require.False(t, scheduler.TooFarAhead(events.Event{At: six - 86400}, six))
}

// A clock that has lost its date does not put work where no plan can be checked.
func TestTooLongAgo(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	const year = 366 * 24 * 60
	r := f.no(scheduler.RefusedMalformed, "W1", events.OperationStarted, -year-1, pieceOp("A-1-01", "wind"))
	require.ErrorContains(t, r, "more than a year before the newest report; set the clock")
	f.no(scheduler.RefusedMalformed, "W1", events.StationDown, -25*year, events.StationData{})
	f.ok("W1", events.OperationStarted, -year/2, pieceOp("A-1-01", "wind"))
}

func TestFinishWithoutStart(t *testing.T) {
	t.Run("estimated", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		notes := f.finish("W1", "A-1-01", "wind", 100)
		o := f.op("A-1-01", "wind")
		require.Equal(t, scheduler.Done, o.Status)
		require.Equal(t, mins(40), o.Started, "60 minutes of winding before")
		require.True(t, o.StartGuessed)
		require.Equal(t, []string{"M-1"}, o.Tools)
		require.Equal(t, "A-1-01", f.s.Tools["M-1"].Holder)
		require.True(t, said(notes, "A-1-01", "only its end was reported"))
	})
	t.Run("as reported", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.ok("W1", events.OperationFinished, 100, events.OperationData{Piece: "A-1-01", Operation: "wind", Started: mins(25)})
		o := f.op("A-1-01", "wind")
		require.Equal(t, mins(25), o.Started)
		require.False(t, o.StartGuessed)
		f.no(scheduler.RefusedAlready, "W1", events.OperationStarted, 30, pieceOp("A-1-01", "wind"))
	})
	t.Run("not after its end", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.no(scheduler.RefusedContradicts, "W1", events.OperationFinished, 100, events.OperationData{Piece: "A-1-01", Operation: "wind", Started: mins(101)})
	})
	t.Run("not before the same piece was free", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 1)
		f.start("BENCH", "L-1-02", "make", 10)
		f.finish("BENCH", "L-1-02", "make", 55)
		f.finish("T1", "L-1-02", "crush", 58) // takes 10 minutes
		require.Equal(t, mins(55), f.op("L-1-02", "crush").Started)
	})
	t.Run("while another piece has the station by now", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.start("W1", "A-1-02", "wind", 110)
		f.finish("W1", "A-1-01", "wind", 100)
		require.Equal(t, "A-1-02", f.s.Stations["W1"].On[0].Piece)
		require.Equal(t, mins(110), f.s.Stations["W1"].SetupAt, "what started last sets it up")
	})
}

// Reports of one piece that arrive in another order end in the same state.
func TestOutOfOrderReportsConverge(t *testing.T) {
	type report struct {
		station string
		kind    events.Kind
		minute  int
		data    any
	}
	mixed := events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "x", Tools: []string{"M-2"}}
	reports := []report{
		{"W1", events.OperationStarted, 10, mixed},
		{"W1", events.OperationFinished, 75, pieceOp("A-1-01", "wind")},
		{"O1", events.LoadStarted, 90, cure("L", "A-1-01")},
		{"O1", events.LoadFinished, 360, cure("L", "A-1-01")},
		{"BENCH", events.OperationStarted, 400, pieceOp("A-1-01", "pull")},
		{"BENCH", events.OperationFinished, 425, pieceOp("A-1-01", "pull")},
	}
	run := func(order ...int) string {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.ok("MIX", events.MixMade, 5, events.MixData{Mix: "x", Resin: "A", Grams: 1500})
		for _, i := range order {
			r := reports[i]
			e := f.event(r.station, r.kind, r.minute, r.data)
			e.ID = string(rune('a' + i))
			_, err := f.s.Apply(e)
			require.NoError(t, err, "%v: %d", order, i)
			f.sound()
		}
		return f.s.Facts()
	}
	want := run(0, 1, 2, 3, 4, 5)
	for _, order := range [][]int{
		{1, 0, 2, 3, 4, 5}, // end before start
		{0, 2, 1, 3, 4, 5}, // the load started before the winding ended
		{1, 3, 0, 2, 5, 4}, // ends only, then starts
		{0, 1, 3, 5, 4, 2},
		{0, 2, 3, 1, 4, 5},
	} {
		require.Equal(t, want, run(order...), "%v", order)
	}
}

func TestPredecessors(t *testing.T) {
	t.Run("not reported at all", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		r := f.no(scheduler.RefusedMissing, "BENCH", events.OperationStarted, 10, pieceOp("A-1-01", "pull"))
		require.Equal(t, "piece A-1-01: pull cannot start: cure has not been reported finished; report that first", r.Error())
	})
	t.Run("running in a load", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.finish("W1", "A-1-01", "wind", 70)
		f.load(events.LoadStarted, "L", 80, "A-1-01")
		r := f.no(scheduler.RefusedMissing, "BENCH", events.OperationStarted, 400, pieceOp("A-1-01", "pull"))
		require.Contains(t, r.Error(), "report load L finished first")
	})
	t.Run("running on the same piece", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 1)
		f.start("BENCH", "L-1-02", "make", 10)
		notes := f.start("T1", "L-1-02", "crush", 30)
		o := f.op("L-1-02", "make")
		require.Equal(t, scheduler.Done, o.Status)
		require.Equal(t, mins(30), o.Ended)
		require.True(t, o.EndGuessed)
		require.True(t, said(notes, "L-1-02", "make taken to be finished"))
		require.Empty(t, f.s.Stations["BENCH"].On[0], "its place is free")
		f.finish("BENCH", "L-1-02", "make", 22)
		require.Equal(t, mins(22), f.op("L-1-02", "make").Ended)
		f.no(scheduler.RefusedAlready, "BENCH", events.OperationFinished, 23, pieceOp("L-1-02", "make"))
	})
	t.Run("started later than this", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 1)
		f.start("BENCH", "L-1-02", "make", 10)
		f.no(scheduler.RefusedContradicts, "T1", events.OperationStarted, 9, pieceOp("L-1-02", "crush"))
	})
	t.Run("the sample of the lot", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 1)
		f.finish("BENCH", "L-1-01", "make", 10)
		r := f.no(scheduler.RefusedMissing, "BENCH", events.OperationStarted, 30, pieceOp("L-1-01", "ship"))
		require.Contains(t, r.Error(), "crush of L-1-02")
		f.finish("BENCH", "L-1-02", "make", 20)
		f.finish("T1", "L-1-02", "crush", 40)
		f.start("BENCH", "L-1-01", "ship", 50)
	})
	t.Run("the tube of a shaft", func(t *testing.T) {
		f := newFloor(t)
		f.order("P", "PAIR", 2)
		f.finish("W1", "P-1-01", "wind", 70)
		f.finish("BENCH", "P-1-01", "cut", 100)
		r := f.no(scheduler.RefusedMissing, "BENCH", events.OperationStarted, 110, pieceOp("P-1-01.2", "bond"))
		require.Contains(t, r.Error(), "ring of P-1-01")
		f.finish("T1", "P-1-01", "ring", 120)
		f.start("BENCH", "P-1-01.2", "bond", 130)
	})
	t.Run("waits that were not kept are noted", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.finish("W1", "A-1-01", "wind", 60)
		notes := f.load(events.LoadStarted, "L", 60+200, "A-1-01")
		require.True(t, said(notes, "A-1-01", "cure started 3 h 20 min after wind of A-1-01; at most 3 h are allowed"), "%v", notes)
		f.load(events.LoadFinished, "L", 500)
		notes = f.start("BENCH", "A-1-01", "pull", 510)
		require.True(t, said(notes, "A-1-01", "pull started 10 min after cure of A-1-01; at least 30 min are asked"), "%v", notes)
		notes = f.start("T1", "A-1-01", "proof", 520)
		require.True(t, said(notes, "A-1-01", "taken to be finished"))
	})
}

func TestPlaces(t *testing.T) {
	f := newFloor(t)
	f.order("L", "LOT", 3)
	f.start("BENCH", "L-1-01", "make", 10)
	require.Equal(t, 1, f.op("L-1-01", "make").Place)
	f.ok("BENCH", events.OperationStarted, 11, events.OperationData{Piece: "L-1-02", Operation: "make", Place: 2})
	r := f.no(scheduler.RefusedOccupied, "BENCH", events.OperationStarted, 12, pieceOp("L-1-03", "make"))
	require.Contains(t, r.Error(), "still has L-1-01 make; report that finished first")
	f.no(scheduler.RefusedOccupied, "BENCH", events.OperationStarted, 12, events.OperationData{Piece: "L-1-03", Operation: "make", Place: 2})
	f.no(scheduler.RefusedWrongPlace, "BENCH", events.OperationStarted, 12, events.OperationData{Piece: "L-1-03", Operation: "make", Place: 3})
	f.ok("BENCH", events.OperationPaused, 13, pieceOp("L-1-02", "make"))
	f.no(scheduler.RefusedOccupied, "BENCH", events.OperationStarted, 14, pieceOp("L-1-03", "make"))
	f.finish("BENCH", "L-1-01", "make", 15)
	f.start("BENCH", "L-1-03", "make", 16)
	require.Equal(t, 1, f.op("L-1-03", "make").Place)
}

func TestStationsOfReports(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.no(scheduler.RefusedUnknown, "W9", events.OperationStarted, 10, pieceOp("A-1-01", "wind"))
	f.no(scheduler.RefusedWrongPlace, "BENCH", events.OperationStarted, 10, pieceOp("A-1-01", "wind"))
	f.no(scheduler.RefusedMalformed, "", events.OperationStarted, 10, pieceOp("A-1-01", "wind"))
	f.no(scheduler.RefusedInLoad, "W2", events.OperationStarted, 10, pieceOp("A-1-01", "wind"))
	f.no(scheduler.RefusedUnknown, "W1", events.OperationStarted, 10, pieceOp("A-1-02", "wind"))
	f.no(scheduler.RefusedUnknown, "W1", events.OperationStarted, 10, pieceOp("A-1-01", "paint"))
	f.start("W1", "A-1-01", "wind", 10)
	f.no(scheduler.RefusedWrongPlace, "W2", events.OperationFinished, 70, pieceOp("A-1-01", "wind"))
	require.Equal(t, map[string]string{"program": "P", "resin": "A"}, f.s.Stations["W1"].Setup)
}

func TestPauses(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.start("W1", "A-1-01", "wind", 10)
	notes := f.ok("W1", events.OperationPaused, 20, pieceOp("A-1-01", "wind"))
	require.True(t, said(notes, "A-1-01", "though it should not be"))
	f.no(scheduler.RefusedContradicts, "W1", events.OperationResumed, 19, pieceOp("A-1-01", "wind"))
	f.ok("W1", events.OperationResumed, 35, pieceOp("A-1-01", "wind"))
	f.no(scheduler.RefusedContradicts, "W1", events.OperationPaused, 9, pieceOp("A-1-01", "wind"))
	f.ok("W1", events.OperationPaused, 40, pieceOp("A-1-01", "wind"))
	f.no(scheduler.RefusedContradicts, "W1", events.OperationFinished, 39, pieceOp("A-1-01", "wind"))
	f.finish("W1", "A-1-01", "wind", 50)
	require.Equal(t, resources.Seconds(25*60), f.op("A-1-01", "wind").PausedFor)
}

func TestTools(t *testing.T) {
	t.Run("first free, given back after the pull", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		notes := f.start("W1", "A-1-01", "wind", 10)
		require.True(t, said(notes, "A-1-01", "wind taken to use M-1"))
		f.finish("W1", "A-1-01", "wind", 70)
		f.load(events.LoadStarted, "L", 80, "A-1-01")
		f.load(events.LoadFinished, "L", 340)
		f.start("BENCH", "A-1-01", "pull", 380)
		require.Equal(t, "A-1-01", f.s.Tools["M-1"].Holder)
		notes = f.finish("BENCH", "A-1-01", "pull", 400)
		require.True(t, said(notes, "M-1", "given back by A-1-01, usable from Mon 2 Mar 15:40"), "%v", notes)
		require.Equal(t, scheduler.ToolState{Pool: "M", Free: mins(520)}, *f.s.Tools["M-1"])
	})
	t.Run("which unit", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 4)
		with := func(units ...string) events.OperationData {
			return events.OperationData{Piece: "A-1-01", Operation: "wind", Tools: units}
		}
		f.no(scheduler.RefusedUnknown, "W1", events.OperationStarted, 10, with("M-9"))
		f.no(scheduler.RefusedTool, "W1", events.OperationStarted, 10, with("M-1", "M-2"))
		f.ok("W1", events.OperationStarted, 10, with("M-3"))
		f.finish("W1", "A-1-01", "wind", 20)
		r := f.no(scheduler.RefusedTool, "W1", events.OperationStarted, 30, events.OperationData{Piece: "A-1-02", Operation: "wind", Tools: []string{"M-3"}})
		require.Contains(t, r.Error(), "piece A-1-01 still has it")
		f.finish("W1", "A-1-02", "wind", 40)
		f.finish("W1", "A-1-03", "wind", 50)
		r = f.no(scheduler.RefusedTool, "W1", events.OperationStarted, 60, pieceOp("A-1-04", "wind"))
		require.Contains(t, r.Error(), "all are held or out of use")
	})
	t.Run("one that is still turning around", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.start("W1", "A-1-01", "wind", 10)
		f.ok("", events.PieceScrapped, 20, events.PieceData{Piece: "A-1-01"})
		require.Equal(t, mins(140), f.s.Tools["M-1"].Free)
		f.ok("", events.ToolOut, 20, events.ToolData{Unit: "M-2"})
		f.ok("", events.ToolOut, 20, events.ToolData{Unit: "M-3"})
		notes := f.start("W1", "A-1-01R1", "wind", 80)
		require.True(t, said(notes, "M-1", "taken by A-1-01R1 1 h before its turnaround was over"), "%v", notes)
	})
	t.Run("the planned one", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.publish(&scheduler.Plan{Version: 1, Work: []scheduler.Work{{Piece: "A-1-01", Operation: "wind", Station: "W1", Place: 1, Tools: []string{"M-2"}}}})
		f.start("W1", "A-1-01", "wind", 10)
		require.Equal(t, []string{"M-2"}, f.op("A-1-01", "wind").Tools)
	})
	t.Run("a late report names another", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.finish("W1", "A-1-01", "wind", 70)
		f.ok("W1", events.OperationStarted, 10, events.OperationData{Piece: "A-1-01", Operation: "wind", Tools: []string{"M-3"}})
		require.Equal(t, []string{"M-3"}, f.op("A-1-01", "wind").Tools)
		require.Empty(t, f.s.Tools["M-1"].Holder)
		require.Equal(t, "A-1-01", f.s.Tools["M-3"].Holder)
	})
	t.Run("scrapped in the oven", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.finish("W1", "A-1-01", "wind", 70)
		f.finish("W1", "A-1-02", "wind", 140)
		f.load(events.LoadStarted, "L", 150, "A-1-01", "A-1-02")
		f.ok("", events.PieceScrapped, 160, events.PieceData{Piece: "A-1-01", Why: "dropped tow"})
		require.Empty(t, f.s.Tools["M-1"].Holder)
		require.Equal(t, mins(150+260+120), f.s.Tools["M-1"].Free, "after the load (4 h and 20 min) and the turnaround")
		f.load(events.LoadFinished, "L", 410)
		require.Equal(t, "A-1-02", f.s.Tools["M-2"].Holder)
	})
}

func TestMixes(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 3)
	f.no(scheduler.RefusedUnknown, "MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "none", Grams: 1})
	f.no(scheduler.RefusedMalformed, "MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A"})
	f.no(scheduler.RefusedMalformed, "MIX", events.MixMade, 0, events.MixData{Mix: "x"})
	notes := f.ok("MIX", events.MixMade, 0, events.MixData{
		Mix: "x", Resin: "A", Grams: 700, Ingredients: map[string]float64{"resin": 560, "hardener": 140},
	})
	require.Empty(t, notes)
	require.Equal(t, mins(60), f.s.Mixes["x"].Expiry)

	f.no(scheduler.RefusedUnknown, "W1", events.OperationStarted, 10, events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "q"})
	notes = f.start("W1", "A-1-01", "wind", 10)
	require.True(t, said(notes, "A-1-01", "wind taken to use mix x"))
	require.Equal(t, int64(400), f.s.Mixes["x"].Drawn)
	f.finish("W1", "A-1-01", "wind", 70)

	notes = f.ok("W1", events.OperationStarted, 75, events.OperationData{Piece: "A-1-02", Operation: "wind", Mix: "x"})
	require.True(t, said(notes, "x", "expired at Mon 2 Mar 08:00, and wind of A-1-02 started from it 15 min later"), "%v", notes)
	require.True(t, said(notes, "x", "800 g drawn of 700 g made"), "%v", notes)
	f.finish("W1", "A-1-02", "wind", 130)

	notes = f.start("W1", "A-1-03", "wind", 140)
	require.True(t, said(notes, "A-1-03", "nobody said from which mix"), "an expired mix is not guessed")
	require.Empty(t, f.op("A-1-03", "wind").Mix)

	f.no(scheduler.RefusedContradicts, "MIX", events.MixDiscarded, -1, events.MixData{Mix: "x"})
	f.ok("MIX", events.MixDiscarded, 150, events.MixData{Mix: "x", Grams: 90})
	require.Equal(t, int64(90), f.s.Mixes["x"].Left)
	f.order("B", "TUBE", 1)
	f.ok("", events.PieceScrapped, 151, events.PieceData{Piece: "A-1-01"}) // frees a mandrel
	late := events.OperationData{Piece: "B-1-01", Operation: "wind", Mix: "x", Started: mins(50)}
	f.ok("W1", events.OperationFinished, 152, late) // reported late, wound before the mix was discarded
	f.ok("", events.PieceScrapped, 153, events.PieceData{Piece: "A-1-02"})
	late.Piece, late.Started = "A-1-01R1", mins(155)
	r := f.no(scheduler.RefusedMix, "W1", events.OperationFinished, 160, late)
	require.Contains(t, r.Error(), "it was discarded at Mon 2 Mar 09:30")

	notes = f.ok("MIX", events.MixMade, 200, events.MixData{
		Mix: "y", Resin: "A", Grams: 2001, Ingredients: map[string]float64{"resin": 1550, "hardener": 450},
	})
	require.True(t, said(notes, "y", "more than the 2000 g"))
	require.True(t, said(notes, "mix y", "450.0 g of hardener, 400.0 g are right"), "%v", notes)
	require.True(t, f.s.OnHold("mix/y"))
	f.order("L", "LOT", 1)
	f.no(scheduler.RefusedMix, "BENCH", events.OperationStarted, 210, events.OperationData{Piece: "L-1-01", Operation: "make", Mix: "y"})
}

func TestConditionReportsOutOfOrder(t *testing.T) {
	f := newFloor(t)
	f.ok("W1", events.StationDown, 10, events.StationData{Why: "belt"})
	f.no(scheduler.RefusedAlready, "W1", events.StationDown, 11, events.StationData{Why: "belt"})
	f.ok("W1", events.StationDown, 12, events.StationData{Why: "belt", Until: mins(60)})
	require.Equal(t, mins(10), f.s.Stations["W1"].Since)
	f.no(scheduler.RefusedSuperseded, "W1", events.StationUp, 9, events.StationData{})
	f.ok("W1", events.StationUp, 50, events.StationData{})
	f.no(scheduler.RefusedSuperseded, "W1", events.StationDown, 40, events.StationData{})
	f.no(scheduler.RefusedMalformed, "W1", events.StationDown, 60, events.StationData{Until: mins(60)})
	f.no(scheduler.RefusedUnknown, "W9", events.StationDown, 60, events.StationData{})

	f.ok("", events.ToolOut, 10, events.ToolData{Unit: "M-1", Why: "dent"})
	f.no(scheduler.RefusedAlready, "", events.ToolOut, 12, events.ToolData{Unit: "M-1", Why: "dent"})
	f.ok("", events.ToolIn, 50, events.ToolData{Unit: "M-1"})
	f.no(scheduler.RefusedSuperseded, "", events.ToolOut, 40, events.ToolData{Unit: "M-1"})
	f.no(scheduler.RefusedUnknown, "", events.ToolOut, 60, events.ToolData{Unit: "M-9"})

	f.order("A", "TUBE", 1)
	f.ok("W1", events.StationDown, 70, events.StationData{})
	f.finish("W1", "A-1-01", "wind", 69)
	require.True(t, f.s.Stations["W1"].Down, "what ran before the stop says nothing")
}

func (f *floor) publish(p *scheduler.Plan) {
	f.t.Helper()
	text, err := scheduler.PackPlan(p)
	require.NoError(f.t, err)
	f.ok("", events.PlanPublished, 0, events.PlanData{Version: p.Version, Gzip: text})
}
