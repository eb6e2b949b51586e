// SPDX-License-Identifier: Apache-2.0

package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/simulate"
	"towpath/testdata/demo"
)

// What the invented testers read is judged as it is meant, at every gate of
// the demo's plant that has a rule.
func TestReadingsAreJudgedAsMeant(t *testing.T) {
	plant, findings := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", findings)
	kinds := map[string]int{}
	for i := range plant.Products {
		for k := range plant.Products[i].Routing {
			r := plant.Products[i].Routing[k].Rule
			if r == nil {
				continue
			}
			kinds[string(r.Kind)]++
			for _, good := range []bool{true, false} {
				v, err := r.Judge(simulate.Readings(r, good))
				require.NoError(t, err, "%s %s", plant.Products[i].ID, r.Kind)
				require.Equal(t, good, v.Passed(), "%s %s: %+v", plant.Products[i].ID, r.Kind, v)
				require.Empty(t, v.Doubt)
			}
		}
	}
	require.Len(t, kinds, 4, "the demo has a gate of every kind: %v", kinds)
}
