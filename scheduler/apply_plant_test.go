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

// redeclared is the plant file with one text replaced by another.
func redeclared(t *testing.T, old, new string) events.PlantData {
	t.Helper()
	return events.PlantData{File: replaced(t, kilnFile(t), old, new)}
}

func replaced(t *testing.T, file, old, new string) string {
	t.Helper()
	require.Contains(t, file, old)
	return strings.ReplaceAll(file, old, new)
}

func TestPlantIsDeclaredAgain(t *testing.T) {
	t.Run("a bad file changes nothing", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		r := f.no(scheduler.RefusedMalformed, "", events.PlantDeclared, 10, redeclared(t, "[W1, W2]", "[W1, W7]"))
		require.Contains(t, r.Error(), "W7")
		f.no(scheduler.RefusedMalformed, "", events.PlantDeclared, 10, events.PlantData{File: "\x00"})
	})
	t.Run("pieces keep what was done and follow the new routing", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		f.finish("W1", "A-1-01", "wind", 60)
		f.ok("W1", events.StationDown, 70, events.StationData{Why: "belt"})
		f.ok("", events.PieceHeld, 70, events.PieceData{Piece: "A-1-02"})
		f.ok("", events.PlantDeclared, 80, redeclared(t, "      - id: cure\n        stations: O1\n        recipe: R",
			"      - {id: tape, stations: T1, run: 5m}\n      - id: cure\n        stations: O1\n        recipe: R"))
		require.Equal(t, []string{"wind", "tape", "cure", "pull", "proof"}, passes(f.s.Pieces["A-1-01"]))
		require.Equal(t, 2, f.op("A-1-01", "cure").Index)
		require.Equal(t, scheduler.Done, f.op("A-1-01", "wind").Status)
		require.Equal(t, "A-1-01", f.s.Tools["M-1"].Holder)
		require.True(t, f.s.Stations["W1"].Down)
		require.True(t, f.s.Pieces["A-1-02"].Held)
		f.finish("T1", "A-1-01", "tape", 90)
		f.load(events.LoadStarted, "L", 100, "A-1-01")
	})
	t.Run("samples follow", func(t *testing.T) {
		f := newFloor(t)
		f.order("L", "LOT", 2)
		f.finish("BENCH", "L-1-01", "make", 60)
		f.ok("", events.PlantDeclared, 80, redeclared(t, "samples: 1", "samples: 2"))
		require.True(t, f.s.Pieces["L-1-04"].Sample)
		f.ok("", events.PlantDeclared, 90, redeclared(t, "samples: 1", "samples: 0"))
		require.Equal(t, []string{"L-1-01", "L-1-02"}, f.alive("L/1"))
	})
	t.Run("another way of cutting", func(t *testing.T) {
		f := newFloor(t)
		f.order("P", "PAIR", 2)
		three := redeclared(t, "split: 2", "split: 3")
		f.ok("", events.PlantDeclared, 10, three)
		f.order("Q", "PAIR", 3)
		require.Len(t, f.s.Lines["Q/1"].Pieces, 4)
		f.start("W1", "Q-1-01", "wind", 20)
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 30, events.PlantData{File: kilnFile(t)})
	})
	t.Run("what is in use must stay", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.start("W1", "A-1-01", "wind", 20)
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 30, redeclared(t, "units: [M-1, M-2, M-3]", "units: [M-2, M-3]"))
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 30, redeclared(t, "stations: [W1, W2]", "stations: [W2]"))
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 30, redeclared(t, "id: TUBE", "id: PIPE"))
		f.finish("W1", "A-1-01", "wind", 80)
		f.ok("", events.PlantDeclared, 90, redeclared(t, "stations: [W1, W2]", "stations: [W2]"))
	})
	t.Run("a product goes when its lines are closed", func(t *testing.T) {
		f := newFloor(t)
		f.order("H", "HOT", 1)
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 30, redeclared(t, "id: HOT", "id: WARM"))
		f.ok("", events.OrderCancelled, 40, events.CancelData{Order: "H"})
		notes := f.ok("", events.PlantDeclared, 50, redeclared(t, "id: HOT", "id: WARM"))
		require.True(t, said(notes, "order H/1", "forgotten"))
		require.Empty(t, f.s.Lines)
	})
	t.Run("with changes on top of the file", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 2)
		with := func(at int, texts ...string) events.PlantData {
			d := events.PlantData{File: kilnFile(t)}
			for _, text := range texts {
				d.Adopted = append(d.Adopted, resources.Adopted{At: mins(at), Text: text})
			}
			return d
		}
		winder, mandrel := "name: a winder\nchanges: [{station: {id: W1, count: 2}}]", "name: a mandrel\nchanges: [{tool: {id: M, count: 4}}]"
		notes := f.ok("", events.PlantDeclared, 10, with(10, winder, mandrel))
		require.True(t, said(notes, "plant", "a winder"))
		require.NotNil(t, f.s.Stations["W1-2"])
		require.Len(t, f.s.Plant.Tool("M").Units, 4)
		f.start("W1-2", "A-1-01", "wind", 20)
		f.no(scheduler.RefusedInUse, "", events.PlantDeclared, 30, with(30, mandrel))
		r := f.no(scheduler.RefusedMalformed, "", events.PlantDeclared, 30, with(30, winder, winder, "name: bad\nchanges: [{station: {id: W7, count: 0}}]"))
		require.Contains(t, r.Error(), "adopted set 3 (bad)")
		require.Contains(t, r.Error(), "take off first what stands on top")
		f.finish("W1-2", "A-1-01", "wind", 80)
		f.ok("", events.PlantDeclared, 90, with(90, mandrel))
		require.Nil(t, f.s.Stations["W1-2"])
		require.Equal(t, []resources.Adopted{{At: mins(90), Text: mandrel}}, f.s.Adopted)
		f.ok("", events.PlantDeclared, 100, events.PlantData{File: kilnFile(t)})
		require.Empty(t, f.s.Adopted)
		require.Len(t, f.s.Plant.Tool("M").Units, 3)
	})
	t.Run("a tool that nothing gives back any more is free", func(t *testing.T) {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.start("W1", "A-1-01", "wind", 20)
		f.finish("W1", "A-1-01", "wind", 80)
		f.ok("", events.PlantDeclared, 90, redeclared(t, "until: pull", "until: wind"))
		require.Equal(t, scheduler.ToolState{Pool: "M", Free: mins(90 + 120)}, *f.s.Tools["M-1"])
	})
}

func TestPlansArePublished(t *testing.T) {
	f := newFloor(t)
	pack := func(p scheduler.Plan) []byte {
		text, err := scheduler.PackPlan(&p)
		require.NoError(t, err)
		return text
	}
	f.publish(&scheduler.Plan{Version: 3, Made: six, Work: []scheduler.Work{{Piece: "x", Operation: "y", Start: six}}})
	require.Equal(t, int64(3), f.s.Plan.Version)
	f.no(scheduler.RefusedStale, "", events.PlanPublished, 1, events.PlanData{Version: 3, Gzip: pack(scheduler.Plan{Version: 3})})
	f.no(scheduler.RefusedMalformed, "", events.PlanPublished, 1, events.PlanData{Version: 4, Gzip: pack(scheduler.Plan{Version: 5})})
	f.no(scheduler.RefusedMalformed, "", events.PlanPublished, 1, events.PlanData{Version: 4, Gzip: []byte("no")})
	f.no(scheduler.RefusedMalformed, "", events.PlanPublished, 1, events.PlanData{Version: 4})
	f.no(scheduler.RefusedMalformed, "", events.PlanPublished, 1, events.PlanData{Gzip: pack(scheduler.Plan{})})
	again, err := scheduler.UnpackPlan(pack(*f.s.Plan))
	require.NoError(t, err)
	require.Equal(t, f.s.Plan, again)
}

func TestCommit(t *testing.T) {
	f := newFloor(t)
	empty := &scheduler.Plan{Made: mins(10), Base: f.s.Seq}
	e, found := scheduler.Commit(f.s, mins(10), empty)
	require.Empty(t, found)
	require.Equal(t, events.PlanPublished, e.Kind)
	require.Equal(t, "lathe", e.Plant)
	d := e.Data.(events.PlanData)
	require.Equal(t, int64(1), d.Version)
	require.Equal(t, f.s.Seq, d.Base)
	again, _ := scheduler.Commit(f.s, mins(10), empty)
	require.Equal(t, e, again, "the same proposal, the same event")
	require.Zero(t, empty.Version, "the proposal is left alone")
	text, err := events.Encode(e)
	require.NoError(t, err)
	read, err := events.Decode(text)
	require.NoError(t, err)
	_, err = f.s.Apply(read)
	require.NoError(t, err)

	next, found := scheduler.Commit(f.s, mins(20), &scheduler.Plan{Version: 1, Made: mins(20)})
	require.Empty(t, found)
	require.Equal(t, int64(2), next.Data.(events.PlanData).Version, "it follows the published one")

	f.n = 10
	f.order("A", "TUBE", 1)
	_, found = scheduler.Commit(f.s, mins(30), empty)
	require.NotEmpty(t, found, "the order is not in it")
	_, found = scheduler.Commit(f.s, mins(30), nil)
	require.NotEmpty(t, found)
}

func TestStateOfThePlantFile(t *testing.T) {
	var none *resources.Plant
	require.Empty(t, scheduler.NewState(none).PlantName())
	require.Equal(t, "lathe", scheduler.NewState(kiln(t)).PlantName())
}
