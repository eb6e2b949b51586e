// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func TestRunTime(t *testing.T) {
	a, _ := twoDemoRecipes()
	p := &resources.Plant{Recipes: []resources.Recipe{a}}
	fast, slow := &resources.Station{ID: "W1", Speed: 1.5}, &resources.Station{ID: "W2"}
	wind := &resources.Operation{Run: 100, RunAt: map[string]resources.Seconds{"W3": 0}}
	require.Equal(t, resources.Seconds(67), p.RunTime(wind, fast), "100 s at speed 1.5, rounded up")
	require.Equal(t, resources.Seconds(100), p.RunTime(wind, slow), "no speed is speed 1")
	require.Equal(t, resources.Seconds(0), p.RunTime(wind, &resources.Station{ID: "W3", Speed: 2}), "stated for the station, even 0")
	require.Equal(t, resources.Seconds(3), p.RunTime(&resources.Operation{Run: 1}, &resources.Station{Speed: 1.0 / 3}))
	cure := &resources.Operation{Run: 100, Recipe: "A", Tau: 20 * resources.Minute}
	require.Equal(t, a.Duration(20*resources.Minute), p.RunTime(cure, fast))
	require.Zero(t, p.RunTime(&resources.Operation{Recipe: "gone"}, fast))
}
