// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"

	"towpath/scheduler/chance"
)

// What a number is drawn for.
const (
	forLoad uint64 = iota + 1
	forRun
	forUnload
	forSetup
	forVerdict
	forUptime
	forRepair
	forAbsence
	forMixing
)

// keyOf turns names into 64 bits: FNV-1a, then scrambled so that near names
// give unlike numbers.
func keyOf(names ...string) uint64 {
	h := uint64(14695981039346656037)
	for _, name := range names {
		for i := range len(name) {
			h = (h ^ uint64(name[i])) * 1099511628211
		}
		h = (h ^ 0xff) * 1099511628211
	}
	return chance.Scramble(h)
}

// luck is the randomness of one replication.
type luck struct {
	seed   uint64
	mirror uint64 // all ones: takes 1 − u for u, the antithetic twin
}

func newLuck(seed uint64, replication int, antithetic bool) luck {
	r, mirror := uint64(replication), uint64(0)
	if antithetic {
		r, mirror = r/2, -(r % 2)
	}
	return luck{chance.Scramble(chance.Scramble(seed+0x9e3779b97f4a7c15) + (r+1)*0x9e3779b97f4a7c15), mirror}
}

// uniform is in (0, 1), and never either.
func (l luck) uniform(key, what, count uint64) float64 {
	h := l.mirror ^ chance.Scramble(l.seed^chance.Scramble(key+(what<<32|count+1)*0x9e3779b97f4a7c15))
	return (float64(h>>11) + 0.5) / (1 << 53)
}

// exponential has mean 1.
func (l luck) exponential(key, what, count uint64) float64 {
	return -math.Log(l.uniform(key, what, count))
}
