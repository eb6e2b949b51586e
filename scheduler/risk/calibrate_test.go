// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/schedtest"
)

func sampled(t *testing.T, g *Program, n int, seed uint64) *Sample {
	t.Helper()
	_, s, err := Play(g, Options{Replications: n, Seed: seed})
	require.NoError(t, err)
	return s
}

// What is said comes true as often as said, within the 99.9 % interval; said of
// a shop where nothing goes wrong, it does not.
func TestCalibration(t *testing.T) {
	schedtest.Long(t)
	s, plan := shop(t, 1, nil)
	g := program(t, s, plan)
	const n = 250
	happened := sampled(t, g, n, 2)
	c := NewCalibration(1)
	c.Add(sampled(t, g, n, 1), n, happened, n)
	levels := c.Levels(0.999)
	require.Len(t, levels, len(Levels))
	for i, l := range levels {
		require.InDelta(t, Levels[i], l.Said, 0)
		require.Equal(t, n, l.N)
		require.True(t, l.Holds(), "%+v", l)
	}
	events := 0
	for _, l := range c.Dates(0.999) {
		require.True(t, l.Holds(), "%+v", l)
		events += l.N
	}
	require.Equal(t, n, events)

	s, plan = shop(t, 1, calm)
	naive := NewCalibration(1)
	naive.Add(sampled(t, program(t, s, plan), 50, 1), 50, happened, n)
	for _, l := range naive.Levels(0.999) {
		require.False(t, l.Holds(), "%+v", l)
		require.Less(t, l.Happened, l.Said)
	}
}

// Counts and intervals, by hand: Clopper and Pearson's for 4 of 20 at 90 % is
// that of NIST/SEMATECH e-Handbook 7.2.4.1.
func TestCalibrationCounts(t *testing.T) {
	c := NewCalibration(1)
	for i := range 20 {
		c.levels[0].add(0.5, i < 4)
		c.dates[9].add(0.91, i < 4)
	}
	l := c.Levels(0.90)
	require.Len(t, l, 1)
	require.InDelta(t, 0.2, l[0].Happened, 1e-12)
	require.InDelta(t, 0.071354, l[0].Low, 1e-6)
	require.InDelta(t, 0.401029, l[0].High, 2e-6)
	require.False(t, l[0].Holds())
	d := c.Dates(0.90)
	require.Len(t, d, 1)
	require.InDelta(t, 0.91, d[0].Said, 1e-12)
	require.Empty(t, NewCalibration(1).Levels(0.9))
}
