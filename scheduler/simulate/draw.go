// SPDX-License-Identifier: Apache-2.0

package simulate

import (
	"fmt"
	"math"
)

// draw is chance without a sequence: each number depends on the seed and on
// what it is for, not on how many were drawn before. So a shop that is stopped
// and started again, or looked at more often, has the same fate.
type draw uint64

// hash mixes a name into 64 bits: FNV-1a, then the finalizer of SplitMix64
// (Steele, Lea, Flood 2014) so that near names give unlike numbers.
func (d draw) hash(name ...any) uint64 {
	h := uint64(14695981039346656037) ^ uint64(d)
	for _, c := range []byte(fmt.Sprintln(name...)) {
		h = (h ^ uint64(c)) * 1099511628211
	}
	h ^= h >> 30
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 27
	h *= 0x94d049bb133111eb
	return h ^ h>>31
}

// chance is uniform in [0, 1).
func (d draw) chance(name ...any) float64 {
	return float64(d.hash(name...)>>11) / (1 << 53)
}

// normal has mean 0 and deviation 1 (Box and Muller 1958).
func (d draw) normal(name ...any) float64 {
	u := 1 - d.chance(append(name, "radius")...)
	v := d.chance(append(name, "angle")...)
	return math.Sqrt(-2*math.Log(u)) * math.Cos(2*math.Pi*v)
}
