// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// What must follow in time can be expected to when it could begin at some instant
// of that time; and people who put off what comes before it look again at the
// first instant from which it can.
func TestWhatMustFollowIsExpectedWithinItsTime(t *testing.T) {
	s, plan := shop(t, 1, nil)
	g := program(t, s, plan)
	y := g.NewPlayer()
	y.luck = newLuck(1, 0, false)
	y.reset()
	random := rand.New(rand.NewPCG(5, 6))
	yes, no, later := 0, 0, 0
	for i := range g.arcs {
		arc := &g.arcs[i]
		if !arc.clocks() || g.begins[y.acts[arc.to].mode] == nil {
			continue
		}
		d, planned := g.begins[y.acts[arc.to].mode], Tick(y.nodes[y.acts[arc.to].node].start)
		could := func(from, by Tick) bool {
			from = max(from, planned)
			for _, on := range d.on {
				if max(from, on.start) <= min(by, on.end-1) {
					return true
				}
			}
			return false
		}
		from := Tick(random.IntN(40 * int(resources.Day)))
		by := from + Tick(arc.most-arc.least)
		require.Equal(t, could(from, by), y.follows(arc.to, from, by))
		if could(from, by) {
			yes++
			continue
		}
		no++
		wait := y.untilFollowed(arc.to, by)
		require.Positive(t, wait)
		require.False(t, could(from+wait-1, by+wait-1))
		if could(from+wait, by+wait) {
			later++
		}
	}
	require.Greater(t, yes, 20)
	require.Greater(t, no, 20)
	require.Greater(t, later, no/2)
}
