// SPDX-License-Identifier: Apache-2.0

package chance_test

import (
	"fmt"
	"hash/fnv"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"towpath/scheduler/chance"
)

// The first numbers of SplitMix64 seeded with 1234567, as Rosetta Code's task
// "Pseudo-random numbers/Splitmix64" gives them.
func TestScrambleIsThatOfSplitMix64(t *testing.T) {
	state := uint64(1234567)
	for _, want := range []uint64{6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821} {
		state += 0x9e3779b97f4a7c15
		require.Equal(t, want, chance.Scramble(state))
	}
}

func TestBitsAreOfTheSeedAndTheName(t *testing.T) {
	h := fnv.New64a()
	fmt.Fprintln(h, "late", "E-1", 7)
	require.Equal(t, chance.Scramble(h.Sum64()), chance.Seed(0).Bits("late", "E-1", 7))
	seen := map[uint64]bool{}
	for seed := range chance.Seed(10) {
		for n := range 10 {
			seen[seed.Bits("late", n)] = true
			seen[seed.Bits("early", n)] = true
		}
	}
	require.Len(t, seen, 200)
}

// Means and variances of so many draws lie within five standard errors.
func TestDrawsHaveTheirMoments(t *testing.T) {
	const n = 20000
	for _, c := range []struct {
		name                 string
		draw                 func(chance.Seed, ...any) float64
		mean, variance, miss float64 // miss: five standard errors of the larger
		low, high            float64
	}{
		{"uniform", chance.Seed.Uniform, 1. / 2, 1. / 12, 0.0102, 0, 1},
		{"normal", chance.Seed.Normal, 0, 1, 0.05, -7, 7},
		{"exponential", chance.Seed.Exponential, 1, 1, 0.1, 0, 40},
	} {
		draws := make([]float64, n)
		for i := range draws {
			draws[i] = c.draw(7, "draw", i)
			require.GreaterOrEqual(t, draws[i], c.low, c.name)
			require.Less(t, draws[i], c.high, c.name)
		}
		mean, variance := stat.MeanVariance(draws, nil)
		require.InDelta(t, c.mean, mean, c.miss, c.name)
		require.InDelta(t, c.variance, variance, c.miss, c.name)
	}
}
