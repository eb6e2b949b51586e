// SPDX-License-Identifier: Apache-2.0

package quality_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/quality"
)

// Source: ISO 21940-11:2016, figure of permissible specific unbalance (points
// read from the formula e_per = 1000·G/ω; G 16 is the standard's grade for
// drive shafts).
func TestPermissibleSpecificUnbalance(t *testing.T) {
	for _, c := range []struct{ grade, speed, want float64 }{
		{6.3, 1500, 40.1}, {6.3, 3000, 20.1}, {2.5, 3000, 7.96}, {16, 8000, 19.1},
	} {
		require.InDelta(t, c.want, quality.PermissibleUnbalance(c.grade, 1, c.speed), 0.05, c)
	}
	require.True(t, math.IsInf(quality.PermissibleUnbalance(6.3, 1, 0), 1))
}

// Source: ISO 1940-1:2003, annex with the worked example of a 3600 kg rotor at
// 3000 r/min, G 2.5, bearings 1500 and 900 mm from the centre of mass (from
// memory, arithmetic done again): 28.6e3 g·mm, split 10.7e3 and 17.9e3.
func TestUnbalanceInTwoPlanes(t *testing.T) {
	total := quality.PermissibleUnbalance(2.5, 3600, 3000)
	require.InDelta(t, 28.6e3, total, 60)
	a, b := quality.TwoPlanes(total, 1500, 900)
	require.InDelta(t, 10.7e3, a, 60)
	require.InDelta(t, 17.9e3, b, 60)
	require.InDelta(t, total, a+b, 1e-9)
}

// A shaft of the demo shop (invented), worked out from the formula.
func TestUnbalanceOfADemoShaft(t *testing.T) {
	total := quality.PermissibleUnbalance(16, 2.4, 8000)
	require.InDelta(t, 45.8, total, 0.05)
	a, b := quality.TwoPlanes(total, 0, 0)
	require.InDelta(t, 22.9, a, 0.05)
	require.Equal(t, a, b)
	require.InDelta(t, 18.0, quality.PermissibleUnbalance(6.3, 2.4, 8000), 0.05)
}

// The same in ounce-inches for pounds, U = 6.015·G·W/N, is only a change of
// units: 1 oz·in is 28.349523 g times 25.4 mm, 1 lb is 0.45359237 kg.
func TestUnbalanceInOunceInches(t *testing.T) {
	const ounceInch = 28.349523125 * 25.4
	got := quality.PermissibleUnbalance(6.3, 10*0.45359237, 1800) / ounceInch
	require.InDelta(t, 6.015*6.3*10/1800, got, 0.0001)
}
