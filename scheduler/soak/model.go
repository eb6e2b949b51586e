// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"fmt"
	"slices"
	"strings"

	"towpath/events"
	"towpath/resources"
	"towpath/resources/quality"
)

// Model is what was really done on the floor, told in the order in which it
// was done. It knows nothing of reports: no fold, no guesses, no refusals.
type Model struct {
	plant   *resources.Plant
	product map[string]string // of each serial
	parts   map[string][]string

	runs     map[job][]*run
	loads    map[string]*loadRun
	mixes    map[string]*mix
	down     map[string]bool
	holder   map[string]string // tool unit: serial
	scrapped map[string]bool
	held     map[string]bool // by a person
	gate     map[job]*verdicts
	away     map[string]absence // by the deed that told of it
}

type job struct{ piece, operation string }

// run is one time an operation was done.
type run struct {
	station    string
	load       string
	mix        string
	tools      []string
	start, end resources.Tick // end 0: under way
}

type loadRun struct {
	station    string
	jobs       []job
	start, end resources.Tick
}

type mix struct {
	grams, drawn int64
	gone         bool
}

// verdicts are those of one gate for one piece.
type verdicts struct {
	passed  []bool
	reworks int
	holds   bool // the last one keeps the piece back
}

// absence is people who went, as it was told: nobody tells that they are back
// when they were expected.
type absence struct {
	crew        string
	people      int
	from, until resources.Tick // until 0: nobody knows
}

// NewModel is a shop where nothing has been done.
func NewModel(plant *resources.Plant) *Model {
	return &Model{
		plant: plant, product: map[string]string{}, parts: map[string][]string{},
		runs: map[job][]*run{}, loads: map[string]*loadRun{}, mixes: map[string]*mix{}, down: map[string]bool{},
		holder: map[string]string{}, scrapped: map[string]bool{}, held: map[string]bool{}, gate: map[job]*verdicts{}, away: map[string]absence{},
	}
}

// goesOn says whether they are away at an instant, as far as was told.
func (a absence) goesOn(at resources.Tick) bool {
	return a.from <= at && (a.until == 0 || at < a.until)
}

// Piece says what a serial is, and of which tube it is cut; empty: of none.
func (m *Model) Piece(serial, product, tube string) {
	if m.product[serial] == "" && tube != "" {
		m.parts[tube] = append(m.parts[tube], serial)
	}
	m.product[serial] = product
}

// Did takes one deed.
func (m *Model) Did(e events.Event) error {
	switch d := e.Data.(type) {
	case events.OperationData:
		return m.operation(e, d)
	case events.LoadData:
		return m.load(e, d)
	case events.MixData:
		return m.mix(e, d)
	case events.StationData:
		m.down[e.Station] = e.Kind == events.StationDown
	case events.PieceData:
		switch e.Kind {
		case events.PieceScrapped:
			m.scrap(d.Piece)
		case events.PieceHeld:
			m.held[d.Piece] = true
		case events.PieceReleased:
			m.held[d.Piece] = false
			for at, v := range m.gate {
				if at.piece == d.Piece {
					v.holds = false
				}
			}
		}
	case events.ResultData:
		return m.result(e, d)
	case events.AbsentData:
		m.away[e.ID] = absence{d.Crew, d.People, e.At, d.Until}
	case events.PresentData:
		if a, is := m.away[d.Absence]; !is || a.crew != d.Crew || !a.goesOn(e.At) {
			return fmt.Errorf("deed %s: %s came back, and had not gone", e.ID, d.Crew)
		}
		delete(m.away, d.Absence)
	default:
		return fmt.Errorf("deed %s: people on the floor do no %s", e.ID, e.Kind)
	}
	return nil
}

func (m *Model) operation(e events.Event, d events.OperationData) error {
	at := job{d.Piece, d.Operation}
	switch e.Kind {
	case events.OperationStarted:
		return m.start(at, &run{station: e.Station, mix: d.Mix, tools: d.Tools, start: e.At})
	case events.OperationFinished:
		return m.end(at, e.At)
	}
	return fmt.Errorf("deed %s: people on the floor do no %s", e.ID, e.Kind)
}

func (m *Model) start(at job, r *run) error {
	if m.down[r.station] {
		return fmt.Errorf("%s %s began on %s, which is down", at.piece, at.operation, r.station)
	}
	if old := m.runs[at]; len(old) > 0 && old[len(old)-1].end == 0 {
		return fmt.Errorf("%s %s began twice", at.piece, at.operation)
	}
	op := m.op(at)
	if op == nil {
		return fmt.Errorf("%s %s began, which is not in its routing", at.piece, at.operation)
	}
	m.runs[at] = append(m.runs[at], r)
	for _, unit := range r.tools {
		if who := m.holder[unit]; who != "" {
			return fmt.Errorf("%s %s took %s, which %s has", at.piece, at.operation, unit, who)
		}
		m.holder[unit] = at.piece
	}
	if op.Mix != nil && r.mix != "" {
		pot := m.mixes[r.mix]
		if pot == nil {
			return fmt.Errorf("%s %s drew from %s, which nobody made", at.piece, at.operation, r.mix)
		}
		pot.drawn += op.Mix.Grams
	}
	return nil
}

func (m *Model) end(at job, when resources.Tick) error {
	list := m.runs[at]
	if len(list) == 0 || list[len(list)-1].end != 0 {
		return fmt.Errorf("%s %s ended and had not begun", at.piece, at.operation)
	}
	list[len(list)-1].end = when
	m.giveBack(at)
	return nil
}

// giveBack frees the tools that are kept until this operation.
func (m *Model) giveBack(at job) {
	product := m.plant.Product(m.product[at.piece])
	for i := range product.Routing {
		op := &product.Routing[i]
		list := m.runs[job{at.piece, op.ID}]
		if len(list) == 0 {
			continue
		}
		last := list[len(list)-1]
		for k, take := range op.Takes {
			until := take.Until
			if until == "" {
				until = op.ID
			}
			if until == at.operation && k < len(last.tools) && m.holder[last.tools[k]] == at.piece {
				delete(m.holder, last.tools[k])
			}
		}
	}
}

func (m *Model) load(e events.Event, d events.LoadData) error {
	switch e.Kind {
	case events.LoadClosed:
		return nil // pieces stand together; nothing is done to them yet
	case events.LoadStarted:
		l := &loadRun{station: e.Station, start: e.At}
		m.loads[d.Load] = l
		for _, x := range d.Pieces {
			at := job{x.Piece, x.Operation}
			l.jobs = append(l.jobs, at)
			r := &run{station: e.Station, load: d.Load, tools: x.Tools, start: e.At}
			if op := m.op(at); op != nil && op.Mix != nil {
				r.mix = d.Mix
			}
			if err := m.start(at, r); err != nil {
				return err
			}
		}
		return nil
	case events.LoadFinished:
		l := m.loads[d.Load]
		if l == nil {
			return fmt.Errorf("load %s ended and had not begun", d.Load)
		}
		l.end = e.At
		for _, at := range l.jobs {
			if err := m.end(at, e.At); err != nil {
				return err
			}
		}
		return nil
	}
	return fmt.Errorf("deed %s: people on the floor do no %s", e.ID, e.Kind)
}

func (m *Model) mix(e events.Event, d events.MixData) error {
	pot := m.mixes[d.Mix]
	switch {
	case e.Kind == events.MixMade && pot == nil:
		m.mixes[d.Mix] = &mix{grams: d.Grams}
	case e.Kind == events.MixDiscarded && pot != nil && !pot.gone:
		pot.gone = true
	default:
		return fmt.Errorf("%s of %s makes no sense", e.Kind, d.Mix)
	}
	return nil
}

// scrap throws a piece away, with what was to be cut from it, and frees its
// tools.
func (m *Model) scrap(serial string) {
	for _, s := range append([]string{serial}, m.parts[serial]...) {
		m.scrapped[s] = true
		for unit, who := range m.holder {
			if who == s {
				delete(m.holder, unit)
			}
		}
	}
}

// result counts a verdict, and says by the plant's rule what it means.
func (m *Model) result(e events.Event, d events.ResultData) error {
	at := job{d.Piece, d.Operation}
	op := m.op(at)
	if op == nil {
		return fmt.Errorf("deed %s: a result of %s %s, which is not in its routing", e.ID, d.Piece, d.Operation)
	}
	v := m.gate[at]
	if v == nil {
		v = &verdicts{}
		m.gate[at] = v
	}
	v.passed = append(v.passed, d.Pass)
	if v.holds = false; d.Pass {
		return nil
	}
	means := quality.Hold
	if r := op.Rule; r != nil {
		if means = r.Fail; means == quality.Rework && v.reworks >= r.Times {
			means = r.Then
		}
	}
	switch means {
	case quality.Rework:
		v.reworks++
	case quality.Remake:
		m.scrap(d.Piece)
	default:
		v.holds = true
	}
	return nil
}

func (m *Model) op(at job) *resources.Operation {
	product := m.plant.Product(m.product[at.piece])
	if product == nil {
		return nil
	}
	return product.Operation(at.operation)
}

// text writes one time an operation was done.
func (r *run) text(at job) string {
	tools := slices.Clone(r.tools)
	slices.Sort(tools)
	return fmt.Sprintf("%s %s on %s from %d to %d, load %q, mix %q, tools %s",
		at.piece, at.operation, r.station, r.start, r.end, r.load, r.mix, strings.Join(tools, " "))
}
