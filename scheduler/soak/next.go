// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"slices"
	"strings"

	"towpath/scheduler"
)

// nextJob is what people at a station are told to do next.
type nextJob struct {
	key    string // what it is; empty: nothing
	pieces []string
	// operation that is done to the pieces; empty: they take from a mix.
	operation string
	tools     []string
	crews     []string // whose people it needs
	mix       string
	start     scheduler.Tick // people begin with its changeover
}

// nextJobs is the next job of each station by a plan and what has begun: the
// first piece, load or mix that has not.
func nextJobs(s *scheduler.State, p *scheduler.Plan) map[string]nextJob {
	first := map[string]nextJob{}
	for i := range p.Work {
		w := &p.Work[i]
		at, known := first[w.Station]
		if known && (w.Load == "" || at.key != "load" || at.mix != w.Load) || begun(s, w) {
			continue
		}
		if w.Load != "" { // its members follow; the name of a load may change, what is in it counts
			at.key, at.mix, at.start, at.operation = "load", w.Load, w.Setup, w.Operation
			at.pieces = append(at.pieces, w.Piece)
			at.tools = append(at.tools, w.Tools...)
			at.crews = append(at.crews, crewsOf(w)...)
			first[w.Station] = at
			continue
		}
		first[w.Station] = nextJob{key: w.Piece + "/" + w.Operation, pieces: []string{w.Piece}, operation: w.Operation, tools: w.Tools, crews: crewsOf(w), mix: w.Mix, start: w.Setup}
	}
	for id, at := range first {
		if at.key == "load" {
			slices.Sort(at.pieces)
			at.key, at.mix = "load of "+strings.Join(at.pieces, " "), ""
			first[id] = at
		}
	}
	for i := range p.Mixes {
		m := &p.Mixes[i]
		at, known := first[m.Station]
		if s.Mixes[m.ID] != nil || known && at.start <= m.Start {
			continue
		}
		at = nextJob{key: "mix of " + m.Resin, mix: m.ID, start: m.Start}
		if m.Crew != "" {
			at.crews = []string{m.Crew}
		}
		for _, u := range m.Users {
			at.pieces = append(at.pieces, u.Piece)
		}
		first[m.Station] = at
	}
	return first
}

// crewsOf is whose people a planned step needs.
func crewsOf(w *scheduler.Work) []string {
	var crews []string
	for i := range w.People {
		crews = append(crews, w.People[i].Crew)
	}
	return crews
}

// begun says whether a planned step has begun, or will not come.
func begun(s *scheduler.State, w *scheduler.Work) bool {
	p := s.Pieces[w.Piece]
	if p == nil || p.Scrapped {
		return true
	}
	for i := range p.Ops {
		if p.Ops[i].Operation == w.Operation {
			return p.Ops[i].Status != scheduler.Planned
		}
	}
	return true
}
