// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Where everything takes as long as stated, the history is the plan.
func TestCalmHistoryIsThePlan(t *testing.T) {
	s, plan := shop(t, 1, calm)
	g := program(t, s, plan)
	y := g.NewPlayer()
	y.play(newLuck(1, 0, false))
	late, early := 0, 0
	for a := range g.acts {
		switch d := Tick(y.acts[a].end) - g.acts[a].plannedEnd; {
		case y.acts[a].state != done:
		case d > 0:
			late++
			if late < 12 {
				t.Log(g.acts[a].name, g.p.Stations[g.nodes[g.acts[a].planned].station].ID, d, y.nodes[y.acts[a].node].why, Tick(y.acts[a].start)-g.acts[a].plannedStart)
			}
		case d < 0:
			early++
		}
	}
	require.Zero(t, y.forced)
	require.Zero(t, y.breaches)
	require.Zero(t, late, "of %d", len(g.acts))
	require.Zero(t, early)
	for i := range g.lines {
		require.Equal(t, g.lines[i].planned, y.doneAt[i])
	}
}
