// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"math"
	"slices"
)

// portion is work of one week that any of some resources can do: hours on each
// when it does all of it.
type portion struct {
	on    []int // resources
	hours []float64
	share []float64 // found: how much of it each does, adding up to 1
}

// grains is into how many equal parts a portion is divided for sharing.
const grains = 32

// shareOut spreads portions over resources so that the busiest is as little
// busy as can be found: portions without a choice first, then grain by grain to
// whoever is least busy with it, and twice over again with each taken back and
// given anew.
func shareOut(portions []*portion, there []float64) {
	busy := make([]float64, len(there))
	order := make([]*portion, len(portions))
	copy(order, portions)
	slices.SortStableFunc(order, func(a, b *portion) int { return cmp.Compare(len(a.on), len(b.on)) })
	for round := range 3 {
		for _, p := range order {
			if len(p.on) == 1 {
				if round == 0 {
					p.share = []float64{1}
					busy[p.on[0]] += p.hours[0]
				}
				continue
			}
			for k := range p.share {
				busy[p.on[k]] -= p.share[k] * p.hours[k]
			}
			p.give(busy, there)
		}
	}
}

func (p *portion) give(busy, there []float64) {
	p.share = make([]float64, len(p.on))
	for range grains {
		best, least := 0, math.Inf(1)
		for k, r := range p.on {
			if there[r] <= 0 {
				continue
			}
			if after := (busy[r] + p.hours[k]/grains) / there[r]; after < least-1e-12 {
				best, least = k, after
			}
		}
		p.share[best] += 1.0 / grains
		busy[p.on[best]] += p.hours[best] / grains
	}
}
