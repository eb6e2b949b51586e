// SPDX-License-Identifier: Apache-2.0

// Package chance draws numbers without a sequence: each depends on a seed and on
// what it is for, not on how many were drawn before. So what is left to chance
// stays as it is when something else comes in between, or a run is stopped and
// begun again.
package chance

import (
	"fmt"
	"math"
)

// Seed is what all numbers of one run depend on.
type Seed uint64

// Bits are 64 bits for a name: FNV-1a, scrambled so that near names give unlike
// numbers.
func (s Seed) Bits(name ...any) uint64 {
	h := uint64(14695981039346656037) ^ uint64(s)
	for _, c := range []byte(fmt.Sprintln(name...)) {
		h = (h ^ uint64(c)) * 1099511628211
	}
	return Scramble(h)
}

// Scramble is the finalizer of SplitMix64 (Steele, Lea and Flood 2014, Fast
// splittable pseudorandom number generators).
func Scramble(h uint64) uint64 {
	h ^= h >> 30
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 27
	h *= 0x94d049bb133111eb
	return h ^ h>>31
}

// Uniform is in [0, 1).
func (s Seed) Uniform(name ...any) float64 { return float64(s.Bits(name...)>>11) / (1 << 53) }

// Normal has mean 0 and deviation 1 (Box and Muller 1958).
func (s Seed) Normal(name ...any) float64 {
	u := 1 - s.Uniform(append(name, "radius")...)
	v := s.Uniform(append(name, "angle")...)
	return math.Sqrt(-2*math.Log(u)) * math.Cos(2*math.Pi*v)
}

// Exponential has mean 1.
func (s Seed) Exponential(name ...any) float64 { return -math.Log(1 - s.Uniform(name...)) }
