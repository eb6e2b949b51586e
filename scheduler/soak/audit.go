// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"errors"
	"fmt"
	"iter"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// Audit reads the log record by record and folds it for itself. Of each plan
// it asks whether it could be followed when it was published, and which
// stations' next jobs it changed without a reason.
type Audit struct {
	// Tail reads the log again from after a sequence up to another; used when
	// a void asks for it.
	Tail func(after, last uint64) iter.Seq[events.Event]
	// Repair makes of a plan what is told after facts when nobody searches for a
	// better one, Push what comes of it when nobody even thinks about it: its
	// order kept, only later. What a published plan is held against.
	Repair, Push func(*scheduler.Problem, *scheduler.Plan) (*scheduler.Plan, error)

	Records     int
	Rejected    int
	Plans       int
	Unverified  []string
	Unexplained []string
	Changed     int // next jobs that a plan changed, with or without a reason
	Folds       int

	state *scheduler.State
	marks []*scheduler.State // copies on the way, oldest first
	heard []told             // believed, since the last plan and for as long as they are reasons
	last  uint64             // sequence of the last plan
	clock scheduler.Tick     // latest instant named

	// costly are the plans, by sequence, that cost dates against the one before.
	costly map[uint64]bool
}

// markEvery is how many records lie between two copies of the state.
const markEvery = 200

// State is what the log says so far; it belongs to the audit.
func (a *Audit) State() *scheduler.State { return a.state }

// Take reads one record. Unreadable is why it is no event; nil when it is one.
func (a *Audit) Take(seq uint64, e events.Event, unreadable error) error {
	if a.state == nil {
		a.state = scheduler.NewState(nil)
	}
	a.Records++
	if n := len(a.marks); n == 0 || a.state.Seq >= a.marks[n-1].Seq+markEvery {
		a.marks = append(a.marks, a.state.Clone())
	}
	if unreadable != nil {
		a.Rejected++
		a.state.Skip(seq)
		return nil
	}
	e.Seq = seq
	before := a.state
	if e.Kind == events.PlanPublished {
		before = a.state.Clone()
	}
	_, err := a.state.Apply(e)
	if errors.Is(err, scheduler.ErrRebuild) {
		err = a.fold(e)
	}
	var refused *scheduler.Refusal
	switch {
	case errors.As(err, &refused):
		a.Rejected++
		a.state.Skip(seq)
	case err != nil:
		return err
	case e.Kind == events.PlanPublished:
		a.Plans++
		data, _ := e.Data.(events.PlanData)
		a.verify(before, a.state.Plan, data.Asked)
		a.hear(e)
		a.last = e.Seq
	default:
		a.hear(e)
	}
	return nil
}

// verify looks at a plan with the state of the moment before it.
func (a *Audit) verify(s *scheduler.State, plan *scheduler.Plan, asked *events.PlanAsked) {
	for i, v := range scheduler.Check(s, plan.Made, plan) {
		if i == 0 {
			a.Unverified = append(a.Unverified, fmt.Sprintf("plan %d: %s", plan.Version, v.String()))
		}
	}
	if s.Plan == nil {
		return
	}
	gain := gainOf(s, s.Plan, plan)
	if gain.costs {
		if a.costly == nil {
			a.costly = map[uint64]bool{}
		}
		a.costly[a.state.Seq] = true
	}
	was, is := nextJobs(s, s.Plan), nextJobs(s, plan)
	var changed []string // stations
	for i := range s.Plant.Stations {
		id := s.Plant.Stations[i].ID
		if was[id].key != is[id].key && was[id].key != "" && a.near(id, plan.Made, was[id], is[id]) && !together(plan, id, was[id], is[id]) {
			changed = append(changed, id)
		}
	}
	if len(changed) == 0 {
		return
	}
	a.Changed += len(changed)
	broken := scheduler.Check(s, plan.Made, s.Plan)
	if asked != nil && len(broken) > 0 {
		// What facts have made of the plan before is not the search's doing.
		gain = gainOf(s, a.repaired(s, plan.Made), plan)
	}
	for _, id := range changed {
		if !stopped(broken, was[id]) && !stopped(broken, is[id]) && !a.reasoned(id, was[id], is[id], s, plan, asked, gain) && !a.forced(s, plan, was[id]) {
			a.Unexplained = append(a.Unexplained, fmt.Sprintf("plan %d, station %s: next was %s, is %s", plan.Version, id, was[id].key, is[id].key))
		}
	}
}

// near says whether a change of the next job matters to people now: the job
// they were told, or the one they are told instead, begins within the
// station's frozen window, at least an hour. What a station does tomorrow is
// nobody's next job yet.
func (a *Audit) near(station string, now scheduler.Tick, was, is nextJob) bool {
	window := max(resources.Hour, scheduler.FreezeOf(a.state.Plant, a.state.Plant.Station(station)))
	until := now + scheduler.Tick(window)
	return was.start < until || is.key != "" && is.start < until
}

// fold makes the state anew after a void.
func (a *Audit) fold(e events.Event) error {
	a.Folds++
	for i := len(a.marks) - 1; i >= 0; i-- {
		base := a.marks[i]
		state, _, err := scheduler.FoldAfter(base, a.Tail(base.Seq, e.Seq), nil)
		if errors.Is(err, scheduler.ErrTooDeep) {
			continue
		}
		if err != nil {
			return err
		}
		a.marks = a.marks[:i+1]
		a.state = state
		a.state.Skip(e.Seq)
		return nil
	}
	return fmt.Errorf("record %d: its void reaches behind the log's beginning", e.Seq)
}
