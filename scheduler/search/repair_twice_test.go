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

// Whatever has happened, once the plan is put right a second repair finds
// nothing more to put right: people who follow it are left alone. That holds
// for waits that are broken for good, too.
func TestARepairedPlanIsRepairedToItself(t *testing.T) {
	schedtest.Long(t)
	one := seasons(t, 60)
	plan, err := search.Construct(compile(t, one, one.Plant.StartsAt))
	require.NoError(t, err)
	seen, breaches := 0, 0
	for _, hours := range []resources.Seconds{9, 31, 61} {
		m := at(t, seasons(t, 60), plan, one.Plant.StartsAt+resources.Tick(hours*hour))
		for _, h := range happenings(t, m, 3) {
			first, err := search.Repair(compile(t, h.s, h.now), h.s.Plan)
			require.NoError(t, err, h.kind)
			require.Empty(t, scheduler.Check(h.s, h.now, first))
			h.s.Plan = first
			again, err := search.Repair(compile(t, h.s, h.now), first)
			require.NoError(t, err)
			seen++
			breaches += len(first.Breaches)
			churn := scheduler.ChurnBetween(h.s.Plant, first, again)
			if churn.Moved > 0 {
				t.Errorf("%s at %d: %d of %d moved, %d near, breaches %d then %d", h.kind, h.now, churn.Moved, churn.Compared, churn.Near, len(first.Breaches), len(again.Breaches))
			}
		}
	}
	require.Greater(t, seen, 30)
	require.Positive(t, breaches)
}
