// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

const (
	minute = resources.Tick(resources.Minute)
	hour   = resources.Tick(resources.Hour)
)

func TestCheckAcceptsAPlanThoughtOutByHand(t *testing.T) {
	s, p := schedtest.WorkshopPlan()
	schedtest.RequireOK(t, s, schedtest.Monday, p)
}

// Whatever has happened of a good plan, the rest of it stays good.
func TestCheckAcceptsAPlanHalfDone(t *testing.T) {
	_, p := schedtest.WorkshopPlan()
	for at := schedtest.Monday; at < schedtest.Monday+27*hour; at += 7 * minute {
		s, _ := schedtest.WorkshopPlan()
		schedtest.RequireOK(t, s, at, schedtest.Advance(s, p, at))
	}
}

func TestCheckWithoutAPlan(t *testing.T) {
	s, _ := schedtest.WorkshopPlan()
	schedtest.RequireKind(t, s, schedtest.Monday, nil, scheduler.BreaksCoverage)
	schedtest.RequireKind(t, s, schedtest.Monday, &scheduler.Plan{}, scheduler.BreaksCoverage)
	require.Empty(t, scheduler.Check(schedtest.State(schedtest.Workshop()), schedtest.Monday, &scheduler.Plan{}),
		"no orders, nothing to plan")
}
