// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
)

// singleCheck is one entry of single_machine.json; jobs count from 1.
type singleCheck struct {
	ID        string
	Source    source
	Criterion string
	Time      []int64
	Due       []int64
	Weight    []int64
	Release   []int64
	Chains    [][]int
	Optimum   int64
	Sequence  []int
}

func (c *singleCheck) build(t testing.TB) *instance.Case {
	t.Helper()
	jobs := instance.Jobs{Name: c.ID, Time: c.Time, Due: c.Due, Weight: c.Weight, Release: c.Release}
	var cs *instance.Case
	var err error
	switch {
	case c.Chains != nil:
		chains := instance.Chains{Name: c.ID, Time: c.Time, Weight: c.Weight}
		for _, chain := range c.Chains {
			var from0 []int
			for _, j := range chain {
				from0 = append(from0, j-1)
			}
			chains.Chains = append(chains.Chains, from0)
		}
		cs, err = chains.WeightedCompletion()
	case c.Criterion == "lateness":
		cs, err = jobs.Lateness()
	case c.Criterion == "late":
		cs, err = jobs.LateJobs()
	case c.Criterion == "completion":
		cs, err = jobs.WeightedCompletion()
	case c.Criterion == "tardiness":
		cs, err = jobs.WeightedTardiness()
	default:
		t.Fatalf("unknown criterion %q", c.Criterion)
	}
	require.NoError(t, err)
	return cs
}

// places starts the jobs in the stored sequence, each as early as it can.
func (c *singleCheck) places() []place {
	var places []place
	var t int64
	for _, j := range c.Sequence {
		if c.Release != nil {
			t = max(t, c.Release[j-1])
		}
		id := fmt.Sprintf("J%0*d", len(fmt.Sprint(len(c.Time))), j)
		if c.Chains == nil {
			places = append(places, place{line: id, operation: "run", station: "M", start: t, run: c.Time[j-1]})
		}
		// Everybody whose chain passes the job goes along.
		for _, chain := range c.Chains {
			for _, other := range chain[max(0, slices.Index(chain, j)):] {
				if slices.Contains(chain, j) {
					places = append(places, place{line: fmt.Sprintf("J%d", other), operation: id, station: "M", load: "L" + id, start: t, run: c.Time[j-1]})
				}
			}
		}
		t += c.Time[j-1]
	}
	return places
}

// A7 and A10 (largest lateness), A8 and A9 (late jobs), A12 (chains), A13
// (weighted completion), A14 and A15 (tardiness).
func TestSingleMachine(t *testing.T) {
	for _, check := range readChecks[singleCheck](t, "single_machine.json") {
		t.Run(check.ID, func(t *testing.T) {
			c := check.build(t)
			accepts(t, c, check.places(), check.Optimum, check.Optimum)
			reaches(t, c, check.Optimum, 5000, false)
		})
	}
}
