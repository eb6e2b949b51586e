// SPDX-License-Identifier: Apache-2.0

package capacity_test

import (
	"os"
	"path/filepath"
	"testing"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/capacity"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// demo is the demonstration plant with its orders, its forecast and a plan.
func demo(t testing.TB) capacity.Input {
	t.Helper()
	read := func(name string) []byte {
		text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "demo", name))
		require.NoError(t, err)
		return text
	}
	plant, found := resources.ReadPlant("plant.yaml", read("plant.yaml"))
	require.NotNil(t, plant, "%v", found)
	lines, found := resources.ReadOrders("orders.csv", read("orders.csv"), plant)
	require.NotEmpty(t, lines, "%v", found)
	forecast, found := resources.ReadForecast("forecast.csv", read("forecast.csv"), plant)
	require.NotNil(t, forecast, "%v", found)
	s, err := scheduler.StateOf(plant, lines)
	require.NoError(t, err)
	p, err := scheduler.Compile(s, plant.StartsAt)
	require.NoError(t, err)
	plan, err := search.ByRule(p, search.Weighted)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, plant.StartsAt, plan)
	return capacity.Input{State: s, Now: plant.StartsAt, Plan: plan, Forecast: forecast}
}
