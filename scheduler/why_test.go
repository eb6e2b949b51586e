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

// Where nothing is found that it waited for, work waits for its people, or for those
// of its load; where nobody has a hand in it, others go first.
func TestWorkThatWaitsForNothingElse(t *testing.T) {
	hour := resources.Tick(resources.Hour)
	now := schedtest.Monday
	watch := []resources.Need{{Part: resources.PartRun, Skill: "watch", Share: 1000}}
	plant := schedtest.Plant(resources.Plant{
		ID: "room", Stations: []resources.Station{{ID: "A"}, {ID: "O", Batch: &resources.Batch{Capacity: map[string]int64{"places": 2}}}},
		Calendars: []resources.Calendar{{ID: "always", Exceptions: []resources.Exception{{Open: true, Start: now, Long: 7 * resources.Day}}}},
		Crews:     []resources.Crew{{ID: "ann", Skills: []string{"watch"}, Shifts: []resources.CrewShift{{Calendar: "always", Heads: 1}}}},
		Products: []resources.Product{
			{ID: "watched", Routing: []resources.Operation{{ID: "soak", Stations: []string{"A"}, Run: resources.Hour, Needs: watch}}},
			{ID: "alone", Routing: []resources.Operation{{ID: "soak", Stations: []string{"A"}, Run: resources.Hour}}},
			{ID: "together", Routing: []resources.Operation{{
				ID: "soak", Stations: []string{"O"}, Run: resources.Hour, Needs: watch, Size: map[string]int64{"places": 1},
			}}},
		},
	})
	for _, c := range []struct {
		product string
		kind    scheduler.Cause
		because string
	}{
		{"watched", scheduler.CausePeople, "its people are needed elsewhere first"},
		{"together", scheduler.CausePeople, "its people are needed elsewhere first"},
		{"alone", scheduler.CauseOrder, "others go first"},
	} {
		line := func(order string) resources.OrderLine {
			return resources.OrderLine{Order: order, Line: "1", Product: c.product, Quantity: 1, Weight: 1, ShipBy: now + 9*hour, Due: now + 9*hour}
		}
		s := schedtest.State(plant, line("1"), line("2"))
		b := schedtest.NewPlan(s, now)
		if c.product == "together" {
			b.Load("L", "O", now+3*hour, []scheduler.Member{{Piece: "1-1-01", Operation: "soak"}, {Piece: "2-1-01", Operation: "soak"}})
		} else {
			b.Put("1-1-01", "soak", "A", now+5*hour).Put("2-1-01", "soak", "A", now+7*hour)
		}
		plan := b.Plan()
		schedtest.RequireOK(t, s, now, plan)
		orders := []string{"1"}
		if c.product == "together" {
			orders = append(orders, "2") // people are with its first member alone
		}
		for _, order := range orders {
			steps := scheduler.Explain(s, plan, order)
			require.Len(t, steps, 1)
			require.Equal(t, c.kind, steps[0].Kind, c.product)
			require.Equal(t, c.because, steps[0].Because, c.product)
		}
	}
}

// What a station does meanwhile is counted, and that it stands free in between is told.
func TestManyOthersGoFirst(t *testing.T) {
	now, hour := schedtest.Monday, resources.Tick(resources.Hour)
	plant := schedtest.Plant(resources.Plant{
		ID: "bench", Stations: []resources.Station{{ID: "BENCH"}},
		Products: []resources.Product{{ID: "ROD", Routing: []resources.Operation{{ID: "join", Stations: []string{"BENCH"}, Run: 5 * resources.Hour}}}},
	})
	s := schedtest.State(plant, rodLine("A", now+90*hour), rodLine("B", now+90*hour), rodLine("C", now+90*hour))
	because := func(b, c resources.Tick) string {
		plan := schedtest.NewPlan(s, now).
			Put("A-1-01", "join", "BENCH", now).
			Put("B-1-01", "join", "BENCH", now+b).
			Put("C-1-01", "join", "BENCH", now+c).Plan()
		schedtest.RequireOK(t, s, now, plan)
		steps := scheduler.Explain(s, plan, "C")
		require.Len(t, steps, 1)
		require.Equal(t, scheduler.CauseStation, steps[0].Kind)
		return steps[0].Because
	}
	require.Equal(t, "BENCH does 2 others first, the last B-1-01 join", because(5*hour, 10*hour))
	require.Equal(t, "BENCH does 2 others first, the last B-1-01 join, and stands free for 2 h meanwhile", because(7*hour, 12*hour))
}
