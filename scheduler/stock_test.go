// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources/quality"
	"towpath/scheduler"
)

func (f *floor) make(piece string, minute int) {
	f.t.Helper()
	f.finish("BENCH", piece, "turn", minute)
	f.finish("T1", piece, "look", minute+1)
	f.ok("T1", events.ResultRecorded, minute+1, events.ResultData{Piece: piece, Operation: "look", Gate: "size", Pass: true})
}

// Two good ones at a yield of one half with 80 % confidence: P(Binomial(5, 1/2)
// ≥ 2) = 0.8125, so five are started. What is good beyond the order is stock, and
// the next order takes it before anything is started.
func TestSparePiecesBecomeStock(t *testing.T) {
	f := newFloor(t)
	f.order("A", "HALF", 2)
	require.Len(t, f.s.Lines["A/1"].Pieces, 5)
	f.ok("", events.PieceScrapped, 5, events.PieceData{Piece: "A-1-01"})
	require.Len(t, f.s.Lines["A/1"].Pieces, 5, "enough are left: nothing is started again")
	f.make("A-1-02", 10)
	f.finish("BENCH", "A-1-04", "turn", 15) // begun when the order is complete
	f.make("A-1-03", 20)
	require.Equal(t, []string{"A-1-01", "A-1-02", "A-1-03"}, f.s.Lines["A/1"].Pieces)
	require.Nil(t, f.s.Pieces["A-1-05"], "not begun and not needed")
	require.Equal(t, []string{"A-1-04"}, f.s.Lines["stock/HALF"].Pieces)
	require.Equal(t, "A/1", f.s.Pieces["A-1-04"].MadeFor)
	f.finish("T1", "A-1-04", "look", 30)
	f.ok("T1", events.ResultRecorded, 31, events.ResultData{Piece: "A-1-04", Operation: "look", Gate: "size", Pass: true})

	f.order("B", "HALF", 1)
	require.Equal(t, []string{"A-1-04"}, f.s.Lines["B/1"].Pieces, "taken from stock, nothing started")
	require.Empty(t, f.s.Lines["stock/HALF"].Pieces)
	tr, _ := f.s.Trace("A-1-04")
	require.Equal(t, "B", tr.Order)
	require.Len(t, tr.Steps, 2)
	f.order("C", "HALF", 1)
	require.Len(t, f.s.Lines["C/1"].Pieces, 3, "P(Binomial(3, 1/2) ≥ 1) = 0.875")
	f.no(scheduler.RefusedExists, "", events.OrderAdded, 40, ordered("stock", "HALF", 1))

	f.ok("", events.OrderCancelled, 50, events.CancelData{Order: "B", Line: "1"})
	require.Equal(t, []string{"A-1-04"}, f.s.Lines["stock/HALF"].Pieces, "back to stock")
	// A loss that leaves too few is made good from stock first.
	for i := range 3 {
		f.ok("", events.PieceScrapped, 60+i, events.PieceData{Piece: fmt.Sprintf("C-1-%02d", i+1)})
	}
	require.Contains(t, f.s.Lines["C/1"].Pieces, "A-1-04")
	require.Len(t, f.s.Lines["C/1"].Pieces, 4)
}

// Of finished pieces in stock that is taken which was finished first, whatever
// its number.
func TestTheOldestOfTheStockIsTaken(t *testing.T) {
	f := newFloor(t)
	f.order("A", "HALF", 2)
	f.finish("BENCH", "A-1-04", "turn", 5)
	f.finish("BENCH", "A-1-05", "turn", 6)
	f.make("A-1-02", 10)
	f.make("A-1-03", 20)
	require.ElementsMatch(t, []string{"A-1-04", "A-1-05"}, f.s.Lines["stock/HALF"].Pieces)
	for i, piece := range []string{"A-1-05", "A-1-04"} {
		f.finish("T1", piece, "look", 30+10*i)
		f.ok("T1", events.ResultRecorded, 31+10*i, events.ResultData{Piece: piece, Operation: "look", Gate: "size", Pass: true})
	}
	f.order("B", "HALF", 1)
	require.Equal(t, []string{"A-1-05"}, f.s.Lines["B/1"].Pieces)
}

// Where the plant file has a rule for a gate, a piece is good once a result has
// passed: until then the spare ones are kept.
func TestWhatWaitsForItsResultIsNotGood(t *testing.T) {
	plain := "gate: size}\n"
	require.True(t, strings.HasSuffix(kilnFile(t), plain), "HALF comes last")
	file := strings.TrimSuffix(kilnFile(t), plain) +
		"gate: size, rule: {kind: measure, limits: [{of: length, min: 99 mm, max: 101 mm}], on_fail: remake}}\n"
	f := &floor{t: t, s: scheduler.NewState(nil)}
	f.ok("", events.PlantDeclared, 0, events.PlantData{File: file})
	f.order("A", "HALF", 1)
	require.Len(t, f.s.Lines["A/1"].Pieces, 3)
	f.finish("BENCH", "A-1-01", "turn", 10)
	f.finish("T1", "A-1-01", "look", 20)
	require.Len(t, f.s.Lines["A/1"].Pieces, 3, "nobody knows yet whether it is good")
	f.ok("T1", events.ResultRecorded, 30, events.ResultData{
		Piece: "A-1-01", Operation: "look", Gate: "size", Measured: []quality.Measure{{Of: "length", Values: []float64{100}, Unit: "mm"}},
	})
	require.Equal(t, []string{"A-1-01"}, f.s.Lines["A/1"].Pieces)
}

// What is begun and not needed is stock only when it can be finished apart from
// its line: not while somebody must decide about it.
func TestHeldSparePiecesStayWithTheirOrder(t *testing.T) {
	for _, held := range []bool{false, true} {
		f := newFloor(t)
		f.order("A", "HALF", 2)
		f.finish("BENCH", "A-1-04", "turn", 5)
		if held {
			f.ok("", events.PieceHeld, 6, events.PieceData{Piece: "A-1-04", Why: "a scratch"})
		}
		f.make("A-1-02", 10)
		f.make("A-1-03", 20)
		want := []string{"A-1-02", "A-1-03"}
		if held {
			want = append(want, "A-1-04")
		}
		require.Equal(t, want, f.s.Lines["A/1"].Pieces, "held %v", held)
		require.Equal(t, !held, f.s.Lines["stock/HALF"] != nil, "held %v", held)
	}
}
