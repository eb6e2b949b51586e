// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"maps"
	"slices"

	"towpath/events"
	"towpath/resources"
)

// change is one event on its way into a state. What it touches is copied,
// changed here, and put in place by install only when all of it is in order;
// dropping the change leaves the state as it was.
type change struct {
	s        *State
	e        events.Event
	plant    *resources.Plant // the plant as it will be
	lines    overlay[Line]
	pieces   overlay[Piece]
	loads    overlay[LoadRun]
	mixes    overlay[MixRun]
	stations overlay[StationState]
	tools    overlay[ToolState]
	batches  overlay[BatchHold]
	absences overlay[Absence]
	file     string              // of a newly declared plant
	adopted  []resources.Adopted // on top of it
	declared string              // ID of the event that declares it
	plan     *publication
	notes    []Note
}

// overlay is changed copies over a map of the state; nil means deleted.
type overlay[V any] struct {
	base map[string]*V
	own  map[string]*V
}

func (o *overlay[V]) reset(base map[string]*V) {
	o.base = base
	if o.own == nil {
		o.own = map[string]*V{}
	}
	clear(o.own)
}

// look is for reading; nil when there is none.
func (o *overlay[V]) look(key string) *V {
	if len(o.own) > 0 {
		if v, ok := o.own[key]; ok {
			return v
		}
	}
	return o.base[key]
}

// edit is for writing; nil when there is none. Slices and maps inside are
// still shared: replace them, do not write into them.
func (o *overlay[V]) edit(key string) *V {
	if v, ok := o.own[key]; ok {
		return v
	}
	v := o.base[key]
	if v == nil {
		return nil
	}
	c := *v
	o.own[key] = &c
	return &c
}

func (o *overlay[V]) put(key string, v *V) { o.own[key] = v }
func (o *overlay[V]) drop(key string)      { o.own[key] = nil }

// install writes the copies back and tells which keys it touched.
func (o *overlay[V]) install(prefix string, touched map[string]struct{}) {
	for key, v := range o.own {
		if v == nil {
			delete(o.base, key)
		} else {
			o.base[key] = v
		}
		touched[prefix+key] = struct{}{}
	}
}

// begin is a change with nothing in it yet.
func (s *State) begin() *change {
	if s.scratch == nil {
		s.scratch = &change{}
	}
	t := s.scratch
	t.s, t.e, t.plant, t.file, t.adopted, t.declared, t.plan, t.notes = s, events.Event{}, s.Plant, "", nil, "", nil, nil
	t.lines.reset(s.Lines)
	t.pieces.reset(s.Pieces)
	t.loads.reset(s.Loads)
	t.mixes.reset(s.Mixes)
	t.stations.reset(s.Stations)
	t.tools.reset(s.Tools)
	t.batches.reset(s.Batches)
	t.absences.reset(s.Absences)
	return t
}

// install makes the change true.
func (t *change) install() {
	s := t.s
	if s.changed == nil {
		s.changed = map[string]struct{}{}
	}
	t.lines.install("line/", s.changed)
	t.pieces.install("piece/", s.changed)
	t.loads.install("load/", s.changed)
	t.mixes.install("mix/", s.changed)
	t.stations.install("station/", s.changed)
	t.tools.install("tool/", s.changed)
	t.batches.install("batch/", s.changed)
	t.absences.install("absence/", s.changed)
	if t.plant != s.Plant {
		s.Plant, s.PlantFile, s.Adopted = t.plant, t.file, t.adopted
		s.plants = append(slices.Clip(s.plants), t.declared)
		s.changed[keyPlant] = struct{}{}
	}
	if t.plan != nil {
		s.planned, s.Plan = t.plan, t.plan.plan
		s.changed[keyPlan] = struct{}{}
	}
}

func (t *change) note(about, format string, args ...any) {
	t.notes = append(t.notes, Note{About: about, Text: fmt.Sprintf(format, args...)})
}

// editPiece is a copy whose operations may be written into.
func (t *change) editPiece(serial string) *Piece {
	_, own := t.pieces.own[serial]
	p := t.pieces.edit(serial)
	if p != nil && !own {
		p.Ops = slices.Clone(p.Ops)
	}
	return p
}

// editStation is a copy whose places may be written into.
func (t *change) editStation(id string) *StationState {
	_, own := t.stations.own[id]
	st := t.stations.edit(id)
	if st == nil || own {
		return st
	}
	st.On = slices.Clone(st.On)
	if plant := t.plant.Station(id); plant != nil {
		for len(st.On) < plant.Places || len(st.On) == 0 {
			st.On = append(st.On, Member{})
		}
	}
	return st
}

// product is that of a piece; the plant always has it.
func (t *change) product(p *Piece) *resources.Product { return t.plant.Product(p.Product) }

// siblings calls visit for every piece of the order line, in the order they
// were made.
func (t *change) siblings(p *Piece, visit func(*Piece)) {
	line := t.lines.look(LineKey(p.Order, p.Line))
	if line == nil {
		return
	}
	for _, serial := range line.Pieces {
		if other := t.pieces.look(serial); other != nil {
			visit(other)
		}
	}
}

// shafts calls visit for every shaft of a tube that is not scrapped.
func (t *change) shafts(tube *Piece, visit func(*Piece)) {
	if tube.Shaft {
		return
	}
	t.siblings(tube, func(p *Piece) {
		if p.Shaft && p.Parent == tube.Serial && !p.Scrapped {
			visit(p)
		}
	})
}

// Clone is an independent state with the same content. It costs a copy of the
// maps, not of what is in them. The first clone after an event was applied
// settles the record of IDs and so writes to s; of a state nothing was applied
// to since it was cloned, several goroutines may make clones at once.
func (s *State) Clone() *State {
	c := *s
	c.Lines = maps.Clone(s.Lines)
	c.Pieces = maps.Clone(s.Pieces)
	c.Loads = maps.Clone(s.Loads)
	c.Mixes = maps.Clone(s.Mixes)
	c.Stations = maps.Clone(s.Stations)
	c.Tools = maps.Clone(s.Tools)
	c.Batches = maps.Clone(s.Batches)
	c.Absences = maps.Clone(s.Absences)
	c.seen = s.seen.share()
	c.voided = maps.Clone(s.voided)
	c.changed, c.fresh = nil, nil
	c.scratch = nil
	return &c
}
