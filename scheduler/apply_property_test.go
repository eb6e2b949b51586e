// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/resources/quality"
	"towpath/scheduler"
)

// reports draws events that a busy and careless shop could send: mostly about
// things that exist, often at a wrong moment.
type reports struct {
	t *rapid.T
	s *scheduler.State
	n int
	// now moves on; reports are of about now.
	now int
}

func (r *reports) of(names []string, odd string) string {
	if len(names) == 0 || rapid.IntRange(0, 30).Draw(r.t, "odd") == 0 {
		return odd
	}
	return rapid.SampledFrom(names).Draw(r.t, "name")
}

func keys[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// pieceAndStep prefers the first operation of a piece that is not done.
func (r *reports) pieceAndStep() (string, string) {
	serial := r.of(keys(r.s.Pieces), "nobody")
	p := r.s.Pieces[serial]
	if p == nil {
		return serial, "wind"
	}
	steps := []string{"wind"}
	for _, o := range p.Ops {
		steps = append(steps, o.Operation)
		if o.Status != scheduler.Done && rapid.IntRange(0, 3).Draw(r.t, "next") > 0 {
			return serial, o.Operation
		}
	}
	return serial, rapid.SampledFrom(steps).Draw(r.t, "step")
}

// where prefers a station that does the operation.
func (r *reports) where(serial, operation string) string {
	if p := r.s.Pieces[serial]; p != nil {
		if op := r.s.Plant.Product(p.Product).Operation(operation); op != nil {
			return r.of(op.Stations, "T1")
		}
	}
	return r.of(keys(r.s.Stations), "W9")
}

func (r *reports) next() events.Event {
	r.now += rapid.IntRange(0, 40).Draw(r.t, "minutes")
	at := r.now - rapid.SampledFrom([]int{0, 0, 0, 5, 90}).Draw(r.t, "late")
	kinds := []events.Kind{
		events.OperationStarted, events.OperationStarted, events.OperationStarted, events.OperationFinished, events.OperationFinished,
		events.OperationFinished, events.OperationPaused, events.OperationResumed, events.LoadClosed, events.LoadStarted,
		events.LoadFinished, events.MixMade, events.MixDiscarded, events.StationDown, events.StationUp, events.ToolOut,
		events.ToolIn, events.PieceScrapped, events.PieceHeld, events.PieceReleased, events.ResultRecorded,
		events.ResultRecorded, events.BatchHeld, events.BatchReleased, events.OrderAdded, events.OrderChanged, events.OrderCancelled, events.PlantDeclared,
		events.PromiseReserved, events.PromiseConfirmed, events.PromiseReleased, events.PromiseExpired, events.CrewAbsent, events.CrewPresent,
	}
	kind := rapid.SampledFrom(kinds).Draw(r.t, "kind")
	r.n++
	e := events.Event{ID: fmt.Sprintf("r%d", r.n), Kind: kind, Plant: "lathe", At: mins(at), By: rapid.SampledFrom([]string{"", "ann", "bo"}).Draw(r.t, "by")}
	e.Station, e.Data = r.payload(kind, at)
	return e
}

func (r *reports) payload(kind events.Kind, at int) (string, any) {
	switch kind {
	case events.PlantDeclared:
		d := events.PlantData{File: rapid.SampledFrom(kilns).Draw(r.t, "plant")}
		for range rapid.IntRange(0, 2).Draw(r.t, "sets on top") {
			d.Adopted = append(d.Adopted, resources.Adopted{At: mins(at), Text: rapid.SampledFrom(onTop).Draw(r.t, "set")})
		}
		return "", d
	case events.OperationStarted, events.OperationFinished, events.OperationPaused, events.OperationResumed:
		return r.operation(kind, at)
	case events.LoadClosed, events.LoadStarted, events.LoadFinished:
		return r.load()
	case events.MixMade, events.MixDiscarded:
		return "MIX", events.MixData{Mix: fmt.Sprintf("x%d", rapid.IntRange(0, 9).Draw(r.t, "mix")), Resin: "A", Grams: rapid.Int64Range(0, 1500).Draw(r.t, "grams")}
	case events.StationDown, events.StationUp:
		return r.of(keys(r.s.Stations), "W9"), events.StationData{Why: rapid.SampledFrom([]string{"", "belt"}).Draw(r.t, "why")}
	case events.ToolOut, events.ToolIn:
		return "", events.ToolData{Unit: r.of(keys(r.s.Tools), "M-9")}
	case events.CrewAbsent:
		d := events.AbsentData{
			Crew: r.of(crewsOf(r.s.Plant), "nobody"), People: rapid.IntRange(1, 3).Draw(r.t, "people"), Why: rapid.SampledFrom([]string{"", "ill"}).Draw(r.t, "why"),
			Absence: rapid.SampledFrom([]string{"", "", r.of(keys(r.s.Absences), "r0")}).Draw(r.t, "before"),
		}
		if rapid.Bool().Draw(r.t, "until") {
			d.Until = mins(at + rapid.IntRange(-1, 2000).Draw(r.t, "long"))
		}
		return "", d
	case events.CrewPresent:
		return "", events.PresentData{Crew: r.of(crewsOf(r.s.Plant), "nobody"), Absence: rapid.SampledFrom([]string{"", r.of(keys(r.s.Absences), "r0")}).Draw(r.t, "of")}
	case events.ResultRecorded:
		serial, step := r.pieceAndStep()
		gate := rapid.SampledFrom([]string{"proof", "ring", "lot"}).Draw(r.t, "gate")
		if p := r.s.Pieces[serial]; p != nil {
			for _, o := range p.Ops {
				if op := r.s.Plant.Product(p.Product).Routing[o.Index]; op.Gate != "" {
					step, gate = op.ID, op.Gate
				}
			}
		}
		d := events.ResultData{Piece: serial, Operation: step, Gate: gate, Pass: rapid.Bool().Draw(r.t, "pass")}
		if rapid.Bool().Draw(r.t, "measures") {
			d.Measured = []quality.Measure{{Of: "length", Unit: rapid.SampledFrom([]string{"mm", "mm", "mm", "g"}).Draw(r.t, "unit"), Values: []float64{rapid.SampledFrom([]float64{100, 100, 102}).Draw(r.t, "length")}}}
		}
		if rapid.IntRange(0, 5).Draw(r.t, "decides") == 0 {
			d.Decision, d.Why = rapid.SampledFrom(events.Decisions()).Draw(r.t, "decision"), "looked at"
		}
		return "T1", d
	case events.BatchHeld, events.BatchReleased:
		switch rapid.IntRange(0, 2).Draw(r.t, "of what") {
		case 0:
			return "", events.BatchData{Mix: r.of(keys(r.s.Mixes), "x?")}
		case 1:
			return "", events.BatchData{Load: r.of(keys(r.s.Loads), "L?")}
		}
		return "", events.BatchData{Material: "tow", Lot: rapid.SampledFrom([]string{"1", "2"}).Draw(r.t, "lot")}
	case events.OrderAdded, events.OrderChanged:
		return "", ordered(rapid.SampledFrom([]string{"A", "B", "C", "D"}).Draw(r.t, "order"),
			rapid.SampledFrom([]string{"TUBE", "HOT", "LOT", "PAIR", "RULED", "HALF"}).Draw(r.t, "product"), rapid.IntRange(0, 5).Draw(r.t, "quantity"))
	case events.PromiseReserved:
		return "", events.ReserveData{
			Promise: rapid.SampledFrom([]string{"A", "D", "P", "Q"}).Draw(r.t, "promise"), Product: "TUBE", Quantity: rapid.IntRange(0, 3).Draw(r.t, "quantity"), Kind: "firm",
			ShipBy: mins(9000), Expires: mins(at + rapid.IntRange(-1, 60).Draw(r.t, "kept")), Base: rapid.SampledFrom([]uint64{0, 1 << 40}).Draw(r.t, "base"),
		}
	case events.PromiseConfirmed, events.PromiseReleased, events.PromiseExpired:
		return "", events.PromiseData{Promise: rapid.SampledFrom([]string{"A", "D", "P", "Q"}).Draw(r.t, "promise")}
	case events.OrderCancelled:
		return "", events.CancelData{Order: rapid.SampledFrom([]string{"A", "B", "C", "D"}).Draw(r.t, "order"), Line: rapid.SampledFrom([]string{"", "1"}).Draw(r.t, "line")}
	}
	return "", events.PieceData{Piece: r.of(keys(r.s.Pieces), "nobody"), Why: "because"}
}

func crewsOf(p *resources.Plant) []string {
	var ids []string
	for i := range p.Crews {
		ids = append(ids, p.Crews[i].ID)
	}
	return ids
}

func (r *reports) operation(kind events.Kind, at int) (string, any) {
	serial, step := r.pieceAndStep()
	d := events.OperationData{Piece: serial, Operation: step, Place: rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(r.t, "place")}
	if rapid.IntRange(0, 4).Draw(r.t, "says mix") == 0 {
		d.Mix = r.of(keys(r.s.Mixes), "x?")
	}
	if rapid.IntRange(0, 4).Draw(r.t, "says tool") == 0 {
		d.Tools = []string{r.of(keys(r.s.Tools), "M-9")}
	}
	if rapid.IntRange(0, 4).Draw(r.t, "says lot") == 0 {
		d.Lots = []events.LotUse{{Material: "tow", Lot: rapid.SampledFrom([]string{"1", "2"}).Draw(r.t, "lot")}}
	}
	if kind == events.OperationFinished && rapid.Bool().Draw(r.t, "says start") {
		d.Started = mins(at - rapid.IntRange(0, 60).Draw(r.t, "long"))
	}
	return r.where(serial, step), d
}

func (r *reports) load() (string, any) {
	d := events.LoadData{Load: fmt.Sprintf("L%d", rapid.IntRange(0, 6).Draw(r.t, "load"))}
	station, step := "O1", "cure"
	if rapid.IntRange(0, 2).Draw(r.t, "winder") == 0 {
		station, step = "W2", "wind"
	}
	if rapid.Bool().Draw(r.t, "lists") {
		for range rapid.IntRange(1, 3).Draw(r.t, "pieces") {
			d.Pieces = append(d.Pieces, events.LoadItem{Piece: r.of(keys(r.s.Pieces), "nobody"), Operation: step})
		}
	}
	return station, d
}

// TestAnyReportsKeepTheStateSound sends random reports. A refused one changes
// nothing, a believed one counts once, what is done stays done, and the state
// is sound after each.
func TestAnyReportsKeepTheStateSound(t *testing.T) {
	rapid.Check(t, soundness)
}

func soundness(t *rapid.T) {
	r := &reports{t: t, s: scheduler.NewState(nil)}
	r.take(events.Event{ID: "plant", Kind: events.PlantDeclared, At: six, Data: events.PlantData{File: kilnText}})
	for _, product := range []string{"TUBE", "LOT", "PAIR"} {
		r.n++
		r.take(events.Event{ID: "first-" + product, Kind: events.OrderAdded, At: six, Data: ordered(product, product, 2)})
	}
	for range rapid.IntRange(1, 60).Draw(t, "reports") {
		r.take(r.next())
	}
}

// take applies one event under every rule that holds for all.
func (r *reports) take(e events.Event) {
	before := r.s.Clone()
	hash := before.Hash()
	notes, err := r.s.Apply(e)
	if err != nil {
		var refusal *scheduler.Refusal
		require.ErrorAs(r.t, err, &refusal)
		require.NotEmpty(r.t, refusal.Text)
		require.NotEmpty(r.t, refusal.Reason)
		require.Empty(r.t, notes)
		require.Equal(r.t, hash, r.s.Hash(), "refused (%v) and yet changed", err)
		return
	}
	require.NotEqual(r.t, hash, r.s.Hash())
	require.Equal(r.t, hash, before.Hash(), "the clone changed")
	require.Empty(r.t, faults(r.s), "after %s %+v", e.Kind, e.Data)
	_, err = r.s.Apply(e)
	require.Error(r.t, err, "the same event was believed twice")
	for serial, was := range before.Pieces {
		p := r.s.Pieces[serial]
		if p == nil || p.Product != was.Product {
			for _, o := range was.Ops {
				require.Equal(r.t, scheduler.Planned, o.Status, "%s was begun and is gone", serial)
			}
			require.False(r.t, was.Scrapped, "%s was scrapped and is gone", serial)
			continue
		}
		require.False(r.t, was.Scrapped && !p.Scrapped, "%s came back from scrap", serial)
		for _, o := range p.Ops {
			for _, before := range was.Ops {
				if before.Operation == o.Operation {
					require.GreaterOrEqual(r.t, rank(o.Status), rank(before.Status), "%s %s went back after %s", serial, o.Operation, e.Kind)
				}
			}
		}
	}
}

// rank orders states as work goes on; started and paused alternate.
func rank(x scheduler.Status) int {
	return [...]int{0, 1, 1, 2}[x]
}

// onTop are sets of changes to stand on top of one of kilns; some cannot.
var onTop = []string{
	"name: a mandrel\nchanges: [{tool: {id: M, count: 4}}]", "name: a winder\nchanges: [{station: {id: W1, count: 2}}]",
	"name: no such\nchanges: [{station: {id: W9, count: 2}}]", "name: slower\nchanges: [{duration: {factor: 1.5}}]", "changes: [",
}

var kilnText = func() string {
	return kilnFile(quiet{})
}()

// kilns are the plant and others it may become: with more samples, one more
// operation, tools given back sooner, a mandrel or a place less.
var kilns = []string{
	kilnText,
	strings.ReplaceAll(kilnText, "samples: 1", "samples: 2"),
	strings.ReplaceAll(kilnText, "      - id: pull\n", "      - {id: tape, stations: T1, run: 5m}\n      - id: pull\n"),
	strings.ReplaceAll(kilnText, "until: pull", "until: cure"),
	strings.ReplaceAll(kilnText, "[M-1, M-2, M-3]", "[M-1, M-2]"),
	strings.ReplaceAll(kilnText, "places: 2", "places: 1"),
	strings.ReplaceAll(kilnText, "split: 2", "split: 3"),
}

// quiet reads a file before any test runs.
type quiet struct{ testing.TB }

func (quiet) Helper()                      {}
func (quiet) Errorf(s string, args ...any) { panic(fmt.Sprintf(s, args...)) }
func (quiet) FailNow()                     { panic("no plant file") }

// TestFoldIsApplyOneByOne: the state kept event by event, folded again at each
// void, is the fold of the log, and survives a store.
func TestFoldIsApplyOneByOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := &journal{s: scheduler.NewState(nil)}
		require.NoError(t, j.add("plant", events.PlantDeclared, "", 0, events.PlantData{File: kilnText}))
		for _, product := range []string{"TUBE", "PAIR"} {
			require.NoError(t, j.add("first-"+product, events.OrderAdded, "", 0, ordered(product, product, 2)))
		}
		r := &reports{t: t}
		for range rapid.IntRange(1, 40).Draw(t, "reports") {
			if rapid.IntRange(0, 5).Draw(t, "void") == 0 {
				target := rapid.SampledFrom(j.log).Draw(t, "target").ID
				_ = j.void(fmt.Sprintf("v%d", len(j.log)), target)
				continue
			}
			r.s = j.s
			e := r.next()
			if rapid.IntRange(0, 9).Draw(t, "again") == 0 {
				e = rapid.SampledFrom(j.log).Draw(t, "old")
			}
			_ = j.add(e.ID, e.Kind, e.Station, int(e.At-six)/60, e.Data)
		}
		j.folds(t)
	})
}

// TestIndependentReportsCommute: reports about different pieces at different
// stations, tools and mixes give the same facts in either order.
func TestIndependentReportsCommute(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := []resources.OrderLine{
			{Order: "A", Line: "1", Product: "LOT", Quantity: 2}, {Order: "B", Line: "1", Product: "LOT", Quantity: 2},
			{Order: "C", Line: "1", Product: "HOT", Quantity: 2}, {Order: "D", Line: "1", Product: "PAIR", Quantity: 2},
		}
		plant, _ := resources.ReadPlant("plant.yaml", []byte(kilnText))
		s, err := scheduler.StateOf(plant, lines)
		require.NoError(t, err)
		// Each lane has its own pieces and stations, so any interleaving that
		// keeps the order within a lane must end the same.
		lanes := [][]events.Event{
			lane("a", "BENCH", "A-1-01", "make", 1), lane("b", "BENCH", "B-1-01", "make", 2),
			lane("c", "W1", "C-1-01", "wind", 1),
			{
				{ID: "m1", Kind: events.MixMade, Station: "MIX", At: mins(0), Data: events.MixData{Mix: "m", Resin: "A", Grams: 500}},
				{ID: "m2", Kind: events.MixDiscarded, Station: "MIX", At: mins(20), Data: events.MixData{Mix: "m"}},
			},
			{
				{ID: "t1", Kind: events.ToolOut, At: mins(1), Data: events.ToolData{Unit: "M-3"}},
				{ID: "s1", Kind: events.StationDown, Station: "T1", At: mins(5), Data: events.StationData{}},
				{ID: "t2", Kind: events.ToolIn, At: mins(30), Data: events.ToolData{Unit: "M-3"}},
			},
			{
				{ID: "d1", Kind: events.PieceHeld, At: mins(3), Data: events.PieceData{Piece: "D-1-01"}},
				{ID: "d2", Kind: events.OrderChanged, At: mins(4), Data: ordered("D", "PAIR", 5)},
				{ID: "d3", Kind: events.PieceScrapped, At: mins(6), Data: events.PieceData{Piece: "D-1-02"}},
			},
			{{ID: "e1", Kind: events.OrderAdded, At: mins(2), Data: ordered("E", "TUBE", 3)}},
		}
		want := interleaved(t, s.Clone(), lanes, false)
		require.Equal(t, want, interleaved(t, s.Clone(), lanes, true))
	})
}

// lane is one piece at one place of a station.
func lane(id, station, piece, op string, place int) []events.Event {
	d := events.OperationData{Piece: piece, Operation: op, Place: place}
	var out []events.Event
	for i, kind := range []events.Kind{events.OperationStarted, events.OperationPaused, events.OperationResumed, events.OperationFinished} {
		out = append(out, events.Event{ID: fmt.Sprint(id, i), Kind: kind, Station: station, At: mins(10 + 7*i), Data: d})
	}
	return out
}

func interleaved(t *rapid.T, s *scheduler.State, lanes [][]events.Event, shuffle bool) string {
	next := make([]int, len(lanes))
	for {
		var open []int
		for i := range lanes {
			if next[i] < len(lanes[i]) {
				open = append(open, i)
			}
		}
		if len(open) == 0 {
			return s.Facts()
		}
		i := open[0]
		if shuffle {
			i = rapid.SampledFrom(open).Draw(t, "lane")
		}
		e := lanes[i][next[i]]
		next[i]++
		_, err := s.Apply(e)
		require.NoError(t, err)
	}
}

// FuzzApply reads lines as events and applies them all.
func FuzzApply(f *testing.F) {
	var seed bytes.Buffer
	for i, e := range []events.Event{
		{Kind: events.OrderAdded, Data: ordered("A", "TUBE", 2)},
		{Kind: events.OrderAdded, Data: ordered("P", "PAIR", 3)},
		{Kind: events.MixMade, Station: "MIX", Data: events.MixData{Mix: "x", Resin: "A", Grams: 900}},
		{Kind: events.OperationStarted, Station: "W1", Data: events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "x", Tools: []string{"M-2"}}},
		{Kind: events.OperationFinished, Station: "W1", Data: pieceOp("A-1-01", "wind")},
		{Kind: events.LoadStarted, Station: "O1", Data: cure("L", "A-1-01")},
		{Kind: events.LoadFinished, Station: "O1", Data: cure("L")},
		{Kind: events.PieceHeld, Data: events.PieceData{Piece: "P-1-01"}},
		{Kind: events.PieceScrapped, Data: events.PieceData{Piece: "P-1-01.1"}},
		{Kind: events.OrderCancelled, Data: events.CancelData{Order: "P"}},
		{Kind: events.EventVoided, Data: events.VoidData{Event: "e4"}},
	} {
		e.ID, e.Plant, e.At = fmt.Sprintf("e%d", i), "lathe", mins(10*i)
		text, err := events.Encode(e)
		require.NoError(f, err)
		seed.Write(append(text, '\n'))
		f.Add(bytes.Clone(seed.Bytes()))
	}
	plant := kiln(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		s := scheduler.NewState(plant)
		for line := range bytes.Lines(text) {
			e, err := events.Decode(bytes.TrimSpace(line))
			if err != nil || e.Kind == events.PlantDeclared {
				continue
			}
			before := s.Hash()
			if _, err := s.Apply(e); err != nil {
				require.Equal(t, before, s.Hash())
				var r *scheduler.Refusal
				require.True(t, errors.As(err, &r) || errors.Is(err, scheduler.ErrRebuild))
			}
			require.Empty(t, faults(s))
		}
	})
}

// FuzzReports lets the fuzzer choose among random reports.
func FuzzReports(f *testing.F) { f.Fuzz(rapid.MakeFuzz(soundness)) }
