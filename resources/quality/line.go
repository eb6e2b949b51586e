// SPDX-License-Identifier: Apache-2.0

package quality

import (
	"errors"
	"math"
)

// Line is a straight line y = Intercept + Slope·x through points by ordinary
// least squares, with the standard deviations of its two coefficients and of
// the residuals, and the share of the variation it explains.
type Line struct {
	Slope, Intercept     float64
	SlopeSD, InterceptSD float64
	ResidualSD           float64 // n−2 degrees of freedom; 0 for two points
	R2                   float64
	Points               int
}

var errLine = errors.New("a line needs two or more points at different places")

// Fit lays a line through points. The sums are taken about the means, which
// keeps the digits of points far from zero.
//
// Source: C. F. Gauss's least squares as in NIST/SEMATECH e-Handbook of
// Statistical Methods, 4.1.4.1; checked on the StRD data set Norris.
func Fit(x, y []float64) (Line, error) {
	n := float64(len(x))
	if len(x) != len(y) || len(x) < 2 {
		return Line{}, errLine
	}
	var mx, my float64
	for i := range x {
		mx += x[i] / n
		my += y[i] / n
	}
	var sxx, sxy, syy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		sxx += dx * dx
		sxy += dx * dy
		syy += dy * dy
	}
	if !(sxx > 0) || math.IsInf(sxx, 0) || math.IsInf(syy, 0) {
		return Line{}, errLine
	}
	l := Line{Slope: sxy / sxx, Points: len(x), R2: 1}
	l.Intercept = my - l.Slope*mx
	var rss float64
	for i := range x {
		r := (y[i] - my) - l.Slope*(x[i]-mx)
		rss += r * r
	}
	if syy > 0 {
		l.R2 = 1 - rss/syy
	}
	if len(x) > 2 {
		l.ResidualSD = math.Sqrt(rss / (n - 2))
		l.SlopeSD = l.ResidualSD / math.Sqrt(sxx)
		l.InterceptSD = l.ResidualSD * math.Sqrt(1/n+mx*mx/sxx)
	}
	return l, nil
}

// Runout is the total indicator reading: the largest less the smallest of the
// dial readings of one turn. Trade practice, no source.
func Runout(dial []float64) float64 {
	if len(dial) == 0 {
		return 0
	}
	low, high := dial[0], dial[0]
	for _, r := range dial {
		low, high = min(low, r), max(high, r)
	}
	return high - low
}
