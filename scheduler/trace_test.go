// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/scheduler"
)

// tracedFloor has a tube of PAIR cut into shafts, wound with a lot, and a tube
// of TUBE from a mix and a load.
func tracedFloor(t *testing.T) *floor {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.order("P", "PAIR", 2)
	f.ok("MIX", events.MixMade, 0, events.MixData{
		Mix: "x", Resin: "A", Grams: 1000, Ingredients: map[string]float64{"resin": 800, "hardener": 200}, Lots: []events.LotUse{{Material: "hardener", Lot: "H-7"}},
	})
	f.ok("W1", events.OperationStarted, 10, events.OperationData{
		Piece: "A-1-01", Operation: "wind", Mix: "x", Tools: []string{"M-2"}, Lots: []events.LotUse{{Material: "tow", Lot: "T-1"}},
	})
	f.finish("W1", "A-1-01", "wind", 70)
	f.load(events.LoadStarted, "L", 80, "A-1-01")
	f.load(events.LoadFinished, "L", 320)
	f.finish("BENCH", "A-1-01", "pull", 380)
	f.finish("W1", "P-1-01", "wind", 200)
	f.finish("BENCH", "P-1-01", "cut", 230)
	f.ok("T1", events.ResultRecorded, 240, events.ResultData{Piece: "P-1-01", Operation: "ring", Gate: "ring", Pass: true, Values: map[string]float64{"voids_percent": 0.8}})
	return f
}

func TestTraceTellsWhatWentIntoAPiece(t *testing.T) {
	f := tracedFloor(t)
	tr, ok := f.s.Trace("A-1-01")
	require.True(t, ok)
	require.Len(t, tr.Steps, 3)
	wind := tr.Steps[0]
	require.Equal(t, "W1", wind.Station)
	require.Equal(t, []string{"M-2"}, wind.Tools)
	require.Equal(t, []string{"tow T-1"}, wind.Lots)
	require.Equal(t, scheduler.Told{Event: "e5", Seq: 5, At: mins(10), By: "ann"}, wind.Started)
	require.Equal(t, scheduler.Told{Event: "e6", Seq: 6, At: mins(70), By: "ann"}, wind.Ended)
	require.Empty(t, tr.Steps[2].Started.Event, "nobody reported the start of pulling")
	require.Len(t, tr.Mixes, 1)
	require.Equal(t, []string{"hardener H-7"}, tr.Mixes[0].Lots)
	require.True(t, tr.Mixes[0].Weighed)
	require.Equal(t, "R", tr.Loads[0].Recipe)
	require.Equal(t, "O1", tr.Loads[0].Station)

	shaft, ok := f.s.Trace("P-1-01.2")
	require.True(t, ok)
	require.Equal(t, "P-1-01", shaft.Tube)
	require.Equal(t, "wind", shaft.Steps[0].Operation, "the tube's own work belongs to its shafts")
	require.Equal(t, "ring", shaft.Results[0].Gate)
	require.Equal(t, []string{"voids_percent 0.8"}, shaft.Results[0].Values)
	tube, _ := f.s.Trace("P-1-01")
	require.Equal(t, []string{"P-1-01.1", "P-1-01.2"}, tube.Shafts)
	_, ok = f.s.Trace("nobody")
	require.False(t, ok)
}

func TestUsedTellsWhereItWent(t *testing.T) {
	f := tracedFloor(t)
	serials := func(d events.BatchData) (out []string) {
		u, ok := f.s.Used(scheduler.BatchKey(d))
		require.True(t, ok)
		for _, p := range u.Pieces {
			out = append(out, p.Serial)
		}
		return out
	}
	require.Equal(t, []string{"A-1-01"}, serials(events.BatchData{Mix: "x"}))
	require.Equal(t, []string{"A-1-01"}, serials(events.BatchData{Load: "L"}))
	require.Equal(t, []string{"A-1-01"}, serials(events.BatchData{Material: "tow", Lot: "T-1"}))
	require.Equal(t, []string{"A-1-01"}, serials(events.BatchData{Material: "hardener", Lot: "H-7"}))
	u, _ := f.s.Used("load/L")
	require.Equal(t, "R", u.Load.Recipe)
	_, ok := f.s.Used("mix/none")
	require.False(t, ok)
}

// Forwards and backwards agree: a piece is among those of a mix exactly
// when its trace names it.
func TestTraceAndUsedAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := scheduler.NewState(nil)
		j := &journal{s: s}
		require.NoError(t, j.add("plant", events.PlantDeclared, "", 0, events.PlantData{File: kilnText}))
		for _, product := range []string{"TUBE", "PAIR", "RULED"} {
			require.NoError(t, j.add("first-"+product, events.OrderAdded, "", 0, ordered(product, product, 2)))
		}
		r := &reports{t: t, s: s}
		for range rapid.IntRange(1, 60).Draw(t, "reports") {
			_, _ = s.Apply(r.next())
		}
		for _, id := range keys(s.Mixes) {
			u, ok := s.Used("mix/" + id)
			require.True(t, ok)
			in := map[string]bool{}
			for _, p := range u.Pieces {
				in[p.Serial] = true
			}
			for serial := range s.Pieces {
				tr, _ := s.Trace(serial)
				named := false
				for _, m := range tr.Mixes {
					named = named || m.Mix == id
				}
				require.Equal(t, named, in[serial], "%s and mix %s", serial, id)
			}
		}
	})
}
