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

// In a large shop a repair leaves what is far as it is and still keeps every
// rule, whatever has happened.
func TestRepairOfWhatIsNear(t *testing.T) {
	schedtest.Long(t)
	one := seasons(t, 400)
	now := one.Plant.StartsAt + resources.Tick(61*hour)
	plan, err := search.Construct(compile(t, one, one.Plant.StartsAt))
	require.NoError(t, err)
	m := at(t, seasons(t, 400), plan, now)
	near, kinds := 0, map[string]bool{}
	for _, h := range happenings(t, m, 2) {
		p := compile(t, h.s, h.now)
		before := h.s.Plan.Work
		got := search.RepairNear(p, h.s.Plan)
		if got == nil {
			continue // it has to look at more
		}
		near++
		kinds[h.kind] = true
		require.Empty(t, scheduler.Check(h.s, h.now, got), h.kind)
		again, err := search.Repair(p, h.s.Plan)
		require.NoError(t, err)
		require.Equal(t, got, again, "%s: the same, byte for byte", h.kind)

		was := map[scheduler.Member]scheduler.Work{}
		for _, w := range before {
			was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w
		}
		far, moved := 0, 0
		for _, w := range got.Work {
			if old, known := was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}]; known && old.Start > h.now+resources.Tick(21*resources.Day) {
				far++
				if old.Start != w.Start || old.Station != w.Station {
					moved++
				}
			}
		}
		require.Greater(t, far, 1000, h.kind)
		require.Less(t, moved, far/10, h.kind)
	}
	require.Greater(t, near, 8)
	for _, kind := range []string{"started", "held", "scrapped", "order added", "tool out", "people away"} {
		require.True(t, kinds[kind], kind)
	}
}

// Where what is near cannot be placed beside the rest, the plan is placed once as it
// was told, and keeps every rule; a broken wait is looked at once more.
func TestRepairOfALargeShopOnceAsTold(t *testing.T) {
	schedtest.Long(t)
	one := seasons(t, 400)
	plan, err := search.Construct(compile(t, one, one.Plant.StartsAt))
	require.NoError(t, err)
	all, placed := 0, 0
	for _, after := range []resources.Seconds{61, 133} {
		m := at(t, seasons(t, 400), plan, one.Plant.StartsAt+resources.Tick(after*hour))
		for _, h := range happenings(t, m, 4) {
			all++
			p := compile(t, h.s, h.now)
			if search.RepairNear(p, h.s.Plan) != nil {
				continue
			}
			got := search.RepairLarge(p, h.s.Plan)
			if got == nil {
				continue
			}
			placed++
			require.Empty(t, scheduler.Check(h.s, h.now, got), h.kind)
			if once, mend := search.PlacedAsTold(p, h.s.Plan); mend == 0 {
				require.Equal(t, once, got, h.kind)
			} else {
				require.LessOrEqual(t, len(got.Breaches), len(once.Breaches), h.kind)
			}
		}
	}
	require.Greater(t, placed, 2)
	require.Less(t, placed, all/4)
}

// Whatever has happened in a small shop at random, what is placed once as it was
// told keeps every rule but waits that facts have broken, and begins nothing sooner
// than told where none is broken.
func TestPlacedAsToldKeepsTheRules(t *testing.T) {
	later := 0
	rapid.Check(t, func(t *rapid.T) {
		s, now := drawWorkshop(t)
		p, err := scheduler.Compile(s, now)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: 1, Iterations: 20})
		require.NoError(t, err)
		now += resources.Tick(rapid.IntRange(1, 60*60).Draw(t, "minutes") * 60)
		schedtest.Advance(s, r.Plan, now)
		now += resources.Tick(rapid.IntRange(0, 90).Draw(t, "minutes late") * 60)
		if st := s.Stations[s.Plant.Stations[rapid.IntRange(0, len(s.Plant.Stations)-1).Draw(t, "station")].ID]; rapid.Bool().Draw(t, "down") {
			st.Down, st.Since, st.Until = true, now, now+resources.Tick(rapid.IntRange(1, 30).Draw(t, "hours down")*3600)
		}
		p, err = scheduler.Compile(s, now)
		require.NoError(t, err)
		got, _ := search.PlacedAsTold(p, s.Plan)
		if got == nil {
			return
		}
		require.Empty(t, scheduler.Check(s, now, got))
		if len(got.Breaches) > 0 {
			return
		}
		told := map[scheduler.Member]resources.Tick{}
		for i := range s.Plan.Work {
			w := &s.Plan.Work[i]
			told[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w.Start
		}
		for i := range got.Work {
			w := &got.Work[i]
			if at, ok := told[scheduler.Member{Piece: w.Piece, Operation: w.Operation}]; ok && w.Status == scheduler.Planned {
				require.GreaterOrEqual(t, w.Start, at, "%s at %s", w.Piece, w.Operation)
				if w.Start > at {
					later++
				}
			}
		}
	})
	schedtest.Met(t, later)
}

// An event that touches nothing moves nothing.
func TestRepairOfWhatIsNearMovesNothingForNothing(t *testing.T) {
	s := seasons(t, 400)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	plan, err = search.RepairWhole(compile(t, s, s.Plant.StartsAt), plan) // a construction's changeovers may be longer than they must
	require.NoError(t, err)
	p := compile(t, s, s.Plant.StartsAt)
	got := search.RepairNear(p, plan)
	require.NotNil(t, got)
	require.Equal(t, plan.Work, got.Work)
	require.Equal(t, plan.Loads, got.Loads)
	require.Equal(t, plan.Mixes, got.Mixes)
}

// A plan from before the plant was declared anew is repaired as a whole: the
// hours of what is far may be others.
func TestRepairAfterANewPlantLooksAtEverything(t *testing.T) {
	s := seasons(t, 400)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	p := compile(t, s, s.Plant.StartsAt)
	p.Declared = plan.Base + 1
	got, err := search.Repair(p, plan)
	require.NoError(t, err)
	want, err := search.RepairWhole(p, plan)
	require.NoError(t, err)
	require.Equal(t, want, got)
}
