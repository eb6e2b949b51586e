// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"slices"
	"strings"

	"towpath/events"
	"towpath/scheduler"
)

// nextJob is what people at a station are told to do next.
type nextJob struct {
	key    string // what it is; empty: nothing
	pieces []string
	tools  []string
	mix    string
	start  scheduler.Tick
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
			at.key, at.mix, at.start = "load", w.Load, w.Start
			at.pieces = append(at.pieces, w.Piece)
			at.tools = append(at.tools, w.Tools...)
			first[w.Station] = at
			continue
		}
		first[w.Station] = nextJob{key: w.Piece + "/" + w.Operation, pieces: []string{w.Piece}, tools: w.Tools, mix: w.Mix, start: w.Start}
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
		for _, u := range m.Users {
			at.pieces = append(at.pieces, u.Piece)
		}
		first[m.Station] = at
	}
	return first
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

// explained says whether something has happened since the plan before that
// gives a reason for another next job: a fact about the station itself, about
// a piece, tool or mix of the old job or the new one, or one of those that the
// table of reactions answers with another order of things (a breakdown, a
// failed test, a new order, something taken back); or that the old job should
// have begun by now and nobody has begun it.
func (a *Audit) explained(station string, was, is nextJob, plan *scheduler.Plan) bool {
	if was.start < plan.Made {
		return true
	}
	for _, e := range a.since {
		if e.Station == station || scheduler.ReactionTo(e).Then == scheduler.Improve && !passed(e) {
			return true
		}
		for _, j := range []nextJob{was, is} {
			if concerns(e, j) {
				return true
			}
		}
	}
	return false
}

// passed says whether a piece has passed a gate, which is as planned: measured
// or not, it is no reason for another order of things.
func passed(e events.Event) bool {
	d, ok := e.Data.(events.ResultData)
	return ok && d.Pass && d.Decision == ""
}

// concerns says whether an event speaks of a piece, tool or mix of a job.
func concerns(e events.Event, j nextJob) bool {
	piece := func(serial string) bool { return slices.Contains(j.pieces, serial) }
	shares := func(tools []string) bool {
		return slices.ContainsFunc(tools, func(unit string) bool { return slices.Contains(j.tools, unit) })
	}
	switch d := e.Data.(type) {
	case events.OperationData:
		return piece(d.Piece) || shares(d.Tools) || d.Mix != "" && d.Mix == j.mix
	case events.LoadData:
		return slices.ContainsFunc(d.Pieces, func(x events.LoadItem) bool { return piece(x.Piece) || shares(x.Tools) }) || d.Mix != "" && d.Mix == j.mix
	case events.MixData:
		return d.Mix == j.mix
	case events.ToolData:
		return slices.Contains(j.tools, d.Unit)
	case events.PieceData:
		return piece(d.Piece)
	case events.ResultData:
		return piece(d.Piece)
	}
	return false
}
