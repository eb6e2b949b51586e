// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// madScale makes the median absolute deviation of normal values their standard
// deviation: 1 over the normal's upper quartile (Maronna, Martin and Yohai
// 2006, Robust Statistics, 2.5; from memory).
const madScale = 1.482602218505602

// Median of values, in any order; the mean of the middle two of an even
// number; not a number when there is none.
func Median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(values))
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}

// Deviation is the median absolute deviation from the median, scaled to be the
// standard deviation where the values are normal.
func Deviation(values []float64) float64 {
	mid := Median(values)
	away := make([]float64, len(values))
	for i, v := range values {
		away[i] = math.Abs(v - mid)
	}
	return madScale * Median(away)
}

// MedianInterval holds the median of the law the values come from with at
// least the confidence, whatever the law: from the k-th smallest to the k-th
// largest, k by the binomial law (Conover 1999, Practical Nonparametric
// Statistics, 3.2; from memory). False when there are too few values, for 95 %
// fewer than six.
func MedianInterval(values []float64, confidence float64) (low, high float64, ok bool) {
	n := len(values)
	if n == 0 {
		return 0, 0, false
	}
	law := distuv.Binomial{N: float64(n), P: 0.5}
	k := 0
	for k < n/2 && 2*law.CDF(float64(k)) <= 1-confidence {
		k++
	}
	if k == 0 {
		return 0, 0, false
	}
	sorted := slices.Sorted(slices.Values(values))
	return sorted[k-1], sorted[n-k], true
}

// MeanTimeInterval holds the mean running time between breakdowns of which n
// were seen in so much running time, when they come at random (NIST/SEMATECH
// e-Handbook of Statistical Methods, 8.4.5.1). With none seen there is no upper
// end: infinity.
func MeanTimeInterval(running float64, n int, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	if n == 0 {
		// One-sided, as the handbook has it for no failures.
		return running / -math.Log(1-confidence), math.Inf(1)
	}
	low = 2 * running / distuv.ChiSquared{K: float64(2*n + 2)}.Quantile(1-tail)
	high = 2 * running / distuv.ChiSquared{K: float64(2 * n)}.Quantile(tail)
	return low, high
}
