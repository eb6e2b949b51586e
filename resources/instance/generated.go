// SPDX-License-Identifier: Apache-2.0

package instance

import "fmt"

// GeneratedFlow draws a flow shop of one machine a stage from a published
// seed, with times of 1 to 99, machine by machine (E. Taillard, Benchmarks for
// basic scheduling problems, European Journal of Operational Research 64,
// 1993, 278-285). The seed lies between 1 and 2^31 - 2.
func GeneratedFlow(name string, jobs, machines int, seed int64) (*Flow, error) {
	switch {
	case jobs < 1 || machines < 1:
		return nil, fmt.Errorf("%s: %d jobs on %d machines; there must be at least one of each", name, jobs, machines)
	case seed < 1 || seed >= modulus:
		return nil, fmt.Errorf("%s: seed %d; allowed are 1 to %d", name, seed, int64(modulus-1))
	}
	f := &Flow{Name: name, Times: make([][]int64, jobs)}
	for range machines {
		f.Stages = append(f.Stages, 1)
		for j := range jobs {
			seed = seed * 16807 % modulus
			f.Times[j] = append(f.Times[j], 1+seed*99/modulus)
		}
	}
	return f, nil
}

// modulus of the random numbers (S. K. Park, K. W. Miller, Random number
// generators: good ones are hard to find, 1988).
const modulus = 1<<31 - 1
