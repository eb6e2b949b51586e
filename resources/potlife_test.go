// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

// The rule of thumb "pot life halves every 10 °C" is common practice; as an
// Arrhenius law from 25 to 35 °C it means an activation energy of 52.9 kJ/mol
// (worked out).
func TestHalvingMeansAnEnergy(t *testing.T) {
	require.InDelta(t, 52_900, resources.ActivationEnergy(25, 2, 35, 1), 100)
	require.InDelta(t, 0.5, resources.ArrheniusFactor(resources.ActivationEnergy(25, 2, 35, 1), 25, 35), 1e-12)
}

// The demo shop's amine system (invented): 90 min at 30 °C. The plain halving
// rule says 63.6 at 35 °C and 127.3 at 25 °C; Arrhenius' law, halving from 25
// to 35 °C, 64.0 and 128.0.
func TestPotLifeOfTheDemoResin(t *testing.T) {
	r := resources.Resin{Life: 90 * resources.Minute, ReferenceC: 30, HalvingC: 10}
	require.Equal(t, 90*resources.Minute, r.LifeAt(30))
	require.InDelta(t, 64, float64(r.LifeAt(35))/60, 0.5)
	require.InDelta(t, 127, float64(r.LifeAt(25))/60, 1.1)
	require.InDelta(t, 2*float64(r.LifeAt(35)), float64(r.LifeAt(25)), 2)
	r.HalvingC = 0
	require.Equal(t, 90*resources.Minute, r.LifeAt(80))
}

func TestPotLifeFallsWithTemperature(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := resources.Resin{Life: resources.Seconds(rapid.Int64Range(60, 864000).Draw(t, "life")),
			ReferenceC: rapid.Float64Range(10, 60).Draw(t, "reference"), HalvingC: rapid.Float64Range(1, 30).Draw(t, "halving")}
		a, b := rapid.Float64Range(-300, 300).Draw(t, "a"), rapid.Float64Range(-300, 300).Draw(t, "b")
		if a > b {
			a, b = b, a
		}
		require.GreaterOrEqual(t, r.LifeAt(a), r.LifeAt(b))
		require.GreaterOrEqual(t, r.LifeAt(b), resources.Seconds(0))
		require.Equal(t, r.Life, r.LifeAt(r.ReferenceC))
	})
}

func TestMixLivesAtBathOrRoomTemperature(t *testing.T) {
	warm := resources.Interval{Start: 1000, End: 2000}
	p := resources.Plant{Room: resources.Room{Celsius: 20, Periods: []resources.Warmth{{Interval: warm, Celsius: 35}}}}
	require.Equal(t, []float64{20, 35, 35, 20}, []float64{p.RoomAt(999), p.RoomAt(1000), p.RoomAt(1999), p.RoomAt(2000)})
	r := &resources.Resin{Life: 90 * resources.Minute, ReferenceC: 30, HalvingC: 10}
	require.Equal(t, r.LifeAt(20), p.MixLife(r, 0))
	require.Equal(t, r.LifeAt(35), p.MixLife(r, 1500))
	r.BathC = 28
	require.Equal(t, r.LifeAt(28), p.MixLife(r, 1500))
}

// A two-part epoxy adhesive's handling times: 12 h at 20 °C, 7 h at 25, 2 h at
// 40, 30 min at 70 and 6 min at 100 (typical data sheet of 2016, no name
// given). The energies and the times between were worked out from them.
func handlingTimes() []resources.CurePoint {
	return []resources.CurePoint{{20, 12 * resources.Hour}, {25, 7 * resources.Hour}, {40, 2 * resources.Hour},
		{70, 30 * resources.Minute}, {100, 6 * resources.Minute}}
}

func TestHandlingTimeBetweenTheTablesLines(t *testing.T) {
	require.InDelta(t, 68_400, resources.ActivationEnergy(20, 12, 40, 2), 100)
	require.InDelta(t, 54_400, resources.ActivationEnergy(20, 720, 100, 6), 100)
	for celsius, minutes := range map[float64]float64{30: 273, 60: 46} {
		got, err := resources.HandlingTime(handlingTimes(), celsius)
		require.NoError(t, err)
		require.InDelta(t, minutes, float64(got)/60, 0.5, celsius)
	}
	for _, line := range handlingTimes() {
		got, err := resources.HandlingTime(handlingTimes(), line.Celsius)
		require.NoError(t, err)
		require.Equal(t, line.Time, got, line.Celsius)
	}
}

func TestHandlingTimeRefuses(t *testing.T) {
	for _, celsius := range []float64{19.9, 100.1, -400} {
		_, err := resources.HandlingTime(handlingTimes(), celsius)
		require.ErrorContains(t, err, "the table runs from 20 to 100 °C")
	}
	for _, table := range [][]resources.CurePoint{nil, {{20, 5}}, {{20, 5}, {20, 4}}, {{20, 5}, {30, 0}}, {{-274, 5}, {30, 1}}} {
		_, err := resources.HandlingTime(table, 20)
		require.Error(t, err)
	}
}
