// SPDX-License-Identifier: Apache-2.0

package whatif_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/risk"
	"towpath/scheduler/whatif"
)

// Counted by hand: ten histories of each plan.
func TestChances(t *testing.T) {
	of := func(order string, made int) risk.OrderRisk {
		return risk.OrderRisk{Order: order, Made: made, Chance: float64(made) / 10, P80: 80}
	}
	held := risk.OrderRisk{Order: "held", Waiting: true}
	c := whatif.ChancesOf(
		&risk.Report{Replications: 10, Seed: 4, Confidence: 0.9, Orders: []risk.OrderRisk{of("a", 5), of("b", 9), of("c", 7), of("gone", 10), held}, Lost: 0.5},
		&risk.Report{Replications: 10, Seed: 4, Confidence: 0.9, Orders: []risk.OrderRisk{of("a", 6), of("b", 2), of("c", 7), of("held", 1), of("new", 3)}, Lost: 1.5},
	)
	require.Equal(t, whatif.Outlook{Made: 3.1, Lost: 0.5}, c.Before)
	require.Equal(t, whatif.Outlook{Made: 1.9, Lost: 1.5}, c.After)
	require.Equal(t, []whatif.Chance{
		{Order: "b", Was: whatif.Odds{Made: 9, Chance: 0.9, P80: 80}, Is: whatif.Odds{Made: 2, Chance: 0.2, P80: 80}},
		{Order: "a", Was: whatif.Odds{Made: 5, Chance: 0.5, P80: 80}, Is: whatif.Odds{Made: 6, Chance: 0.6, P80: 80}},
		{Order: "held", Is: whatif.Odds{Made: 1, Chance: 0.1, P80: 80}},
	}, c.Orders)
	require.Equal(t, 1, c.Same)
	require.Equal(t, []whatif.Chance{{Order: "new", Is: whatif.Odds{Made: 3, Chance: 0.3, P80: 80}}}, c.Added)
	require.Equal(t, 10, c.Replications)
}
