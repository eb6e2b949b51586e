// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A program of differences ends at a best solution: none of all those in a
// small box that keep its rows costs less.
func TestDifferencesAreSolved(t *testing.T) {
	const width = 4
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "variables")
		var p differences
		p.reset()
		for range n {
			v := p.add(Tick(rapid.Int64Range(0, width).Draw(t, "value")), rapid.Int64Range(-4, 4).Draw(t, "cost"))
			p.wait(0, v, 0)
			p.wait(v, 0, -width)
		}
		end := func() int32 { return int32(rapid.IntRange(0, n).Draw(t, "end")) }
		for range rapid.IntRange(0, 8).Draw(t, "rows") {
			p.wait(end(), end(), Tick(rapid.Int64Range(-width, width).Draw(t, "least")))
		}
		kept := func(at []Tick) bool {
			for _, r := range p.rows {
				if at[r.to]-at[r.from] < r.least {
					return false
				}
			}
			return true
		}
		priced := func(at []Tick) (sum int64) {
			for v := range at {
				sum += int64(at[v]) * p.cost[v]
			}
			return sum
		}
		before := priced(p.value)
		better := p.solve()
		require.True(t, kept(p.value), "the solution keeps the rows")
		require.Equal(t, better, priced(p.value) < before)

		best := priced(p.value)
		at := make([]Tick, n+1)
		var try func(v int)
		try = func(v int) {
			if v > n {
				if kept(at) {
					require.GreaterOrEqual(t, priced(at), best, "%v costs less than %v", at, p.value)
				}
				return
			}
			for at[v] = 0; at[v] <= width; at[v]++ {
				try(v + 1)
			}
		}
		try(1)
	})
}

// A program that could go on for ever stays where it is.
func TestDifferencesWithoutEnd(t *testing.T) {
	var p differences
	p.reset()
	v := p.add(5, -1)
	p.wait(0, v, 0)
	require.False(t, p.solve())
	require.Equal(t, []Tick{0, 5}, p.value)
}
