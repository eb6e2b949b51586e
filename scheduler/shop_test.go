// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// six is Monday 2026-03-02 06:00 UTC, 07:00 in Berlin; tests count minutes
// from it.
const six resources.Tick = 1772431200

func mins(n int) resources.Tick { return six + resources.Tick(60*n) }

// kiln is the plant of testdata/state.
func kiln(t testing.TB) *resources.Plant {
	t.Helper()
	plant, findings := resources.ReadPlant("plant.yaml", []byte(kilnFile(t)))
	require.NotNil(t, plant, "%v", findings)
	return plant
}

func kilnFile(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("testdata/state/plant.yaml")
	require.NoError(t, err)
	return string(text)
}

// floor is a state and a way to report to it.
type floor struct {
	t testing.TB
	s *scheduler.State
	n int // events so far
}

// newFloor has the plant declared and nothing ordered.
func newFloor(t testing.TB) *floor {
	f := &floor{t: t, s: scheduler.NewState(nil)}
	f.ok("", events.PlantDeclared, 0, events.PlantData{File: kilnFile(t)})
	return f
}

func (f *floor) event(station string, kind events.Kind, minute int, data any) events.Event {
	f.n++
	return events.Event{
		ID: fmt.Sprintf("e%d", f.n), Kind: kind, Plant: "lathe", Station: station,
		At: mins(minute), By: "ann", Data: data, Seq: uint64(f.n),
	}
}

// ok reports what must be believed.
func (f *floor) ok(station string, kind events.Kind, minute int, data any) []scheduler.Note {
	f.t.Helper()
	notes, err := f.s.Apply(f.event(station, kind, minute, data))
	require.NoError(f.t, err)
	f.sound()
	return notes
}

// no reports what must be refused for a reason and change nothing.
func (f *floor) no(reason scheduler.Reason, station string, kind events.Kind, minute int, data any) *scheduler.Refusal {
	f.t.Helper()
	before := f.s.Hash()
	notes, err := f.s.Apply(f.event(station, kind, minute, data))
	var r *scheduler.Refusal
	require.ErrorAs(f.t, err, &r)
	require.Equal(f.t, reason, r.Reason, "%s", r.Error())
	if station != "" && reason != scheduler.RefusedRepeated { // the log's own numbers are no report of theirs
		require.NotEmpty(f.t, r.Hint, "nobody at a station is told what to do: %s", r.Error())
	}
	require.Empty(f.t, notes)
	require.Equal(f.t, before, f.s.Hash(), "a refused event changed the state")
	return r
}

func (f *floor) order(order, product string, quantity int) []scheduler.Note {
	f.t.Helper()
	return f.ok("", events.OrderAdded, 0, ordered(order, product, quantity))
}

func ordered(order, product string, quantity int) events.OrderData {
	return events.OrderData{
		Order: order, Line: "1", Product: product, Quantity: quantity,
		ShipBy: mins(60 * 24 * 14), Weight: 1, Kind: "firm",
	}
}

func (f *floor) start(station, piece, operation string, minute int) []scheduler.Note {
	f.t.Helper()
	return f.ok(station, events.OperationStarted, minute, events.OperationData{Piece: piece, Operation: operation})
}

func (f *floor) finish(station, piece, operation string, minute int) []scheduler.Note {
	f.t.Helper()
	return f.ok(station, events.OperationFinished, minute, events.OperationData{Piece: piece, Operation: operation})
}

// load reports a load of the oven, each piece at its cure.
func (f *floor) load(kind events.Kind, id string, minute int, pieces ...string) []scheduler.Note {
	f.t.Helper()
	return f.ok("O1", kind, minute, cure(id, pieces...))
}

func cure(id string, pieces ...string) events.LoadData {
	d := events.LoadData{Load: id}
	for _, p := range pieces {
		d.Pieces = append(d.Pieces, events.LoadItem{Piece: p, Operation: "cure"})
	}
	return d
}

// op is an operation of a piece as it is now.
func (f *floor) op(piece, operation string) scheduler.OpState {
	f.t.Helper()
	p := f.s.Pieces[piece]
	require.NotNil(f.t, p, "no piece %s", piece)
	for _, o := range p.Ops {
		if o.Operation == operation {
			return o
		}
	}
	f.t.Fatalf("piece %s does not pass %s", piece, operation)
	return scheduler.OpState{}
}

func (f *floor) sound() {
	f.t.Helper()
	for _, fault := range faults(f.s) {
		f.t.Errorf("broken: %s", fault)
	}
}

// faults lists what no state may be.
func faults(s *scheduler.State) []string {
	var out []string
	bad := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	running := map[scheduler.Member]string{} // on stations without loads
	for serial, p := range s.Pieces {
		line := s.Lines[scheduler.LineKey(p.Order, p.Line)]
		if line == nil || p.Serial != serial {
			bad("piece %s has no line", serial)
		}
		if p.Held != (len(p.Detained) > 0) || p.Held && p.Scrapped {
			bad("piece %s: held %v, %d causes, scrapped %v", serial, p.Held, len(p.Detained), p.Scrapped)
		}
		if p.Parent != "" && s.Pieces[p.Parent] == nil {
			bad("piece %s has no tube %s", serial, p.Parent)
		}
		for k, o := range p.Ops {
			if k > 0 && p.Ops[k-1].Index >= o.Index {
				bad("piece %s: operations out of order", serial)
			}
			faultsOfOp(s, p, &o, bad)
			if !p.Scrapped && o.Load == "" && (o.Status == scheduler.Started || o.Status == scheduler.Paused) {
				running[scheduler.Member{Piece: serial, Operation: o.Operation}] = o.Station
			}
		}
	}
	for id, st := range s.Stations {
		for _, m := range st.On {
			if m == (scheduler.Member{}) {
				continue
			}
			if running[m] != id {
				bad("station %s has %v, which does not run there", id, m)
			}
			delete(running, m)
		}
		if st.Load != "" && (s.Loads[st.Load] == nil || s.Loads[st.Load].Status != scheduler.Started) {
			bad("station %s runs load %s, which does not run", id, st.Load)
		}
	}
	for m, id := range running {
		bad("%v runs on %s and has no place there", m, id)
	}
	return append(out, faultsOfLines(s)...)
}

func faultsOfOp(s *scheduler.State, p *scheduler.Piece, o *scheduler.OpState, bad func(string, ...any)) {
	switch o.Status {
	case scheduler.Planned:
		if o.Started != 0 || o.Ended != 0 || o.Station != "" || len(o.Tools) > 0 || o.Mix != "" {
			bad("%s %s is planned and has %+v", p.Serial, o.Operation, *o)
		}
	case scheduler.Done:
		if o.Ended < o.Started || o.Started == 0 || o.PausedAt != 0 {
			bad("%s %s is done and has %+v", p.Serial, o.Operation, *o)
		}
	default:
		if o.Started == 0 || o.Ended != 0 || (o.Status == scheduler.Paused) != (o.PausedAt != 0) {
			bad("%s %s runs and has %+v", p.Serial, o.Operation, *o)
		}
	}
	if o.PausedFor < 0 {
		bad("%s %s paused for %d", p.Serial, o.Operation, o.PausedFor)
	}
	if o.Load == "" {
		return
	}
	run := s.Loads[o.Load]
	if run == nil {
		bad("%s %s is in load %s, which is not there", p.Serial, o.Operation, o.Load)
		return
	}
	in := false
	for _, m := range run.Members {
		in = in || m == scheduler.Member{Piece: p.Serial, Operation: o.Operation}
	}
	if !in {
		bad("%s %s is in load %s, which does not list it", p.Serial, o.Operation, o.Load)
	}
	if o.Status != run.Status && !p.Scrapped {
		bad("%s %s has status %d, its load %d", p.Serial, o.Operation, o.Status, run.Status)
	}
}

func faultsOfLines(s *scheduler.State) []string {
	var out []string
	bad := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	listed := 0
	for key, l := range s.Lines {
		product := s.Plant.Product(l.Product)
		split := product.Operation("cut") != nil
		good, samples := 0, 0
		for _, serial := range l.Pieces {
			p := s.Pieces[serial]
			listed++
			switch {
			case p == nil:
				bad("line %s lists %s, which is not there", key, serial)
			case p.Scrapped || split && !p.Shaft:
			case p.Sample:
				samples++
			default:
				good++
			}
		}
		if !l.Cancelled && l.Order != scheduler.StockOrder && (good < l.Quantity || samples < product.Samples) {
			bad("line %s has %d pieces of %d and %d samples of %d", key, good, l.Quantity, samples, product.Samples)
		}
	}
	if listed != len(s.Pieces) {
		bad("%d pieces are listed, %d are there", listed, len(s.Pieces))
	}
	held := map[string]bool{}
	for _, p := range s.Pieces {
		for _, o := range p.Ops {
			for _, unit := range o.Tools {
				if tool := s.Tools[unit]; tool != nil && tool.Holder == p.Serial {
					held[unit] = true
				}
			}
		}
	}
	for unit, tool := range s.Tools {
		if tool.Holder != "" && !held[unit] {
			bad("tool %s is held by %s, which does not have it", unit, tool.Holder)
		}
	}
	for id, m := range s.Mixes {
		if m.Drawn < 0 {
			bad("mix %s has %d g drawn", id, m.Drawn)
		}
	}
	for id, run := range s.Loads {
		if len(run.Members) == 0 {
			bad("load %s is empty", id)
		}
	}
	return out
}
