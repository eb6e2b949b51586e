// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// Somebody takes the only mandrel for another tube than the one people were told
// of. That one comes when the mandrel is back, and so do all others; whoever plans,
// nobody says that it cannot be done.
func TestWhatWaitsForAToolInHandComesAfterIt(t *testing.T) {
	at := func(x resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(x*minute) }
	plant := schedtest.Plant(resources.Plant{
		Horizon: 30 * resources.Day, Freeze: 2 * hour,
		Stations: []resources.Station{{ID: "X"}, {ID: "Y"}},
		Tools:    []resources.Tool{{ID: "M", Units: []string{"M-1"}}},
		Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
			{ID: "wind", Stations: []string{"X"}, Run: hour, Takes: []resources.Take{{Tool: "M", Until: "extract"}}},
			{ID: "extract", Stations: []string{"Y"}, Run: hour},
		}}},
	})
	s := schedtest.State(plant, resources.OrderLine{Order: "A", Line: "1", Product: "P", Quantity: 20, Due: at(24 * 60), Weight: 1})
	first, err := search.Construct(compile(t, s, schedtest.Monday))
	require.NoError(t, err)
	s.Plan = first
	told := first.Work[0].Piece
	other := first.Work[len(first.Work)-1].Piece
	now := at(10)
	_, err = s.Apply(events.Event{ID: "go", Plant: "p", Kind: events.OperationStarted, Station: "X", At: now,
		Data: events.OperationData{Piece: other, Operation: "wind", Tools: []string{"M-1"}}})
	require.NoError(t, err)

	p := compile(t, s, now)
	for name, plan := range map[string]func() (*scheduler.Plan, error){
		"repaired":    func() (*scheduler.Plan, error) { return search.Repair(p, s.Plan) },
		"pushed":      func() (*scheduler.Plan, error) { return search.Pushed(p, s.Plan) },
		"constructed": func() (*scheduler.Plan, error) { return search.Construct(p) },
	} {
		got, err := plan()
		require.NoError(t, err, name)
		schedtest.RequireOK(t, s, now, got)
		begins := map[scheduler.Member]resources.Tick{}
		for _, w := range got.Work {
			begins[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w.Start
		}
		require.Equal(t, at(70), begins[scheduler.Member{Piece: other, Operation: "extract"}], name)
		require.Equal(t, at(130), begins[scheduler.Member{Piece: told, Operation: "wind"}], name)
	}
}
