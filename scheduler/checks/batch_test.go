// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
)

// batchCheck is one entry of batch_machine.json.
type batchCheck struct {
	ID       string
	Source   source
	Capacity int64
	Time     []int64
	Size     []int64
	Optima   []int64 // on 1, 2 and 3 machines
	Batches  [][]int // optimal on one machine, jobs from 1
}

func (c *batchCheck) build(t *testing.T, machines int) *instance.Case {
	t.Helper()
	b := instance.Batches{Name: fmt.Sprintf("%s on %d", c.ID, machines), Machines: machines, Capacity: c.Capacity, Time: c.Time, Size: c.Size}
	cs, err := b.Makespan()
	require.NoError(t, err)
	return cs
}

// places runs the batches one after the other.
func (c *batchCheck) places(cs *instance.Case) []place {
	var places []place
	var t int64
	for i, jobs := range c.Batches {
		var long int64
		for _, j := range jobs {
			long = max(long, c.Time[j-1])
		}
		for _, j := range jobs {
			places = append(places, place{
				line: cs.Plant.Products[j-1].ID, operation: "run", station: cs.Plant.Stations[0].ID,
				load: fmt.Sprintf("B%02d", i+1), start: t, run: long,
			})
		}
		t += long
	}
	return places
}

// D1 and D2 on one machine: the stored batches are accepted.
func TestBatchOptimaAreAccepted(t *testing.T) {
	for _, check := range readChecks[batchCheck](t, "batch_machine.json") {
		t.Run(check.ID, func(t *testing.T) {
			cs := check.build(t, 1)
			accepts(t, cs, check.places(cs), check.Optima[0], check.Optima[0])
		})
	}
}

// leastBatches is how many of the 165 optima the engine has to reach.
const leastBatches = 158

// D1 and D2 on one to three machines.
func TestBatchMachines(t *testing.T) {
	reached, all := 0, 0
	for _, check := range readChecks[batchCheck](t, "batch_machine.json") {
		for i, optimum := range check.Optima {
			c := check.build(t, i+1)
			first, improved := solve(t, c, 5000)
			require.GreaterOrEqual(t, improved, optimum, "%s: better than a proven optimum", c.Name)
			all++
			if improved == optimum {
				reached++
			} else {
				t.Logf("%s: first %d, improved %d, optimum %d", c.Name, first, improved, optimum)
			}
			if check.Size == nil {
				require.Equal(t, optimum, improved, c.Name)
			}
		}
	}
	t.Logf("%d of %d reached", reached, all)
	require.GreaterOrEqual(t, reached, leastBatches)
}
