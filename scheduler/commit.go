// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"towpath/events"
)

// Commit turns a proposal into the event that publishes it. The proposal may
// have been made from an older state; it is checked against the state as it is
// now, and any violation means that there is no event: plan again from here.
// The event's version follows the published one, its base is the state's
// sequence, its churn is against the published plan, and its ID is made of what the plan says, so that the same
// proposal gives the same event.
func Commit(s *State, now Tick, p *Plan) (events.Event, []Violation) {
	if found := Check(s, now, p); len(found) > 0 {
		return events.Event{}, found
	}
	plan := *p
	if s.Plan != nil {
		plan.Version = max(plan.Version, s.Plan.Version+1)
	}
	plan.Version = max(plan.Version, 1)
	plan.Churn = ChurnOf(s, &plan)
	text, err := PackPlan(&plan)
	if err != nil {
		return events.Event{}, []Violation{{Kind: BreaksTimes, At: now, Text: err.Error()}}
	}
	sum := sha256.Sum256(text)
	return events.Event{
		ID:    fmt.Sprintf("plan-%d-%s", plan.Version, hex.EncodeToString(sum[:8])),
		Kind:  events.PlanPublished,
		Plant: s.PlantName(),
		At:    now,
		Data:  events.PlanData{Version: plan.Version, Base: s.Seq, Gzip: text, Parts: plan.parts(), Optimal: plan.Optimal, Churn: plan.Churn.event()},
	}, nil
}

// PlantName is what events call the plant: its short name, else its name.
func (s *State) PlantName() string {
	switch {
	case s.Plant == nil:
		return ""
	case s.Plant.ID != "":
		return s.Plant.ID
	}
	return s.Plant.Name
}
