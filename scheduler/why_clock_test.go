// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// joints is a shop that cleans ends and bonds them within an hour, one at a time,
// and may hold them back before by a drying that takes all night.
func joints(t *testing.T) *resources.Plant {
	t.Helper()
	return schedtest.Plant(resources.Plant{
		ID: "joints", Stations: []resources.Station{{ID: "CLEAN"}, {ID: "BOND"}, {ID: "DRY", Places: 4}},
		Products: []resources.Product{{ID: "ROD", Routing: []resources.Operation{
			{ID: "dry", Stations: []string{"DRY"}, Run: 10 * resources.Hour},
			{ID: "clean", Stations: []string{"CLEAN"}, Run: resources.Hour, After: []resources.Link{}},
			{ID: "bond", Stations: []string{"BOND"}, Run: 3 * resources.Hour, After: []resources.Link{
				{Operation: "dry"}, {Operation: "clean", Max: resources.Hour, HasMax: true},
			}},
		}}},
	})
}

func rodLine(order string, due resources.Tick) resources.OrderLine {
	return resources.OrderLine{Order: order, Line: "1", Product: "ROD", Quantity: 1, Weight: 1, ShipBy: due, Due: due}
}

// What is cleaned late because the bond that must follow comes late is told so, with
// what the bond waits for: the station, or what it needs besides.
func TestWorkIsKeptBackForWhatFollows(t *testing.T) {
	plant, now, hour := joints(t), schedtest.Monday, resources.Tick(resources.Hour)
	s := schedtest.State(plant, rodLine("A", now+100*hour), rodLine("B", now+100*hour))
	plan := schedtest.NewPlan(s, now).
		Put("A-1-01", "dry", "DRY", now, schedtest.Place(1)).
		Put("B-1-01", "dry", "DRY", now, schedtest.Place(2)).
		Put("A-1-01", "clean", "CLEAN", now+9*hour).
		Put("A-1-01", "bond", "BOND", now+10*hour).
		Put("B-1-01", "clean", "CLEAN", now+11*hour+1800).
		Put("B-1-01", "bond", "BOND", now+13*hour).Plan()
	schedtest.RequireOK(t, s, now, plan)

	steps := scheduler.Explain(s, plan, "B")
	require.Len(t, steps, 2)
	clean := steps[0]
	require.Equal(t, "clean", clean.Operation)
	require.Equal(t, scheduler.CauseClock, clean.Kind)
	require.Equal(t, "is kept back: bond must begin within 1 h of it, and waits: BOND is busy with A-1-01 bond", clean.Because)
	require.Equal(t, scheduler.CauseStation, clean.Ahead.Kind)
	require.Equal(t, "BOND", clean.Ahead.Station)
	require.Equal(t, 3*resources.Hour, clean.Ahead.Waited, "it was dry at ten")

	// A's bond waits for nothing but its drying: the chain goes on with that.
	steps = scheduler.Explain(s, plan, "A")
	require.Equal(t, "dry", steps[0].Operation)
	require.Equal(t, scheduler.CauseNothing, steps[0].Kind)
	require.Len(t, steps, 2, "the bond and its drying: the cleaning could have been sooner or not, it decides nothing")
}
