// SPDX-License-Identifier: Apache-2.0

package relax_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/relax"
	"towpath/scheduler/schedtest"
)

// An order that stands behind a load of others is saved by a seat in it, and the
// answer names the load.
func TestTheAnswerSaysWhatIsDoneOtherwise(t *testing.T) {
	p := shop()
	p.Stations[0].Places, p.Stations[1].Batch = 4, &resources.Batch{Capacity: map[string]int64{"places": 2}}
	p.Products[0].Routing[1].Size = map[string]int64{"places": 1}
	s := schedtest.State(p, line("A", 1, 5*hour), line("B", 2, 40*hour))
	at := func(h resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(h*hour) }
	member := func(piece string) scheduler.Member { return scheduler.Member{Piece: piece, Operation: "pull"} }
	b := schedtest.NewPlan(s, schedtest.Monday)
	b.Put("A-1-01", "wind", "W", at(0), schedtest.Tools("M-1")).
		Put("B-1-01", "wind", "W", at(0), schedtest.Tools("M-2"), schedtest.Place(2)).
		Put("B-1-02", "wind", "W", at(0), schedtest.Tools("M-3"), schedtest.Place(3)).
		Load("L-1", "B", at(2), []scheduler.Member{member("B-1-01"), member("B-1-02")}).
		Load("L-2", "B", at(4), []scheduler.Member{member("A-1-01")})
	plan := b.Plan()
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	q, err := relax.Ask(s, schedtest.Monday, plan, "A", relax.Effort{Iterations: 60, Seed: 1})
	require.NoError(t, err)
	a := solve(t, q)
	first := a.Saving()[0]
	require.Equal(t, relax.Search, first.Kind)
	require.Len(t, first.Means, 1)
	require.Regexp(t, `^a different load: pull at B, Mon 2 Mar \d\d:\d\d instead of Mon 2 Mar \d\d:\d\d, with `, first.Means[0])
	for _, r := range a.Relaxations {
		if !r.Saved && r.Earlier <= 0 {
			require.Empty(t, r.Means, "%s does nothing for the order", r.Key)
		}
	}
}
