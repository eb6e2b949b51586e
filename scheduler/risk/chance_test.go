// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
)

// NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1 (exact, 4 of
// 20 at 90 %: 0.071354 to 0.401029, the figures from memory); Wilson's by his
// formula of 1927, worked by hand.
func TestIntervals(t *testing.T) {
	low, high := ClopperPearson(4, 20, 0.90)
	require.InDelta(t, 0.071354, low, 1e-6)
	require.InDelta(t, 0.401029, high, 2e-6)
	low, high = Wilson(4, 20, 0.90)
	require.InDelta(t, 0.093118, low, 1e-6)
	require.InDelta(t, 0.378377, high, 1e-6)
	low, high = Wilson(90, 100, 0.95)
	require.InDelta(t, 0.825634, low, 1e-6)
	require.InDelta(t, 0.944771, high, 1e-6)
}

// R. G. Newcombe 1998, Two-sided confidence intervals for the single proportion:
// comparison of seven methods, Statistics in Medicine 17:857-872, table I, 95 %,
// score method and exact (from memory).
func TestIntervalsOfNewcombe(t *testing.T) {
	for _, c := range []struct {
		k, n          int
		wilson, exact [2]float64
	}{
		{81, 263, [2]float64{0.2553, 0.3662}, [2]float64{0.2527, 0.3676}},
		{15, 148, [2]float64{0.0624, 0.1605}, [2]float64{0.0578, 0.1617}},
		{0, 20, [2]float64{0, 0.1611}, [2]float64{0, 0.1684}},
		{1, 29, [2]float64{0.0061, 0.1718}, [2]float64{0.0009, 0.1776}},
	} {
		low, high := Wilson(c.k, c.n, 0.95)
		require.InDeltaSlice(t, c.wilson[:], []float64{low, high}, 6e-5, "Wilson, %d of %d", c.k, c.n)
		low, high = ClopperPearson(c.k, c.n, 0.95)
		require.InDeltaSlice(t, c.exact[:], []float64{low, high}, 6e-5, "exact, %d of %d", c.k, c.n)
	}
}

func TestIntervalsAtTheEnds(t *testing.T) {
	for _, of := range []func(int, int, float64) (float64, float64){Wilson, ClopperPearson} {
		low, high := of(0, 50, 0.95)
		require.Zero(t, low)
		require.Less(t, high, 0.08)
		low, high = of(50, 50, 0.95)
		require.Greater(t, low, 0.92)
		require.InDelta(t, 1, high, 0)
		low, high = of(0, 0, 0.95)
		require.Equal(t, [2]float64{0, 1}, [2]float64{low, high})
	}
}

// Gamma quantiles are those of chi-square tables, NIST/SEMATECH e-Handbook
// table 1.3.6.7.4 (10 degrees of freedom: 3.940, 18.307, 20.483, 23.209),
// halved for shape 5 and mean 5; lognormal ones are the exponentials of normal
// quantiles, worked by hand.
func TestQuantiles(t *testing.T) {
	cv := 1 / 2.23606797749979 // shape 5
	q := Quantile(resources.Spread{Shape: resources.Gamma, CV: cv})
	for u, chi := range map[float64]float64{0.05: 3.940, 0.95: 18.307, 0.975: 20.483, 0.99: 23.209} {
		require.InDelta(t, chi/10, q(u), 6e-5, "%v", u)
	}
	q = Quantile(resources.Spread{Shape: resources.Gamma, Mean: 10, CV: 0.5}) // shape 4, scale 2.5
	for u, x := range map[float64]float64{0.5: 9.180152, 0.8: 13.787614, 0.9: 16.701958, 0.95: 19.384141} {
		require.InDelta(t, x, q(u), 1e-6, "%v", u)
	}
	q = Quantile(resources.Spread{Shape: resources.Lognormal, Mean: 10, CV: 0.5})
	require.InDelta(t, 16.385447, q(0.90), 1e-6)
	require.InDelta(t, 19.453178, q(0.95), 1e-6)
	q = Quantile(resources.Spread{Shape: resources.Lognormal, Mean: 1.6487212707001282, CV: 1.3108324944320862}) // mu 0, sigma 1
	for u, x := range map[float64]float64{0.8: 2.320125, 0.9: 3.602224, 0.95: 5.180252} {
		require.InDelta(t, x, q(u), 1e-5, "%v", u)
	}
	q = Quantile(resources.Spread{Shape: resources.Triangular, Low: 1, Likely: 2, High: 4})
	require.InDelta(t, 2, q(1.0/3), 1e-12) // (likely − low) / (high − low)
	q = Quantile(resources.Spread{Shape: resources.Empirical, Values: []float64{3, 1, 2, 4}})
	require.Equal(t, []float64{1, 2, 3, 4}, []float64{q(0.1), q(0.3), q(0.6), q(0.99)})
}

// A table read by straight lines keeps mean and deviation.
func TestTablesKeepMeanAndDeviation(t *testing.T) {
	for _, s := range []resources.Spread{
		{Shape: resources.Lognormal, CV: 0.3},
		{Shape: resources.Lognormal, Mean: 1.1, CV: 1},
		{Shape: resources.Gamma, CV: 1},
		{Shape: resources.Gamma, CV: 0.5},
	} {
		table := newTable(s)
		const n = 1 << 20
		sum, square := 0.0, 0.0
		for i := range n {
			x := table.draw((float64(i) + 0.5) / n)
			sum, square = sum+x, square+x*x
		}
		mean := sum / n
		require.InDelta(t, meanOf(s), mean, 3e-4)
		for _, u := range []float64{1e-9, 1e-5, 0.4 / knots, 1 - 0.4/knots, 1 - 1e-9} {
			require.InDelta(t, Quantile(s)(u), table.draw(u), 0, "the tails are exact")
		}
		require.InDelta(t, s.CV*s.CV, square/n/mean/mean-1, 0.005*s.CV*s.CV)
	}
}

// Each head of a crew is away by itself: as many are there as the chance says.
func TestEachHeadIsAwayByItself(t *testing.T) {
	y := &Player{g: &Program{crews: []crew{{
		key: keyOf("crew", "winders"), absence: 0.3, steps: []scheduler.CapStep{{Cap: 4000}}, day: []int32{7},
	}}}}
	const histories = 20000
	heads := make([]float64, 5)
	for r := range histories {
		y.luck = newLuck(5, r, false)
		heads[y.capacity(0, 0)/1000]++
	}
	for k, want := range []float64{0.0081, 0.0756, 0.2646, 0.4116, 0.2401} { // binomial, 4 heads, each there with 0.7
		require.InDelta(t, want, heads[k]/histories, 3.3*math.Sqrt(want*(1-want)/histories), "%d there", k)
	}
}
