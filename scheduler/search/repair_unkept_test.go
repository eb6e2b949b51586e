// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// A tube is wound when all ovens go down for longer than it may wait: that wait is
// lost, and nothing is looked for to keep it. With one oven back in time it is not.
func TestAWaitThatNoOvenCanEndInTimeIsUnkept(t *testing.T) {
	for hours, want := range map[resources.Seconds]int{5: 0, 7: 1} {
		s := bench(t, nil,
			resources.Operation{ID: "wet", Stations: []string{"Y"}, Run: hour},
			resources.Operation{ID: "cure", Stations: []string{"X", "Z"}, Run: 2 * hour,
				After: []resources.Link{{Operation: "wet", Max: 6 * hour, HasMax: true}}})
		at := func(x resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(x*minute) }
		s.Plan = schedtest.NewPlan(s, schedtest.Monday).Put("A-1-01", "wet", "Y", at(0)).Put("A-1-01", "cure", "Z", at(90)).Plan()
		schedtest.Advance(s, s.Plan, at(60))
		for id, long := range map[string]resources.Seconds{"X": hours * hour, "Z": 9 * hour} {
			st := s.Stations[id]
			st.Down, st.Since, st.Until = true, at(60), at(60)+resources.Tick(long)
		}
		p := compile(t, s, at(60))
		got, err := search.Unkept(p)
		require.NoError(t, err)
		require.Equal(t, want, got, "%d hours", hours)
		plan, err := search.Repair(p, s.Plan)
		require.NoError(t, err)
		schedtest.RequireOK(t, s, at(60), plan)
		require.Len(t, plan.Breaches, want)
	}
}

// Whatever has happened at random, no plan keeps a wait that is said to be lost.
func TestNoPlanKeepsWhatIsUnkept(t *testing.T) {
	lost := 0
	rapid.Check(t, func(t *rapid.T) {
		s, now := drawWorkshop(t)
		p, err := scheduler.Compile(s, now)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: 1, Iterations: 20})
		require.NoError(t, err)
		now += resources.Tick(rapid.IntRange(1, 60*60).Draw(t, "minutes") * 60)
		schedtest.Advance(s, r.Plan, now)
		for i := range s.Plant.Stations {
			if hours := rapid.IntRange(0, 12).Draw(t, "hours down"); hours > 0 {
				st := s.Stations[s.Plant.Stations[i].ID]
				st.Down, st.Since, st.Until = true, now, now+resources.Tick(hours*3600)
			}
		}
		p, err = scheduler.Compile(s, now)
		require.NoError(t, err)
		unkept, err := search.Unkept(p)
		require.NoError(t, err)
		lost += unkept
		if plan, err := search.Repair(p, s.Plan); err == nil { // a shop that stands still so long may find none
			require.GreaterOrEqual(t, len(plan.Breaches), unkept)
		}
		if r, err = search.Improve(p, search.Options{Seed: 2, Iterations: 60}); err == nil {
			require.GreaterOrEqual(t, len(r.Plan.Breaches), unkept)
		}
	})
	schedtest.Met(t, lost)
}
