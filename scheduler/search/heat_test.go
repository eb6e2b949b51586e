// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
)

// A day's tardiness is taken at the heat of tardiness, whatever lost orders cost; an
// order more that is lost is not taken at all.
func TestEachLevelHasItsHeat(t *testing.T) {
	goal := resources.Objective{Lost: resources.Term{Weight: 1}, Tardiness: resources.Term{Level: 1, Weight: 1}}
	s := &annealer{d: &decoder{m: &model{p: &scheduler.Problem{Goal: goal}}}}
	s.lesson[0] = []float64{20}
	worse := func(lost, tardy int64) float64 {
		return s.heatFor(&value{cost: Cost{lost, tardy}}, float64(lost*1e6+tardy), 1)
	}
	for i := range int64(fewLessons) {
		require.Zero(t, s.hottest(1), "nothing is known yet")
		worse(1, 0)
		worse(0, 100+i)
	}
	require.InDelta(t, 0.05*105, worse(0, 1000), 0.1, "a twentieth of its lesson, as one is of twenty")
	require.Zero(t, worse(1, 0))
	require.InDelta(t, 0.05*105, s.hottest(1), 0.1)
	require.Zero(t, s.hottest(0), "the first moves only go downhill")

	s.bestValue.cost[0] = 1
	require.InDelta(t, 0.05*1e6, worse(1, 0), 1, "where no plan keeps all yet, another may be lost on the way")
	s.bestValue.cost[0] = 0
	require.Zero(t, worse(1, 0))

	s.d.m.p.Goal.Tardiness.Level = 0
	require.InDelta(t, 0.05*1e6, worse(1, 0), 1, "where a lost order is one cost of several")

	s.focus = 1
	require.EqualValues(t, 7, s.heatFor(&value{cost: Cost{0, 5}}, 5, 7), "a level alone has one heat")
}

// What leaves a load with its line leaves the rest in one load, and every activity in
// just one.
func TestLoadsAreSplitByLine(t *testing.T) {
	split := 0
	for name, p := range tinyShops(t) {
		d, err := newDecoder(p)
		require.NoError(t, err)
		g, err := d.byRule(Rules()[0], groupings[len(groupings)-1])
		require.NoError(t, err)
		if !d.decode(g) {
			continue
		}
		s := &annealer{d: d, rng: rand.New(rand.NewPCG(1, 1))}
		s.begin(g)
		for _, a := range s.batch {
			s.next.copyFrom(s.now)
			before := s.next.node[a]
			s.splitLoad(a)
			for _, x := range before.acts {
				require.Contains(t, s.next.node[x].acts, x, name)
				if s.next.node[a] != before {
					require.Equal(t, p.Acts[x].Line == p.Acts[a].Line, slices.Contains(s.next.node[x].acts, a), name)
				}
			}
			if s.next.node[a] != before {
				split++
				require.True(t, d.decode(s.next), name)
			}
		}
	}
	require.Positive(t, split)
}
