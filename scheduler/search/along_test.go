// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
	"towpath/scheduler"
)

// Two jobs that visit the machines in one order have one route, a third that
// goes the other way has its own.
func TestRoutes(t *testing.T) {
	s := searcherOf(t, [][]instance.Step{
		{on(0, 3), on(1, 2), on(2, 4)},
		{on(0, 5), on(1, 1), on(2, 1)},
		{on(2, 3), on(1, 2), on(0, 4)},
	})
	require.Equal(t, []int32{0, 0, 1}, s.routes)
}

// A piece that passes another along its route goes before it, or after it, on
// every machine.
func TestPassAlong(t *testing.T) {
	s := searcherOf(t, [][]instance.Step{
		{on(0, 3), on(1, 2), on(2, 4)},
		{on(0, 5), on(1, 1), on(2, 1)},
	})
	for _, before := range []bool{true, false, true} {
		s.next.copyFrom(s.now)
		require.True(t, s.passAlong(1, 0, before))
		require.True(t, s.d.decode(s.next))
		s.accept(s.d.assess())
		for k, first := range s.d.m.byPiece[0] {
			second := s.d.m.byPiece[1][k]
			require.Equal(t, before, s.starts[second] < s.starts[first], "machine %d", k)
		}
	}
}

// Nothing passes what has begun: it would count as begun itself, and never move again.
func TestNothingPassesWhatHasBegun(t *testing.T) {
	s := searcherOf(t, [][]instance.Step{{on(0, 3), on(1, 2)}, {on(0, 5), on(1, 1)}})
	s.next.copyFrom(s.now)
	first, second := s.d.m.byPiece[0], s.d.m.byPiece[1]
	s.next.key[first[0]] = firstKey
	require.True(t, s.passAlong(1, 0, true))
	require.Equal(t, s.now.key[second[0]], s.next.key[second[0]])
	require.Equal(t, s.next.key[first[1]]-1, s.next.key[second[1]])
}

// on is a step on a machine, so long.
func on(machine int, time int64) instance.Step {
	return instance.Step{Options: []instance.Option{{Machine: machine, Time: time}}}
}

// searcherOf is a search of a job shop, about to make its first move.
func searcherOf(t *testing.T, jobs [][]instance.Step) *annealer {
	t.Helper()
	c, err := (&instance.Shop{Name: "few", Machines: 3, Jobs: jobs}).Makespan()
	require.NoError(t, err)
	state, err := scheduler.StateOf(c.Plant, c.Lines)
	require.NoError(t, err)
	p, err := scheduler.Compile(state, instance.Start)
	require.NoError(t, err)
	d, err := newDecoder(p)
	require.NoError(t, err)
	g, err := d.byRule(Rules()[0], groupings[0])
	require.NoError(t, err)
	require.True(t, d.decode(g))
	s := &annealer{d: d, rng: rand.New(rand.NewPCG(1, 1))}
	s.begin(g)
	return s
}
