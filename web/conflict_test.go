// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"encoding/json"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler/schedtest"
	"towpath/web/view"
	"towpath/web/webtest"
)

// An order that can never be made stops planning; pages say which piece, which
// operation, what cannot hold together, and what would help.
func TestPagesSayWhyThereIsNoPlan(t *testing.T) {
	due := schedtest.Monday + resources.Tick(9*resources.Day)
	plant := schedtest.Workshop()
	plant.Product("HS").Dimensions["length_mm"] = 1600 // a winder takes 1500
	shop, err := webtest.OfPlant(plant, []resources.OrderLine{{
		Order: "A", Line: "1", Product: "PX", Quantity: 1, ShipBy: due, Due: due, Weight: 1,
	}}, schedtest.Monday)
	require.NoError(t, err)
	s := newSite(t, shop)
	require.NotContains(t, s.get("/floor").Body.String(), `class="conflict"`)
	_, err = shop.Report(context.Background(), events.Event{
		ID: "more", Kind: events.OrderAdded, Plant: "workshop", At: schedtest.Monday, By: "office",
		Data: events.OrderData{Order: "B", Line: "1", Product: "HS", Quantity: 10, ShipBy: due, Due: due, Weight: 1, Kind: "firm"},
	})
	require.NoError(t, err)
	page := s.get("/floor").Body.String()
	for _, want := range []string{"no station of the plant can do it", "name a station that takes it, or change the size", `<a href="/orders/B">`, "W1 takes length_mm up to 1500 and it has 1600"} {
		require.Contains(t, page, want)
	}
	var floor view.Floor
	require.NoError(t, json.Unmarshal(s.get("/api/floor").Body.Bytes(), &floor))
	i := slices.IndexFunc(floor.Head.Alerts, func(a view.Alert) bool { return a.About == "plan" })
	require.GreaterOrEqual(t, i, 0)
	alert := floor.Head.Alerts[i]
	c := alert.Conflict
	require.NotNil(t, c)
	require.Equal(t, "B", alert.Order)
	require.Equal(t, "size", c.Together[0].Kind)
	require.Equal(t, "W1", c.Together[0].Name)
}

// What there is not enough material for waits: the shop keeps its plan, and pages say
// what is lacking and for which pieces.
func TestPagesSayWhatIsLacking(t *testing.T) {
	due := schedtest.Monday + resources.Tick(9*resources.Day)
	shop, err := webtest.OfPlant(schedtest.Workshop(), []resources.OrderLine{
		{Order: "A", Line: "1", Product: "PX", Quantity: 1, ShipBy: due, Due: due, Weight: 1},
		{Order: "B", Line: "1", Product: "HS", Quantity: 10, ShipBy: due, Due: due + 60, Weight: 1},
	}, schedtest.Monday)
	require.NoError(t, err)
	s := newSite(t, shop)
	require.NotContains(t, s.get("/floor").Body.String(), `class="conflict"`)
	require.Contains(t, s.get("/dates").Body.String(), "lack box")
	require.Contains(t, s.get("/dates?show=trouble").Body.String(), "/orders/B")
	page := s.get("/orders/B").Body.String()
	require.Contains(t, page, "lack box, and there is not enough")
	require.Contains(t, page, "waits for box: there is not enough")
	require.NotContains(t, s.get("/orders/A").Body.String(), "not enough")
	sheet := decoded[view.OrderSheet](t, s.get("/api/orders/B"))
	require.Equal(t, view.NoDate, sheet.Order.Standing)
	require.Regexp(t, `^\d+ pieces lack box$`, sheet.Lacks)
}
