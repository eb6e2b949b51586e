// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// The times laid out beforehand are those that asking station and crews finds.
func TestBeginsAreWhenStationAndPeopleAreThere(t *testing.T) {
	s, plan := shop(t, 1, nil)
	g := program(t, s, plan)
	y := g.NewPlayer()
	y.luck = newLuck(1, 0, false)
	y.reset()
	random := rand.New(rand.NewPCG(3, 4))
	yes, no := 0, 0
	for m, d := range g.begins {
		if d == nil {
			continue
		}
		way := &g.ways[m]
		st := &g.stations[way.station]
		for range 500 {
			at := Tick(random.IntN(60 * int(resources.Day)))
			want := y.onShift(way, int(way.opens), at, at+way.opening()) < 0
			if want && !st.always {
				want = false
				for _, open := range st.open {
					want = want || open.start <= at && at < open.end
				}
			}
			require.Equal(t, want, y.onDuty(d, at, at+1), "%s at %d", g.p.Stations[way.station].ID, at)
			if want {
				yes++
			} else {
				no++
			}
		}
	}
	require.Greater(t, yes, 1000)
	require.Greater(t, no, 1000)
}

// Where people may be absent nothing is laid out: histories differ.
func TestBeginsAreNotLaidWherePeopleMayBeAbsent(t *testing.T) {
	s, plan := shop(t, 1, func(plant *resources.Plant) {
		for i := range plant.Crews {
			plant.Crews[i].Absence = 0.1
		}
	})
	g := program(t, s, plan)
	for _, d := range g.begins {
		require.Nil(t, d)
	}
}

func TestSpansTogetherAndInCommon(t *testing.T) {
	either := either([]span{{1, 3}, {5, 8}}, []span{{3, 4}, {7, 9}})
	require.Equal(t, []span{{1, 4}, {5, 9}}, either)
	require.Equal(t, []span{{2, 4}, {5, 6}}, both(either, []span{{2, 6}, {9, 12}}))
	require.Empty(t, both(either, nil))
}
