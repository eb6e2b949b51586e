// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
)

// Looking back for the last free time finds what trying every instant does.
func TestLastTimesFreeAreThose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const end = 3 * pageWidth
		// Steps far apart and close together, on both sides of where pages meet.
		instant := rapid.OneOf(rapid.Int64Range(0, 12), rapid.Int64Range(int64(pageWidth)-6, int64(pageWidth)+6))
		steps := []scheduler.CapStep{{At: 0, Cap: 2}}
		for at := range 4 {
			next := Tick(instant.Draw(t, "step")) + Tick(at)
			if next > steps[len(steps)-1].At {
				steps = append(steps, scheduler.CapStep{At: next, Cap: rapid.Int64Range(0, 2).Draw(t, "cap")})
			}
		}
		crew := newProfile(steps, end)
		var line timeline
		var open []resources.Interval
		for range rapid.IntRange(0, 3).Draw(t, "busy") {
			from := Tick(instant.Draw(t, "from"))
			to := from + Tick(rapid.Int64Range(1, 5).Draw(t, "long"))
			crew.take(from, to, 1)
			if line.free(from, to) {
				line.insert(slot{from: from, start: from, to: to})
			}
			if len(open) == 0 || open[len(open)-1].End < from {
				open = append(open, resources.Interval{Start: from, End: to})
			}
		}
		length := Tick(rapid.Int64Range(1, 5).Draw(t, "length"))
		t0 := Tick(instant.Draw(t, "from"))
		share := rapid.Int64Range(1, 2).Draw(t, "share")
		last := func(free func(at Tick) bool) Tick {
			at := t0
			for ; at >= 0 && !free(at); at-- {
			}
			return at
		}
		require.Equal(t, last(func(at Tick) bool { return crew.fit(at, Seconds(length), share) == at }),
			crew.fitBefore(t0, Seconds(length), share), "people")
		require.Equal(t, last(func(at Tick) bool { return line.freeFrom(at, length) == at }),
			max(-1, line.freeBefore(t0, length)), "a place")
		require.Equal(t, last(func(at Tick) bool { return openFrom(open, at, length) == at }),
			openBefore(open, t0, length), "opening hours")
	})
}
