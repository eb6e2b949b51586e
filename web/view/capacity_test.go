// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/capacity"
	"towpath/web/view"
)

// The colour of a cell is that of its number in the key, and cells that show one
// number are of one colour.
func TestHeatIsThatOfTheNumberShown(t *testing.T) {
	key := map[string]int{"49": 1, "50": 2, "74": 2, "75": 3, "89": 3, "90": 4, "99": 4, "100": 5, "119": 5, "120": 6}
	of := map[string]int{}
	for i := range 15000 {
		c := &capacity.Cell{Asked: 1, Ratio: float64(i) / 10000}
		shown, heat := view.HeatText(c), view.Heat(c)
		if known, ok := of[shown]; ok {
			require.Equal(t, known, heat, "%s at %v", shown, c.Ratio)
		}
		of[shown] = heat
	}
	for shown, heat := range key {
		require.Equal(t, heat, of[shown], shown)
	}
}
