// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"flag"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

var histories = flag.Int("histories", 60, "histories to measure common luck with")

// Two plans of one shop are told apart better on the same luck: the variance of
// the difference in dates made, over that with luck of their own. README.md has
// the figure of 500 histories.
func TestCommonLuck(t *testing.T) {
	schedtest.Long(t)
	s, one := shop(t, 1, nil)
	p, err := scheduler.Compile(s, one.Made)
	require.NoError(t, err)
	other, err := search.ByRule(p, search.DueDate)
	require.NoError(t, err)
	a, b := program(t, s, one), program(t, s, other)
	n := *histories
	first := sampled(t, a, n, 1)
	common := variance(difference(first, sampled(t, b, n, 1), n))
	apart := variance(difference(first, sampled(t, b, n, 2), n))
	t.Logf("%d histories: variance of the difference on common luck %.2f of that on luck of their own", n, common/apart)
	require.Positive(t, common, "two plans that differ")
	require.Less(t, common, apart)
}

// difference is how many more dates the second sample makes in each history.
func difference(a, b *Sample, n int) []float64 {
	out := make([]float64, n)
	count := func(s *Sample, r int) (made float64) {
		for o := range s.g.orders {
			if s.rows[r*len(s.g.orders)+o].made {
				made++
			}
		}
		return made
	}
	for r := range n {
		out[r] = count(b, r) - count(a, r)
	}
	return out
}

func variance(x []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum / float64(len(x)-1)
}
