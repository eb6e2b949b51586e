// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"math"

	"towpath/resources"
	"towpath/scheduler/risk"
)

// steps of a numerical mean over a law's quantiles.
const steps = 2000

// Limits of what a plant file can say of a spread.
const (
	widestCV   = 5
	leastMean  = 0.01
	mostMean   = 100
	narrowMost = 0.01 // cv below which low and high would be written alike
)

// moments are the mean of a spread's factor and its standard deviation over
// that mean.
func moments(s resources.Spread) (mean, cv float64) {
	mean = s.Mean
	if mean == 0 {
		mean = 1
	}
	switch s.Shape {
	case resources.Lognormal, resources.Gamma:
		return mean, s.CV
	}
	quantile := risk.Quantile(s)
	if quantile == nil {
		return 1, 0
	}
	sum, squares := 0.0, 0.0
	for i := range steps {
		x := quantile((float64(i) + 0.5) / steps)
		sum += x
		squares += x * x
	}
	mean = sum / steps
	return mean, math.Sqrt(max(0, squares/steps-mean*mean)) / mean
}

// reshape is a spread of the same kind with another mean and cv. One that does
// not vary becomes lognormal when it is to.
func reshape(s resources.Spread, mean, cv float64) resources.Spread {
	was, wide := moments(s)
	mean, cv = min(max(mean, leastMean), mostMean), min(max(cv, 0), widestCV)
	switch {
	case s.Shape == resources.Gamma || s.Shape == resources.Lognormal || wide == 0:
		shape := s.Shape
		if shape != resources.Gamma {
			shape = resources.Lognormal
		}
		return resources.Spread{Shape: shape, Mean: round(mean, 3), CV: round(cv, 3)}
	}
	cv = max(cv, narrowMost)
	stretch := func(x float64) float64 {
		return min(mostMean, round(max(leastMean, mean*(1+(x/was-1)*cv/wide)), 4))
	}
	to := resources.Spread{Shape: s.Shape, Low: stretch(s.Low), Likely: stretch(s.Likely), High: stretch(s.High)}
	if s.Shape != resources.Empirical {
		return to
	}
	to = resources.Spread{Shape: s.Shape}
	for _, v := range s.Values {
		to.Values = append(to.Values, stretch(v))
	}
	return to
}

// sigmaOf is the deviation of the logarithm of a lognormal law with this cv,
// cvOf the other way round.
func sigmaOf(cv float64) float64 { return math.Sqrt(math.Log1p(cv * cv)) }

func cvOf(sigma float64) float64 { return math.Sqrt(math.Expm1(sigma * sigma)) }

func round(x float64, digits int) float64 {
	p := math.Pow10(digits)
	return math.Round(x*p) / p
}
