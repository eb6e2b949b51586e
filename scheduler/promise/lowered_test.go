// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/risk"
)

// An order is told of when its chance falls by a point or more, whatever the
// chance was; not the asked one, and not one that nobody can date.
func TestWhoseChanceFalls(t *testing.T) {
	with := func(order string, made int) risk.OrderRisk {
		return risk.OrderRisk{Order: order, Made: made, Chance: float64(made) / 400}
	}
	for made := 4; made <= 400; made += 4 {
		was := &risk.Report{Orders: []risk.OrderRisk{with("A", made), with("B", made), with("C", made), with("D", made), with("asked", made)}}
		will := &risk.Report{Orders: []risk.OrderRisk{with("A", made-4), with("B", made-3), with("C", made), with("D", 0), with("asked", 0), with("new", 0)}}
		will.Orders[3].Waiting = true
		list := lowered(was, will, "asked")
		require.Len(t, list, 1, "from %d of 400", made)
		require.Equal(t, "A", list[0].Order)
	}
}
