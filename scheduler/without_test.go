// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

// An instant is left when it was open and no cut has it.
func TestWithout(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		has := func(list []resources.Interval, at Tick) bool {
			return slices.ContainsFunc(list, func(x resources.Interval) bool { return x.Start <= at && at < x.End })
		}
		var open, cuts []resources.Interval
		at := Tick(0)
		for range rapid.IntRange(0, 6).Draw(t, "windows") {
			start := at + Tick(rapid.IntRange(0, 4).Draw(t, "closed"))
			at = start + Tick(rapid.IntRange(1, 6).Draw(t, "open"))
			open = append(open, resources.Interval{Start: start, End: at})
		}
		for range rapid.IntRange(0, 5).Draw(t, "cuts") {
			start := Tick(rapid.IntRange(-2, 50).Draw(t, "from"))
			cuts = append(cuts, resources.Interval{Start: start, End: start + Tick(rapid.IntRange(1, 20).Draw(t, "for"))})
		}
		rest := without(open, cuts)
		for i := Tick(-3); i < 80; i++ {
			require.Equal(t, has(open, i) && !has(cuts, i), has(rest, i), "at %d: %v without %v is %v", i, open, cuts, rest)
		}
		for i := range rest {
			require.Less(t, rest[i].Start, rest[i].End)
			require.True(t, i == 0 || rest[i-1].End <= rest[i].Start)
		}
	})
}
