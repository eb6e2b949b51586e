// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// alive lists the pieces of the line A/1 that are not scrapped.
func (f *floor) alive(key string) []string {
	var out []string
	for _, serial := range f.s.Lines[key].Pieces {
		if !f.s.Pieces[serial].Scrapped {
			out = append(out, serial)
		}
	}
	return out
}

func passes(p *scheduler.Piece) []string {
	var out []string
	for _, o := range p.Ops {
		out = append(out, o.Operation)
	}
	return out
}

func TestPiecesOfAnOrderLine(t *testing.T) {
	t.Run("tubes and samples", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 2)
		require.Equal(t, []string{"L-1-01", "L-1-02", "L-1-03"}, f.s.Lines["L/1"].Pieces)
		require.Equal(t, []string{"make", "ship"}, passes(f.s.Pieces["L-1-01"]))
		sample := f.s.Pieces["L-1-03"]
		require.True(t, sample.Sample)
		require.Equal(t, []string{"make", "crush"}, passes(sample))
		require.Equal(t, []int{0, 1}, []int{sample.Ops[0].Index, sample.Ops[1].Index})
	})
	t.Run("shafts", func(t *testing.T) {
		f := newFloor(t)
		f.order("P", "PAIR", 3)
		require.Equal(t, []string{"P-1-01", "P-1-01.1", "P-1-01.2", "P-1-02", "P-1-02.1"}, f.s.Lines["P/1"].Pieces)
		require.Equal(t, []string{"wind", "cut", "ring"}, passes(f.s.Pieces["P-1-02"]))
		shaft := f.s.Pieces["P-1-02.1"]
		require.Equal(t, []string{"bond"}, passes(shaft))
		require.True(t, shaft.Shaft)
		require.Equal(t, "P-1-02", shaft.Parent)
	})
	t.Run("from files as from events", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 120)
		f.order("L", "LOT", 2)
		f.order("P", "PAIR", 3)
		line := func(order, product string, n int) resources.OrderLine {
			return resources.OrderLine{Order: order, Line: "1", Product: product, Quantity: n, ShipBy: mins(60 * 24 * 14), Weight: 1}
		}
		s, err := scheduler.StateOf(kiln(t), []resources.OrderLine{line("A", "TUBE", 120), line("L", "LOT", 2), line("P", "PAIR", 3)})
		require.NoError(t, err)
		require.Equal(t, f.s.Pieces, s.Pieces)
		require.Equal(t, f.s.Lines, s.Lines)
		require.Contains(t, s.Pieces, "A-1-100")
		require.Empty(t, faults(s))
	})
	t.Run("all that is wrong at once", func(t *testing.T) {
		line := resources.OrderLine{Order: "A", Line: "1", Product: "TUBE", Quantity: 1}
		none, odd := line, line
		none.Line, none.Quantity = "2", 0
		odd.Line, odd.Product = "3", "TUBA"
		_, err := scheduler.StateOf(kiln(t), []resources.OrderLine{line, line, none, odd})
		require.ErrorContains(t, err, "order A/1: this order line exists already")
		require.ErrorContains(t, err, "order A/2: quantity 0")
		require.ErrorContains(t, err, `order A/3: the plant has no product "TUBA"`)
	})
}

func TestOrderRefusals(t *testing.T) {
	f := newFloor(t)
	with := func(change func(*events.OrderData)) events.OrderData {
		d := ordered("A", "TUBE", 2)
		change(&d)
		return d
	}
	for _, d := range []events.OrderData{
		with(func(d *events.OrderData) { d.Order = "" }),
		with(func(d *events.OrderData) { d.Line = "" }),
		with(func(d *events.OrderData) { d.Quantity = 0 }),
		with(func(d *events.OrderData) { d.Quantity = 1 << 40 }),
		with(func(d *events.OrderData) { d.Weight = -1 }),
		with(func(d *events.OrderData) { d.Kind = "maybe" }),
		with(func(d *events.OrderData) { d.ShipBy = 1 << 60 }),
	} {
		f.no(scheduler.RefusedMalformed, "", events.OrderAdded, 0, d)
	}
	f.no(scheduler.RefusedUnknown, "", events.OrderAdded, 0, with(func(d *events.OrderData) { d.Product = "X" }))
	f.ok("", events.OrderAdded, 0, with(func(d *events.OrderData) { d.Order, d.Line = "A-1", "2" }))
	r := f.no(scheduler.RefusedExists, "", events.OrderAdded, 0, with(func(d *events.OrderData) { d.Order, d.Line = "A", "1-2" }))
	require.Contains(t, r.Error(), "the serial A-1-2-01 belongs to order A-1/2")
}

func TestQuantityChanges(t *testing.T) {
	change := func(f *floor, order, product string, n int) []scheduler.Note {
		return f.ok("", events.OrderChanged, 5, ordered(order, product, n))
	}
	t.Run("up and down", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		change(f, "A", "TUBE", 4)
		require.Equal(t, []string{"A-1-01", "A-1-02", "A-1-03", "A-1-04"}, f.alive("A/1"))
		f.start("W1", "A-1-04", "wind", 10)
		f.no(scheduler.RefusedMalformed, "", events.OrderChanged, 11, ordered("A", "TUBE", 0))
		notes := change(f, "A", "TUBE", 2)
		require.Equal(t, []string{"A-1-01", "A-1-04"}, f.alive("A/1"), "what has begun stays")
		require.True(t, said(notes, "A-1-03", "dropped"))
		f.finish("W1", "A-1-01", "wind", 300)
		notes = change(f, "A", "TUBE", 1)
		require.Len(t, f.alive("A/1"), 2)
		require.True(t, said(notes, "order A/1", "1 more than needed have begun and stay"))
		change(f, "A", "TUBE", 2)
		require.Len(t, f.alive("A/1"), 2, "the one too many is needed again")
	})
	t.Run("samples stay", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 3)
		change(f, "L", "LOT", 1)
		require.Equal(t, []string{"L-1-01", "L-1-04"}, f.alive("L/1"))
		require.True(t, f.s.Pieces["L-1-04"].Sample)
	})
	t.Run("shafts fill the last tube first", func(t *testing.T) {
		f := newFloor(t)
		f.order("P", "PAIR", 3)
		change(f, "P", "PAIR", 5)
		require.Equal(t, []string{"P-1-01", "P-1-01.1", "P-1-01.2", "P-1-02", "P-1-02.1", "P-1-02.2", "P-1-03", "P-1-03.1"}, f.alive("P/1"))
		f.start("W1", "P-1-03", "wind", 10)
		change(f, "P", "PAIR", 3)
		require.Equal(t, []string{"P-1-01", "P-1-01.1", "P-1-01.2", "P-1-03", "P-1-03.1"}, f.alive("P/1"), "the tube that has begun keeps its shaft")
		f.finish("W1", "P-1-03", "wind", 70)
		f.finish("BENCH", "P-1-03", "cut", 100)
		change(f, "P", "PAIR", 4)
		require.Contains(t, f.alive("P/1"), "P-1-04.1", "a tube that is cut has no room any more")
	})
	t.Run("another product", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		change(f, "A", "PAIR", 1)
		require.Equal(t, []string{"A-1-01", "A-1-01.1"}, f.alive("A/1"))
		require.Equal(t, "PAIR", f.s.Pieces["A-1-01"].Product)
		f.start("W1", "A-1-01", "wind", 10)
		f.no(scheduler.RefusedBegun, "", events.OrderChanged, 20, ordered("A", "TUBE", 1))
	})
	t.Run("cancelled", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 3)
		f.ok("", events.OrderAdded, 0, events.OrderData{Order: "A", Line: "2", Product: "TUBE", Quantity: 1, Kind: "event"})
		f.start("W1", "A-1-02", "wind", 10)
		f.finish("W1", "A-1-02", "wind", 70)
		f.finish("W1", "A-1-03", "wind", 140)
		f.load(events.LoadClosed, "L", 150, "A-1-02", "A-1-03")
		f.ok("", events.OrderCancelled, 160, events.CancelData{Order: "A", Why: "shop closed"})
		require.True(t, f.s.Lines["A/2"].Cancelled)
		require.Empty(t, f.s.Lines["A/2"].Pieces)
		require.Equal(t, []string{"A-1-02", "A-1-03"}, f.s.Lines["A/1"].Pieces)
		require.Empty(t, f.s.Loads, "the load had no member left")
		f.no(scheduler.RefusedUnknown, "", events.OrderCancelled, 170, events.CancelData{Order: "A"})
		f.ok("", events.PieceScrapped, 180, events.PieceData{Piece: "A-1-02"})
		require.Len(t, f.s.Lines["A/1"].Pieces, 2, "nothing is made again for a cancelled line")
	})
}

func TestScrapIsMadeAgain(t *testing.T) {
	scrap := func(f *floor, minute int, piece string) []scheduler.Note {
		return f.ok("", events.PieceScrapped, minute, events.PieceData{Piece: piece, Why: "dropped"})
	}
	t.Run("tube", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.start("W1", "A-1-01", "wind", 10)
		notes := scrap(f, 20, "A-1-01")
		require.True(t, said(notes, "A-1-01R1", "made again for A-1-01"))
		require.Equal(t, "A-1-01", f.s.Pieces["A-1-01R1"].Replaces)
		require.Empty(t, f.s.Stations["W1"].On[0], "its place is free")
		scrap(f, 30, "A-1-01R1")
		require.Equal(t, []string{"A-1-02", "A-1-01R2"}, f.alive("A/1"))
		f.no(scheduler.RefusedScrapped, "W1", events.OperationStarted, 40, pieceOp("A-1-01", "wind"))
		f.no(scheduler.RefusedScrapped, "W1", events.OperationFinished, 40, pieceOp("A-1-01", "wind"))
	})
	t.Run("sample", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 1)
		scrap(f, 20, "L-1-02")
		require.True(t, f.s.Pieces["L-1-02R1"].Sample)
	})
	t.Run("not when there are more than needed", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.finish("W1", "A-1-01", "wind", 70)
		f.finish("W1", "A-1-02", "wind", 140)
		f.ok("", events.OrderChanged, 150, ordered("A", "TUBE", 1))
		scrap(f, 160, "A-1-02")
		require.Equal(t, []string{"A-1-01"}, f.alive("A/1"))
	})
	t.Run("a tube takes its shafts along", func(t *testing.T) {
		f := newFloor(t)
		f.order("P", "PAIR", 4)
		f.finish("W1", "P-1-01", "wind", 70)
		f.finish("BENCH", "P-1-01", "cut", 100)
		scrap(f, 110, "P-1-01")
		require.True(t, f.s.Pieces["P-1-01.2"].Scrapped)
		require.Equal(t, []string{"P-1-02", "P-1-02.1", "P-1-02.2", "P-1-01R1", "P-1-01R1.1", "P-1-01R1.2"}, f.alive("P/1"))
		require.Equal(t, "P-1-01.2", f.s.Pieces["P-1-01R1.2"].Replaces)
	})
	t.Run("a shaft goes where there is room", func(t *testing.T) {
		f := newFloor(t)
		f.order("P", "PAIR", 3)
		scrap(f, 110, "P-1-01.1")
		require.Equal(t, "P-1-01.1", f.s.Pieces["P-1-02.2"].Replaces, "the second tube had room")
		scrap(f, 120, "P-1-01.2")
		require.Contains(t, f.alive("P/1"), "P-1-01R1.1")
		f.ok("", events.OrderChanged, 130, ordered("P", "PAIR", 4))
		require.Contains(t, f.alive("P/1"), "P-1-03.1", "room on a tube made again is for what is made again")
		scrap(f, 140, "P-1-02.1")
		require.Equal(t, "P-1-02.1", f.s.Pieces["P-1-01R1.2"].Replaces)
	})
}

func TestHolds(t *testing.T) {
	hold := func(f *floor, piece string) {
		f.ok("", events.PieceHeld, 100, events.PieceData{Piece: piece, Why: "look at it"})
	}
	t.Run("held pieces do not start and leave closed loads", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.finish("W1", "A-1-01", "wind", 60)
		f.finish("W1", "A-1-02", "wind", 90)
		f.load(events.LoadClosed, "L", 95, "A-1-01", "A-1-02")
		hold(f, "A-1-01")
		require.Equal(t, []scheduler.Member{{Piece: "A-1-02", Operation: "cure"}}, f.s.Loads["L"].Members)
		r := f.no(scheduler.RefusedHeld, "O1", events.LoadStarted, 110, cure("L", "A-1-01", "A-1-02"))
		require.Equal(t, "piece A-1-01: it is held: look at it; leave it out, or have it released first", r.Error())
		f.no(scheduler.RefusedAlready, "", events.PieceHeld, 110, events.PieceData{Piece: "A-1-01"})
		f.ok("", events.PieceReleased, 120, events.PieceData{Piece: "A-1-01"})
		require.Empty(t, f.s.Pieces["A-1-01"].Why)
		f.load(events.LoadStarted, "L", 130, "A-1-01", "A-1-02")
	})
	t.Run("what runs may end", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.start("W1", "A-1-01", "wind", 60)
		hold(f, "A-1-01")
		f.finish("W1", "A-1-01", "wind", 120)
	})
	t.Run("a failed ring holds the shafts of its tube", func(t *testing.T) {
		f := newFloor(t)
		f.order("P", "PAIR", 2)
		f.finish("W1", "P-1-01", "wind", 60)
		f.finish("BENCH", "P-1-01", "cut", 90)
		f.finish("T1", "P-1-01", "ring", 100)
		ring := func(pass bool) events.ResultData {
			return events.ResultData{Piece: "P-1-01", Operation: "ring", Gate: "ring", Pass: pass, Why: "voids"}
		}
		f.ok("T1", events.ResultRecorded, 101, ring(false))
		require.True(t, f.op("P-1-01", "ring").Failed)
		for _, p := range []string{"P-1-01", "P-1-01.1", "P-1-01.2"} {
			require.True(t, f.s.Pieces[p].Held, p)
			require.Equal(t, "ring failed: voids", f.s.Pieces[p].Why, p)
		}
		f.no(scheduler.RefusedHeld, "BENCH", events.OperationStarted, 110, pieceOp("P-1-01.1", "bond"))
		f.no(scheduler.RefusedHeld, "", events.PieceReleased, 110, events.PieceData{Piece: "P-1-01.1"})
		hold(f, "P-1-01.2")
		f.ok("T1", events.ResultRecorded, 120, ring(true))
		require.True(t, f.op("P-1-01", "ring").Passed)
		require.False(t, f.s.Pieces["P-1-01.1"].Held)
		require.True(t, f.s.Pieces["P-1-01.2"].Held, "somebody held it for another cause")
		f.ok("T1", events.ResultRecorded, 130, ring(false))
		f.ok("", events.PieceReleased, 140, events.PieceData{Piece: "P-1-01"})
		require.False(t, f.s.Pieces["P-1-01.1"].Held, "a release of the tube is one of its shafts")
	})
	t.Run("results go to gates", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.no(scheduler.RefusedWrongPlace, "T1", events.ResultRecorded, 10, events.ResultData{Piece: "A-1-01", Operation: "wind", Gate: "proof"})
		f.no(scheduler.RefusedWrongPlace, "T1", events.ResultRecorded, 10, events.ResultData{Piece: "A-1-01", Operation: "proof", Gate: "ring"})
		f.no(scheduler.RefusedUnknown, "T1", events.ResultRecorded, 10, events.ResultData{Piece: "Z", Operation: "proof", Gate: "proof"})
	})
}

func TestLoads(t *testing.T) {
	wound := func(t *testing.T) *floor {
		f := newFloor(t)
		f.order("A", "TUBE", 3)
		f.order("H", "HOT", 2)
		for i, p := range []string{"A-1-01", "A-1-02", "A-1-03", "H-1-01", "H-1-02"} {
			f.finish("W1", p, "wind", 60*(i+1))
		}
		return f
	}
	t.Run("what cannot be a load", func(t *testing.T) {
		f := wound(t)
		f.no(scheduler.RefusedUnlike, "O1", events.LoadClosed, 310, cure("L", "A-1-01", "H-1-01"))
		r := f.no(scheduler.RefusedTooMuch, "O1", events.LoadClosed, 310, cure("L", "H-1-01", "H-1-02"))
		require.Contains(t, r.Error(), "places of the pieces add up to 6; O1 holds 4")
		f.no(scheduler.RefusedMalformed, "O1", events.LoadClosed, 310, cure("L", "A-1-01", "A-1-01"))
		f.no(scheduler.RefusedMalformed, "O1", events.LoadClosed, 310, cure("L"))
		f.no(scheduler.RefusedMalformed, "O1", events.LoadClosed, 310, cure("", "A-1-01"))
		f.no(scheduler.RefusedUnknown, "O1", events.LoadClosed, 310, cure("L", "A-1-09"))
		f.no(scheduler.RefusedUnknown, "O9", events.LoadClosed, 310, cure("L", "A-1-01"))
		f.no(scheduler.RefusedWrongPlace, "T1", events.LoadClosed, 310, cure("L", "A-1-01"))
		f.no(scheduler.RefusedWrongPlace, "W2", events.LoadClosed, 310, cure("L", "A-1-01"))
		f.load(events.LoadClosed, "L", 310, "A-1-01")
		f.no(scheduler.RefusedInLoad, "O1", events.LoadClosed, 310, cure("K", "A-1-01"))
		f.no(scheduler.RefusedInLoad, "O1", events.OperationStarted, 310, pieceOp("A-1-01", "cure"))
	})
	t.Run("one at a time, together", func(t *testing.T) {
		f := wound(t)
		f.load(events.LoadStarted, "L", 310, "A-1-01", "A-1-02")
		f.no(scheduler.RefusedOccupied, "O1", events.LoadStarted, 320, cure("K", "H-1-01"))
		f.no(scheduler.RefusedInLoad, "O1", events.OperationFinished, 330, pieceOp("A-1-01", "cure"))
		f.no(scheduler.RefusedInLoad, "O1", events.OperationPaused, 330, pieceOp("A-1-01", "cure"))
		f.no(scheduler.RefusedContradicts, "O1", events.LoadFinished, 309, cure("L"))
		f.no(scheduler.RefusedWrongPlace, "W2", events.LoadFinished, 500, cure("L"))
		f.load(events.LoadFinished, "L", 600)
		for _, p := range []string{"A-1-01", "A-1-02"} {
			o := f.op(p, "cure")
			require.Equal(t, scheduler.Done, o.Status)
			require.Equal(t, [2]resources.Tick{mins(310), mins(600)}, [2]resources.Tick{o.Started, o.Ended})
		}
		f.load(events.LoadStarted, "K", 610, "H-1-01")
	})
	t.Run("other pieces than it was closed with", func(t *testing.T) {
		f := wound(t)
		f.load(events.LoadClosed, "L", 310, "A-1-01", "A-1-02")
		notes := f.load(events.LoadStarted, "L", 320, "A-1-02", "A-1-03")
		require.True(t, said(notes, "L", "other pieces"))
		require.Empty(t, f.op("A-1-01", "cure").Load)
		require.Equal(t, scheduler.Started, f.op("A-1-03", "cure").Status)
		require.Equal(t, mins(310), f.s.Loads["L"].Closed)
	})
	t.Run("only its end is reported", func(t *testing.T) {
		f := wound(t)
		f.load(events.LoadFinished, "L", 700, "A-1-01", "A-1-02")
		require.Equal(t, mins(700-260), f.s.Loads["L"].Started, "4 h of cure, 20 min of loading and unloading")
		require.True(t, f.op("A-1-01", "cure").StartGuessed)
		f.load(events.LoadStarted, "L", 450)
		require.Equal(t, mins(450), f.op("A-1-01", "cure").Started)
		f.no(scheduler.RefusedAlready, "O1", events.LoadStarted, 450, cure("L"))
	})
	t.Run("as planned", func(t *testing.T) {
		f := wound(t)
		f.publish(&scheduler.Plan{Version: 1, Loads: []scheduler.Load{{
			ID: "L", Station: "O1", Members: []scheduler.Member{{Piece: "A-1-01", Operation: "cure"}},
		}}})
		f.load(events.LoadStarted, "L", 310)
		require.Equal(t, scheduler.Started, f.op("A-1-01", "cure").Status)
	})
	t.Run("all members draw from one mix, each takes a mandrel", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.ok("MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A", Grams: 1000})
		f.ok("W2", events.LoadStarted, 10, events.LoadData{Load: "L", Mix: "x", Pieces: []events.LoadItem{
			{Piece: "A-1-01", Operation: "wind", Tools: []string{"M-3"}}, {Piece: "A-1-02", Operation: "wind"},
		}})
		require.Equal(t, int64(800), f.s.Mixes["x"].Drawn)
		require.Equal(t, []string{"M-3"}, f.op("A-1-01", "wind").Tools)
		require.Equal(t, []string{"M-1"}, f.op("A-1-02", "wind").Tools)
		require.Equal(t, "L", f.s.Stations["W2"].Load)
	})
}
