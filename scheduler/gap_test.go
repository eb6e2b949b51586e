// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

func TestJudgeSaysOptimalOnlyWherePlanAndBoundMeet(t *testing.T) {
	part := func(weight, value, bound int64) scheduler.Gap {
		return scheduler.Gap{Part: "tardiness", Unit: "s", Weight: weight, Value: value, Bound: bound}
	}
	for _, c := range []struct {
		name            string
		gaps            []scheduler.Gap
		proven          bool
		judged, perfect bool
	}{
		{"nothing known", nil, false, true, false},
		{"met", []scheduler.Gap{part(1, 7, 7), part(2, 0, 0)}, false, true, true},
		{"a gap", []scheduler.Gap{part(1, 7, 7), part(1, 8, 7)}, false, true, false},
		{"a gap where nothing is weighed", []scheduler.Gap{part(1, 7, 7), part(0, 8, 7)}, false, true, true},
		{"a gap, proven otherwise", []scheduler.Gap{part(1, 8, 7)}, true, true, true},
		{"a bound of other facts", []scheduler.Gap{part(1, 6, 7)}, true, false, false},
	} {
		p := scheduler.Plan{Optimal: true, Gaps: []scheduler.Gap{part(1, 1, 1)}}
		require.Equal(t, c.judged, p.Judge(c.gaps, c.proven), c.name)
		require.Equal(t, c.perfect, p.Optimal, c.name)
		if !c.judged {
			require.Empty(t, p.Gaps, c.name)
		}
	}
}

// A plan published with its gaps has them in the event, for those who do not
// unpack it, and again when it is read back.
func TestPublicationCarriesGaps(t *testing.T) {
	s := schedtest.State(schedtest.Workshop(), resources.OrderLine{Order: "A", Line: "1", Product: "HS", Quantity: 2, Due: schedtest.Monday + 40*3600, Weight: 1})
	p, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	plan, err := search.Construct(p)
	require.NoError(t, err)
	bounds, err := search.Bounds(p)
	require.NoError(t, err)
	score := scheduler.Measure(s, plan)
	require.True(t, plan.Judge(search.Gaps(bounds, &score), false))
	e, broken := scheduler.Commit(s, schedtest.Monday, plan)
	require.Empty(t, broken)
	require.NoError(t, events.Validate(e))
	parts := e.Data.(events.PlanData).Parts
	require.Len(t, parts, len(search.Parts()))
	for i, part := range parts {
		require.Equal(t, plan.Gaps[i].Value, part.Value)
		require.Equal(t, plan.Gaps[i].Bound, part.Bound)
		require.LessOrEqual(t, part.Bound, part.Value)
	}
	_, err = s.Apply(e)
	require.NoError(t, err)
	require.Equal(t, plan.Gaps, s.Plan.Gaps)
}
