// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
)

// tourCheck is one entry of tour.json; cities count from 0.
type tourCheck struct {
	ID      string
	Source  source
	Setup   [][]int64
	Optimum int64
	Cycle   []int
}

// places goes round the stored cycle; each visit lasts one unit.
func (c *tourCheck) places(cs *instance.Case) []place {
	var places []place
	var t int64
	routing := cs.Plant.Products[0].Routing
	for i := range c.Cycle {
		from, to := c.Cycle[i], c.Cycle[(i+1)%len(c.Cycle)]
		operation := routing[len(routing)-1].ID
		if to != 0 {
			operation = routing[to-1].ID
		}
		way := c.Setup[from][to]
		places = append(places, place{
			line: cs.Lines[0].Line, operation: operation, station: "M", start: t + way, run: 1, setup: way,
		})
		t += way + 1
	}
	return places
}

// tourMoves is how many moves the tours get.
const tourMoves = 200000

// H1, H2, H3: set-ups that depend on the sequence.
func TestTours(t *testing.T) {
	for _, check := range readChecks[tourCheck](t, "tour.json") {
		t.Run(check.ID, func(t *testing.T) {
			tour := instance.Tour{Name: check.ID, Setup: check.Setup}
			c, err := tour.Makespan()
			require.NoError(t, err)
			accepts(t, c, check.places(c), check.Optimum, check.Optimum)
			reaches(t, c, check.Optimum, tourMoves, false)
		})
	}
}
