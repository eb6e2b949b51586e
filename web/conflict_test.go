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
	shop, err := webtest.OfPlant(schedtest.Workshop(), []resources.OrderLine{{
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
	for _, want := range []string{"there is not enough box", "enter a receipt, or cancel the line", `<a href="/orders/B">`, "box: 8 there or to come"} {
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
	require.Equal(t, "material", c.Together[0].Kind)
	require.Equal(t, "box", c.Together[0].Name)
}
