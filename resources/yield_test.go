// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

// The numbers are exact binomial sums computed apart from this code. The law
// is Feller, An Introduction to Probability Theory and Its Applications, vol.
// 1, chapter VI.8 (waiting times in Bernoulli trials; from memory).
func TestStartsAgainstExactSums(t *testing.T) {
	for _, x := range []struct {
		good       int
		yield      float64
		confidence float64
		destroyed  int
		want       int
	}{
		{100, 0.9, 0.95, 0, 117},
		{100, 0.9, 0.5, 0, 111}, // 100/0.9 rounded up would be 112
		{20, 0.8, 0.9, 0, 28},
		{50, 0.95, 0.99, 0, 57},
		{10, 0.7, 0.95, 0, 19},
		{9, 0.7, 0.95, 1, 19}, // one more to destroy
		{5, 1, 0.999, 2, 7},
		{0, 0.5, 0.9, 0, 0},
		{1, 0.5, 0.5, 0, 1},
		{1, 0.5, 0.75, 0, 2},
	} {
		got, err := resources.Starts(x.good, x.yield, x.confidence, x.destroyed)
		require.NoError(t, err)
		require.Equal(t, x.want, got, "%+v", x)
	}
}

func TestStartsIsTheSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		good := rapid.IntRange(1, 60).Draw(t, "good")
		yield := rapid.Float64Range(0.3, 0.99).Draw(t, "yield")
		confidence := rapid.Float64Range(0.05, 0.995).Draw(t, "confidence")
		n, err := resources.Starts(good, yield, confidence, 0)
		if err != nil {
			t.Fatal(err)
		}
		if p := atLeast(n, good, yield); p < confidence-1e-9 {
			t.Fatalf("%d starts give %v", n, p)
		}
		if n > good && atLeast(n-1, good, yield) > confidence+1e-9 {
			t.Fatalf("%d starts would do", n-1)
		}
	})
}

// atLeast is the chance that of n pieces at least good are, summed plainly.
func atLeast(n, good int, yield float64) float64 {
	var sum float64
	for k := good; k <= n; k++ {
		c, _ := new(big.Float).SetInt(new(big.Int).Binomial(int64(n), int64(k))).Float64()
		sum += c * math.Pow(yield, float64(k)) * math.Pow(1-yield, float64(n-k))
	}
	return sum
}

func TestStartsSaysWhatItCannot(t *testing.T) {
	for _, x := range []struct {
		good, destroyed   int
		yield, confidence float64
		want              string
	}{
		{-1, 0, 0.9, 0.9, "-1 good"},
		{1, 0, 0, 0.9, "yield of 0"},
		{1, 0, 1.1, 0.9, "yield of 1.1"},
		{1, 0, math.NaN(), 0.9, "yield of NaN"},
		{1, 0, 0.9, 1, "confidence of 1"},
		{1, 0, 0.9, 0, "confidence of 0"},
		{500_000, 0, 0.1, 0.9, "more than"},
	} {
		_, err := resources.Starts(x.good, x.yield, x.confidence, x.destroyed)
		require.ErrorIs(t, err, resources.ErrStarts)
		require.ErrorContains(t, err, x.want)
	}
	n, err := resources.Starts(10_000, 0.5, 0.99, 0)
	require.NoError(t, err)
	require.InDelta(t, 20_000+2.326*math.Sqrt(20_000), n, 10, "the normal law is near, and nothing underflows")
}
