// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"towpath/resources"
)

// knots of a quantile table. Between them it is read by straight lines, and
// outside the first and the last the quantile itself is computed, so tails are
// exact.
const knots = 2048

// table draws factors of a spread by inverting its distribution, so that one
// uniform number gives one factor and more luck never gives a longer time.
type table struct {
	exact func(u float64) float64
	at    []float64 // quantiles of i/knots, for i from 1 to knots−1
	fixed float64   // when at is nil
}

func newTable(s resources.Spread) table {
	exact := Quantile(s)
	if exact == nil {
		return table{fixed: meanOf(s)}
	}
	t := table{exact: exact, at: make([]float64, knots-1)}
	for i := range t.at {
		t.at[i] = exact(float64(i+1) / knots)
	}
	return t
}

func (t *table) draw(u float64) float64 {
	if t.at == nil {
		return t.fixed
	}
	x := u*knots - 1
	i := int(x)
	if x < 0 || i >= len(t.at)-1 {
		return t.exact(u)
	}
	return t.at[i] + (x-float64(i))*(t.at[i+1]-t.at[i])
}

// Quantile is the inverse distribution of a spread's factor; nil when it does
// not vary.
func Quantile(s resources.Spread) func(u float64) float64 {
	mean := meanOf(s)
	switch s.Shape {
	case resources.Lognormal, resources.Gamma:
		if s.CV <= 0 {
			return nil
		}
		if s.Shape == resources.Gamma {
			k := 1 / (s.CV * s.CV)
			return distuv.Gamma{Alpha: k, Beta: k / mean}.Quantile
		}
		v := math.Log1p(s.CV * s.CV)
		return distuv.LogNormal{Mu: math.Log(mean) - v/2, Sigma: math.Sqrt(v)}.Quantile
	case resources.Triangular:
		return distuv.NewTriangle(s.Low, s.High, s.Likely, nil).Quantile
	case resources.Pert:
		width := s.High - s.Low
		b := distuv.Beta{Alpha: 1 + 4*(s.Likely-s.Low)/width, Beta: 1 + 4*(s.High-s.Likely)/width}
		return func(u float64) float64 { return s.Low + width*b.Quantile(u) }
	case resources.Empirical:
		if len(s.Values) == 0 {
			return nil
		}
		seen := slices.Sorted(slices.Values(s.Values))
		return func(u float64) float64 { return seen[min(int(u*float64(len(seen))), len(seen)-1)] }
	}
	return nil
}

func meanOf(s resources.Spread) float64 {
	if (s.Shape == resources.Lognormal || s.Shape == resources.Gamma) && s.Mean > 0 {
		return s.Mean
	}
	return 1
}

// spreads numbers the tables a program needs.
type spreads struct {
	all    []resources.Spread
	tables []table
}

func (x *spreads) number(s resources.Spread) int32 {
	for i := range x.all {
		o := &x.all[i]
		if o.Shape == s.Shape && o.Mean == s.Mean && o.CV == s.CV && o.Low == s.Low && o.Likely == s.Likely && o.High == s.High && slices.Equal(o.Values, s.Values) {
			return int32(i)
		}
	}
	x.all = append(x.all, s)
	x.tables = append(x.tables, newTable(s))
	return int32(len(x.all) - 1)
}
