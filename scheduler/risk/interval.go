// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Wilson is the score interval of a chance of which k of n came true (Wilson
// 1927, Probable inference, the law of succession, and statistical inference,
// Journal of the American Statistical Association 22). Nothing seen: 0 to 1.
func Wilson(k, n int, confidence float64) (low, high float64) {
	if n <= 0 {
		return 0, 1
	}
	z := distuv.UnitNormal.Quantile(0.5 + confidence/2)
	p, m := float64(k)/float64(n), float64(n)
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	low, high = max(0, mid-half), min(1, mid+half)
	if k == 0 {
		low = 0
	}
	if k == n {
		high = 1
	}
	return low, high
}

// ClopperPearson is the exact interval (Clopper and Pearson 1934, The use of
// confidence or fiducial limits illustrated in the case of the binomial,
// Biometrika 26).
func ClopperPearson(k, n int, confidence float64) (low, high float64) {
	if n <= 0 {
		return 0, 1
	}
	tail := (1 - confidence) / 2
	low, high = 0, 1
	if k > 0 {
		low = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(tail)
	}
	if k < n {
		high = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(1 - tail)
	}
	return low, high
}
