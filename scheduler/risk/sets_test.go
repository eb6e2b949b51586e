// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func TestSetsHoldSmallAndLargeNumbers(t *testing.T) {
	x, y := newSet(200), newSet(200)
	require.Equal(t, int32(-1), x.least())
	for _, i := range []int32{0, 63, 64, 127, 128, 199} {
		require.False(t, x.has(i))
		x.add(i)
		require.True(t, x.has(i))
	}
	x.drop(0)
	x.drop(63)
	require.Equal(t, int32(64), x.least())
	some := newSet(200)
	some.add(5)
	some.add(64)
	some.add(199)
	y.addThose(&x, &some)
	require.Equal(t, int32(64), y.least())
	y.drop(64)
	require.Equal(t, int32(199), y.least())
	y.clear()
	require.Equal(t, int32(-1), y.least())
}

// Stations that nothing is done at change nothing, however many they are.
func TestManyStations(t *testing.T) {
	idle := func(plant *resources.Plant) {
		var more []resources.Station
		for i := range 70 {
			x := *plant.Station("PULL")
			x.ID, x.Kind = fmt.Sprintf("IDLE%02d", i), "idle"
			more = append(more, x)
		}
		plant.Stations = append(more, plant.Stations...)
	}
	var ends [2][]outcome
	for k, change := range []func(*resources.Plant){nil, idle} {
		s, plan := shop(t, 1, change)
		g := program(t, s, plan)
		y, sample := g.NewPlayer(), g.NewSample(10, 3)
		for r := range 10 {
			y.Play(sample, r)
		}
		ends[k] = sample.rows
	}
	for i := range ends[0] {
		ends[0][i].why, ends[1][i].why = 0, 0 // these say which station by its number
	}
	require.Equal(t, ends[0], ends[1])
}
