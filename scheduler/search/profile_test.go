// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/scheduler"
)

// A copy of a profile shares pages with it until it changes them; the other never
// sees that.
func TestACopiedProfileChangesAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const end = 4 * pageWidth
		var steps []scheduler.CapStep
		for at := Tick(0); at < end; at += Tick(rapid.IntRange(1, int(pageWidth)).Draw(t, "step")) {
			steps = append(steps, scheduler.CapStep{At: at, Cap: rapid.Int64Range(0, 4).Draw(t, "free")})
		}
		p := newProfile(steps, end)
		other := p.copy()
		var taken [][3]int64
		for range rapid.IntRange(0, 5).Draw(t, "takes") {
			from := rapid.Int64Range(0, int64(end)-1).Draw(t, "from")
			to := from + rapid.Int64Range(1, int64(end)-from).Draw(t, "long")
			taken = append(taken, [3]int64{from, to, rapid.Int64Range(-2, 2).Draw(t, "share")})
			x := taken[len(taken)-1]
			other.take(Tick(x[0]), Tick(x[1]), x[2])
		}
		for at := Tick(0); at < end; at += 3600 {
			k := len(steps) - 1
			for steps[k].At > at {
				k--
			}
			want := steps[k].Cap
			require.Equal(t, want, p.at(at))
			for _, x := range taken {
				if Tick(x[0]) <= at && at < Tick(x[1]) {
					want -= x[2]
				}
			}
			require.Equal(t, want, other.at(at))
		}
	})
}

// Seeking finds the step in force whatever was sought before.
func TestASoughtStepIsTheOneInForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := page{steps: []step{{}}}
		for range rapid.IntRange(0, 60).Draw(t, "more steps") {
			g.steps = append(g.steps, step{at: g.steps[len(g.steps)-1].at + Tick(rapid.IntRange(1, 5).Draw(t, "long"))})
		}
		for range rapid.IntRange(1, 30).Draw(t, "questions") {
			at := Tick(rapid.IntRange(-1, 310).Draw(t, "at"))
			want := 0
			for i := range g.steps {
				if g.steps[i].at <= at {
					want = i
				}
			}
			require.Equal(t, want, g.seek(at))
			if last := len(g.steps) - 1; last > 0 && rapid.Bool().Draw(t, "one less") {
				g.steps = g.steps[:last]
			}
		}
	})
}
