// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"errors"
	"maps"

	"towpath/resources"
)

// NewState is a plant before anything happened: every station and tool unit
// known, no order. A nil plant gives the state before a plant was declared;
// it accepts nothing but a declaration.
func NewState(p *resources.Plant) *State {
	s := &State{
		Lines:    map[string]*Line{},
		Pieces:   map[string]*Piece{},
		Loads:    map[string]*LoadRun{},
		Mixes:    map[string]*MixRun{},
		Stations: map[string]*StationState{},
		Tools:    map[string]*ToolState{},
		Batches:  map[string]*BatchHold{},
		Absences: map[string]*Absence{},
		voided:   map[string]string{},
	}
	if p == nil {
		return s
	}
	s.Plant = p
	for i := range p.Stations {
		s.Stations[p.Stations[i].ID] = newStation(&p.Stations[i])
	}
	for i := range p.Tools {
		for _, unit := range p.Tools[i].Units {
			s.Tools[unit] = &ToolState{Pool: p.Tools[i].ID}
		}
	}
	return s
}

// newStation is a station nobody has reported from: free, and set up as the
// plant file says.
func newStation(st *resources.Station) *StationState {
	return &StationState{On: make([]Member, max(1, st.Places)), Setup: maps.Clone(st.Initial)}
}

// StateOf is a fresh state with these order lines, for commands that plan from
// files. The error joins a *Refusal for every line that cannot be taken.
func StateOf(p *resources.Plant, lines []resources.OrderLine) (*State, error) {
	s := NewState(p)
	var errs []error
	for _, line := range lines {
		t := s.begin()
		if r := t.addLine(line); r != nil {
			errs = append(errs, r)
			continue
		}
		t.install()
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	s.forgetChanged()
	return s, nil
}
