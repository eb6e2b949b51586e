// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// In a large shop a repair leaves what is far as it is and still keeps every
// rule, whatever has happened.
func TestRepairOfWhatIsNear(t *testing.T) {
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
	for _, kind := range []string{"started", "held", "scrapped", "order added", "tool out"} {
		require.True(t, kinds[kind], kind)
	}
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
