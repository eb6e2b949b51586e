// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"fmt"
	"testing"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
	"towpath/testdata/demo"
)

// calm is a plant where everything takes as long as stated and nothing fails.
func calm(plant *resources.Plant) {
	fixed := resources.Spread{Shape: resources.FixedShape}
	plant.Chance = resources.Chance{Hands: fixed, Machine: fixed, Cure: fixed, Setup: fixed}
	for i := range plant.Products {
		for k := range plant.Products[i].Routing {
			plant.Products[i].Routing[k].Yield = 0
		}
	}
}

// shop is the demo with its orders so many times, a season apart, and a plan.
func shop(t testing.TB, seasons int, change func(*resources.Plant)) (*scheduler.State, *scheduler.Plan) {
	t.Helper()
	return shopLess(t, seasons, 0, change)
}

// shopLess is shop without so many of its last order lines.
func shopLess(t testing.TB, seasons, less int, change func(*resources.Plant)) (*scheduler.State, *scheduler.Plan) {
	t.Helper()
	plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", found)
	one, found := resources.ReadOrders("orders.csv", demo.Orders, plant)
	require.NotEmpty(t, one, "%v", found)
	if change != nil {
		change(plant)
	}
	var lines []resources.OrderLine
	for n := range seasons {
		by := resources.Tick(n) * resources.Tick(6*7*resources.Day)
		for _, l := range one {
			l.Order = fmt.Sprintf("%s-%d", l.Order, n)
			l.Due, l.ShipBy = l.Due+by, l.ShipBy+by
			lines = append(lines, l)
		}
	}
	lines = lines[:len(lines)-less]
	for i := range plant.Materials {
		plant.Materials[i].Stock *= 20
	}
	s, err := scheduler.StateOf(plant, lines)
	require.NoError(t, err)
	p, err := scheduler.Compile(s, plant.StartsAt)
	require.NoError(t, err)
	plan, err := search.ByRule(p, search.Weighted)
	require.NoError(t, err)
	return s, plan
}

func program(t testing.TB, s *scheduler.State, plan *scheduler.Plan) *Program {
	t.Helper()
	schedtest.RequireOK(t, s, plan.Made, plan)
	g, err := Compile(s, plan.Made, plan)
	require.NoError(t, err)
	return g
}
