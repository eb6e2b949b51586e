// SPDX-License-Identifier: Apache-2.0

package webtest

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"sync"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// past is a digest of all that a shop has taken. Where it is the same, so is the
// state, and the plan for an instant.
type past [sha256.Size]byte

// append puts an event at the end of the log.
func (s *Shop) append(e events.Event) {
	s.log = append(s.log, e)
	if data, ok := e.Data.(events.PlanData); ok {
		data.Gzip = nil // it follows from what was before
		e.Data = data
	}
	text, err := json.Marshal(e)
	if err != nil {
		panic(err) // events are made of what can be written
	}
	s.past = sha256.Sum256(append(s.past[:], text...))
}

// plans are the plans made by this process. Most tests begin alike, and planning is
// most of what they do: what is known is not computed again.
var plans sync.Map // of events.Event, by question

type question struct {
	plant *resources.Plant
	past  past
	seq   uint64
	now   resources.Tick
}

// plan makes a first plan, or repairs the one there is.
func (s *Shop) plan() error {
	q := question{plant: s.plant, past: s.past, seq: s.seq, now: s.now}
	known, ok := plans.Load(q)
	if !ok {
		event, err := s.planned()
		if err != nil {
			return err
		}
		known = event
		plans.Store(q, event)
	}
	event := known.(events.Event)
	event.ID = fmt.Sprintf("plan-%d", s.seq+1)
	return s.take(event)
}

// planned is the plan for now, to be published.
func (s *Shop) planned() (events.Event, error) {
	problem, err := scheduler.Compile(s.state, s.now)
	if err != nil {
		return events.Event{}, err
	}
	var plan *scheduler.Plan
	if s.state.Plan == nil {
		plan, err = search.Construct(problem)
	} else {
		plan, err = search.Repair(problem, s.state.Plan)
	}
	if err != nil {
		return events.Event{}, err
	}
	if s.state.Plan == nil {
		bounds, err := search.Bounds(problem)
		if err != nil {
			return events.Event{}, err
		}
		score := scheduler.Measure(s.state, plan)
		plan.Judge(search.Gaps(bounds, &score), false)
	}
	event, violations := scheduler.Commit(s.state, s.now, plan)
	if len(violations) > 0 {
		return events.Event{}, fmt.Errorf("plan breaks a rule: %s (and %d more)", violations[0], len(violations)-1)
	}
	return event, nil
}
