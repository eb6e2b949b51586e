// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// told is a shop with a frozen window of an hour and one operation published to
// start so much later.
func told(t *testing.T, later resources.Seconds) *scheduler.State {
	t.Helper()
	s := bench(t, nil, resources.Operation{ID: "do", Stations: []string{"Y"}, Run: hour})
	s.Plant.Freeze = hour
	s.Plan = planAt(s, later)
	return s
}

// planAt is the plan that does it so much later.
func planAt(s *scheduler.State, later resources.Seconds) *scheduler.Plan {
	return schedtest.NewPlan(s, schedtest.Monday).Put("A-1-01", "do", "Y", schedtest.Monday+resources.Tick(later)).Plan()
}

// An improvement that began before the last publication is fitted to it: what
// has been told stays, and nothing comes into the frozen window from behind.
func TestOldProposalKeepsWhatHasBeenTold(t *testing.T) {
	tests := []struct {
		name                      string
		published, proposed, want resources.Seconds
	}{
		{"later than told", 30 * minute, 3 * hour, 30 * minute},
		{"sooner than told", 30 * minute, 10 * minute, 30 * minute},
		{"into the window", 5 * hour, 10 * minute, hour},
		{"behind the window", 5 * hour, 3 * hour, 3 * hour},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := told(t, tt.published)
			plan, err := search.Repair(compile(t, s, schedtest.Monday), planAt(s, tt.proposed))
			require.NoError(t, err)
			schedtest.RequireOK(t, s, schedtest.Monday, plan)
			require.Equal(t, schedtest.Monday+resources.Tick(tt.want), plan.Work[0].Start)
		})
	}
}

// Where dates suffer the gaps are closed, but nothing comes into the frozen
// window that nobody there expects.
func TestClosedGapsLeaveTheFrozenWindow(t *testing.T) {
	s := told(t, 8*hour)
	s.Lines[scheduler.LineKey("A", "1")].Due = schedtest.Monday + resources.Tick(9*hour)
	s.Plant.Stations[1].Stops = []resources.Exception{{Open: true, Start: schedtest.Monday + resources.Tick(8*hour), Long: 6 * hour}}
	plan, err := search.Repair(compile(t, s, schedtest.Monday), s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	require.Equal(t, schedtest.Monday+resources.Tick(hour), plan.Work[0].Start)
}

// What follows begun work within a maximum wait keeps the time people were
// told, as long as the wait holds there; else it begins shortly before the wait
// is over, or at once when that has come.
func TestWaitThatHoldsPullsNothingForward(t *testing.T) {
	for _, tt := range []struct {
		wait, want resources.Seconds
	}{{8 * hour, 6 * hour}, {4 * hour, 5*hour - 10*minute}, {5 * minute, hour}} {
		s := bench(t, nil,
			resources.Operation{ID: "a", Stations: []string{"X"}, Run: hour},
			resources.Operation{ID: "b", Stations: []string{"Y"}, Run: hour, After: []resources.Link{{Operation: "a", Max: tt.wait, HasMax: true}}})
		s.Plan = schedtest.NewPlan(s, schedtest.Monday).Put("A-1-01", "a", "X", schedtest.Monday).
			Put("A-1-01", "b", "Y", schedtest.Monday+resources.Tick(6*hour)).Plan()
		now := schedtest.Monday + resources.Tick(hour)
		schedtest.Advance(s, s.Plan, now)
		plan, err := search.Repair(compile(t, s, now), s.Plan)
		require.NoError(t, err)
		schedtest.RequireOK(t, s, now, plan)
		require.Equal(t, schedtest.Monday+resources.Tick(tt.want), plan.Work[1].Start, "wait %d", tt.wait)
	}
}
