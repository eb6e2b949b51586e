// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Copper in wholemeal flour, parts per million, with one wild value (Analytical
// Methods Committee 1989; Maronna, Martin and Yohai 2006, Robust Statistics,
// 1.1: mean 4.28 and deviation 5.30, median 3.38 and scaled median absolute
// deviation 0.53; values and results from memory).
var copper = []float64{
	2.20, 2.20, 2.40, 2.40, 2.50, 2.70, 2.80, 2.90, 3.03, 3.03, 3.10, 3.37,
	3.40, 3.40, 3.40, 3.50, 3.60, 3.70, 3.70, 3.70, 3.70, 3.77, 5.28, 28.95,
}

func TestMedianAndDeviationOfCopper(t *testing.T) {
	require.InDelta(t, 3.385, Median(copper), 1e-9)
	require.InDelta(t, 0.53, Deviation(copper), 0.005)
}

// The example of Snedecor and Cochran 1989, Statistical Methods, 8th edition,
// as documented for the function ci.median of the R package statpsych: 19
// values, median 20.7, from 10.8 to 30.9.
func TestMedianIntervalOfAnExample(t *testing.T) {
	values := []float64{30.2, 20.4, 15.1, 10.2, 10.5, 60.8, 20.8, 25.0, 20.7, 30.9, 10.8, 5.1, 50.9, 40.0, 20.9, 10.8, 0, 20.5, 50.8}
	low, high, ok := MedianInterval(values, 0.95)
	require.True(t, ok)
	require.Equal(t, []float64{20.7, 10.8, 30.9}, []float64{Median(values), low, high})
}

// Ranks of the narrowest interval of at least 95 %, from the levels in a
// published table of intervals for the median (table A.7 of a text on
// nonparametric statistics): n = 6: 1 and 6 (96.9 %), 9: 2 and 8 (96.1 %), 10:
// 2 and 9 (97.9 %), 12: 3 and 10 (96.1 %), 17: 5 and 13 (95.1 %), 20: 6 and 15
// (95.9 %).
func TestMedianIntervalHasTheRanksOfTheTable(t *testing.T) {
	for _, x := range []struct{ n, low, high int }{{6, 1, 6}, {9, 2, 8}, {10, 2, 9}, {12, 3, 10}, {17, 5, 13}, {20, 6, 15}} {
		var ranks []float64
		for i := range x.n {
			ranks = append(ranks, float64(i+1))
		}
		low, high, ok := MedianInterval(ranks, 0.95)
		require.True(t, ok)
		require.Equal(t, []float64{float64(x.low), float64(x.high)}, []float64{low, high}, "n = %d", x.n)
	}
	_, _, ok := MedianInterval([]float64{1, 2, 3, 4, 5}, 0.95)
	require.False(t, ok, "five values give 93.8 % at most")
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1: two failures in 800
// hours, 90 %: 127 to 2,251 hours; formula as read there, the example's numbers
// from memory.
func TestMeanTimeIntervalOfTheHandbook(t *testing.T) {
	low, high := MeanTimeInterval(800, 2, 0.90)
	require.InDelta(t, 127, low, 0.5)
	require.InDelta(t, 2251, high, 1)
}

// Gelman et al. 2013, Bayesian Data Analysis, 2.4, placenta previa: 437 girls of
// 980 births, prior mean 0.485 worth 10, 100 and 200 births: 0.446, 0.450 and
// 0.453 (medians there, means here; from memory).
func TestShareOfTheBook(t *testing.T) {
	for weight, want := range map[float64]float64{10: 0.446, 100: 0.450, 200: 0.453} {
		require.InDelta(t, want, shrinkShare(0.485, 437, 980, weight), 0.0006)
	}
}
