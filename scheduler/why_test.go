// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// Three boxes of a kilogram each, of which one is there and one comes in each of
// two receipts: the second and the third wait for theirs and for nothing else.
func TestWorkWaitsForAReceipt(t *testing.T) {
	hour := resources.Tick(resources.Hour)
	now := schedtest.Monday
	plant := schedtest.Plant(resources.Plant{
		ID: "boxes", Stations: []resources.Station{{ID: "SAW", Places: 3}},
		Materials: []resources.Material{{ID: "wood", Name: "Wood", Unit: "kg", Stock: 1000, Receipts: []resources.Receipt{
			{At: now + 5*hour, Quantity: 1000}, {At: now + 8*hour, Quantity: 1000}, {At: now + 9*hour, Quantity: 1000},
		}}},
		Products: []resources.Product{{ID: "BOX", Routing: []resources.Operation{
			{ID: "saw", Stations: []string{"SAW"}, Run: resources.Hour, Draws: []resources.Draw{{Material: "wood", Quantity: 1000}}},
		}}},
	})
	line := func(order string) resources.OrderLine {
		due := now + 20*hour
		return resources.OrderLine{Order: order, Line: "1", Product: "BOX", Quantity: 1, Weight: 1, ShipBy: due, Due: due}
	}
	s := schedtest.State(plant, line("A"), line("B"), line("C"))
	plan := schedtest.NewPlan(s, now).
		Put("A-1-01", "saw", "SAW", now).
		Put("B-1-01", "saw", "SAW", now+5*hour, schedtest.Place(2)).
		Put("C-1-01", "saw", "SAW", now+10*hour, schedtest.Place(3)).Plan()
	schedtest.RequireOK(t, s, now, plan)
	why := func(order string) scheduler.Step {
		steps := scheduler.Explain(s, plan, order)
		require.Len(t, steps, 1)
		return steps[0]
	}
	require.Equal(t, scheduler.CauseNothing, why("A").Kind)
	require.Equal(t, scheduler.CauseStock, why("B").Kind)
	require.Equal(t, "Wood comes in then", why("B").Because)
	require.Equal(t, 5*resources.Hour, why("B").Waited)
	require.Equal(t, scheduler.CauseOrder, why("C").Kind, "its wood came at eight")
	require.Equal(t, "Wood comes in then; then others go first or its people are busy", why("C").Because)

	// What has begun has drawn too.
	s.Pieces["A-1-01"].Ops[0].Status, s.Pieces["A-1-01"].Ops[0].Started = scheduler.Started, now
	plan.Work[0].Status = scheduler.Started
	require.Equal(t, scheduler.CauseStock, why("B").Kind)
	// With enough there, nothing waits for a receipt that comes meanwhile.
	plant.Materials[0].Stock = 3000
	require.NotContains(t, why("B").Because, "Wood")
}

// Work that finds its station free too late in the shift waits for the next one, and
// is said to.
func TestWorkThatDoesNotFitIntoTheShift(t *testing.T) {
	hour := resources.Tick(resources.Hour)
	at := func(h int) resources.Tick {
		return schedtest.Monday + resources.Tick(h)*hour - (schedtest.Monday % (24 * hour))
	}
	days := []time.Weekday{0, 1, 2, 3, 4, 5, 6}
	plant := schedtest.Plant(resources.Plant{
		ID:        "bench",
		Calendars: []resources.Calendar{{ID: "day", Shifts: []resources.Shift{{Days: days, Start: 6 * resources.Hour, End: 14 * resources.Hour}}}},
		Stations:  []resources.Station{{ID: "BENCH", Calendar: "day"}},
		Products: []resources.Product{{ID: "ROD", Routing: []resources.Operation{
			{ID: "join", Stations: []string{"BENCH"}, Run: 5 * resources.Hour},
		}}},
	})
	s := schedtest.State(plant, rodLine("A", at(90)), rodLine("B", at(90)), rodLine("C", at(90)))
	plan := schedtest.NewPlan(s, at(6)).
		Put("A-1-01", "join", "BENCH", at(6)).
		Put("B-1-01", "join", "BENCH", at(30)).
		Put("C-1-01", "join", "BENCH", at(55)).Plan()
	schedtest.RequireOK(t, s, at(6), plan)
	why := func(order string) scheduler.Step {
		steps := scheduler.Explain(s, plan, order)
		require.Len(t, steps, 1)
		return steps[0]
	}
	require.Equal(t, scheduler.CauseCalendar, why("B").Kind)
	require.Equal(t, "BENCH is busy with A-1-01 join; then not enough of the shift is left", why("B").Because)
	// C could have begun at six of its day, and an hour later is its own.
	require.Equal(t, scheduler.CauseOrder, why("C").Kind)
}
