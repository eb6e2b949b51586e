// SPDX-License-Identifier: Apache-2.0

package main

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/soak/live"
	"towpath/testdata/demo"
)

// Two days of a part of the demo, over the real bus and store, for two
// seeds, with a change of the plant on the second and people who are away: nothing is
// lost or counted twice, every plan is verified, and the state is what was really done.
func TestSoakAccountsForEveryFact(t *testing.T) {
	o := soakOptions{days: 2}
	require.NoError(t, o.files(nil))
	odds, away := live.Ordinary(), 0
	odds.Absent, odds.Told = 0.2, 0.8 // two days are short
	seeds, orders := []uint64{1, 2}, o.in.lines[1:4]
	if testing.Short() {
		seeds, orders = seeds[:1], orders[:2]
	}
	for _, seed := range seeds {
		r, err := soakIn(t.Context(), t.TempDir(), live.Options{
			Plant: o.in.plant, PlantFile: string(o.in.plantText), Orders: orders, Days: o.days, Seed: seed, Iterations: 10, Odds: odds,
		})
		require.NoError(t, err)
		require.Zero(t, r.Lost+r.Doubled+r.PlansUnverified, "seed %d: %+v", seed, r)
		require.True(t, r.StateEqualsAudit && r.StateIsReplay && r.StateIsModel, "seed %d: %+v", seed, r)
		require.NotZero(t, r.Deeds)
		require.NotZero(t, r.Changed+r.Kept, "the plant is changed while people work")
		away += r.Away
		t.Logf("%+v", r)
	}
	require.NotZero(t, away, "people are told to be away while others work")
}

// A trial has ten times the material that the plant file names, and nothing
// else in it changes.
func TestSoakStocksUp(t *testing.T) {
	o := soakOptions{days: 1}
	require.NoError(t, o.files(nil))
	plain, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plain, "%v", found)
	require.NotEmpty(t, plain.Materials)
	for i := range plain.Materials {
		plain.Materials[i].Stock *= 10
	}
	require.Equal(t, plain.Materials, o.in.plant.Materials)
	require.Equal(t, plain.Products, o.in.plant.Products)
	require.Equal(t, plain.Stations, o.in.plant.Stations)
}
