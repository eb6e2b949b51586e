// SPDX-License-Identifier: Apache-2.0

package learn

import "math"

// Belief is a law of logarithms: where its middle is, and how far it spreads.
type Belief struct {
	Mu    float64 // median of the logarithm
	Sigma float64 // its standard deviation
}

// Shrink moves a belief to what n values say, whose logarithms have this
// median and deviation; the belief counts as much as weight values. It is the
// mean of the posterior under the normal law with its conjugate prior (Gelman
// et al. 2013, Bayesian Data Analysis, 3.3), with the median in the place of
// the mean and the scaled median absolute deviation in that of the standard
// deviation, so that a few wild values do not move it. The term for the
// distance between belief and values is left out: it would take a wrong time
// for a wide one.
func (b Belief) Shrink(n int, median, deviation, weight float64) Belief {
	if n == 0 {
		return b
	}
	m := float64(n)
	share := m / (m + weight)
	// n − 1, as a single value says nothing of the spread.
	variance := (weight*b.Sigma*b.Sigma + (m-1)*deviation*deviation) / (weight + m - 1)
	if weight == 0 && n == 1 {
		variance = b.Sigma * b.Sigma
	}
	return Belief{Mu: b.Mu + share*(median-b.Mu), Sigma: math.Sqrt(variance)}
}

// shrinkShare is a share of which k of n were seen, the plant's counting as
// much as weight tries (beta prior: Gelman et al. 2013, 2.4).
func shrinkShare(plant float64, k, n int, weight float64) float64 {
	if n == 0 {
		return plant
	}
	return (weight*plant + float64(k)) / (weight + float64(n))
}

// shrinkMeanTime is a mean time between breakdowns of which n were seen in so
// much running time, the plant's counting as much as weight breakdowns (gamma
// prior of the rate: Gelman et al. 2013, 2.6). It takes n or weight above 0.
func shrinkMeanTime(plant, running float64, n int, weight float64) float64 {
	return (weight*plant + running) / (weight + float64(n))
}
