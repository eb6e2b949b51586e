// SPDX-License-Identifier: Apache-2.0

package promise_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/schedtest"
)

// baked is an order for rings that has a load of its own in the plan.
type baked struct {
	order    string
	at       resources.Seconds // after now
	quantity int
	due      resources.Seconds // after now
}

// bakery is a shop of one oven of two places that never stops. A load takes four
// hours and 20 minutes more for each ring in it.
func bakery(t *testing.T, orders ...baked) *promise.Present {
	t.Helper()
	now := schedtest.Monday
	plant := schedtest.Plant(resources.Plant{
		ID: "bakery", Horizon: 28 * resources.Day,
		Stations: []resources.Station{{ID: "O", Recipes: []string{"R"}, Batch: &resources.Batch{Capacity: map[string]int64{"places": 2}}}},
		Recipes:  []resources.Recipe{{ID: "R", Fixed: 4 * resources.Hour}},
		Products: []resources.Product{{ID: "RING", Routing: []resources.Operation{{
			ID: "cure", Stations: []string{"O"}, Recipe: "R", LoadEach: 20 * resources.Minute, Size: map[string]int64{"places": 1},
		}}}},
	})
	var lines []resources.OrderLine
	for _, o := range orders {
		due := now + resources.Tick(o.due)
		lines = append(lines, resources.OrderLine{Order: o.order, Line: "1", Product: "RING", Quantity: o.quantity, Weight: 1, ShipBy: due, Due: due})
	}
	s := schedtest.State(plant, lines...)
	plan := schedtest.NewPlan(s, now)
	for _, o := range orders {
		var members []scheduler.Member
		for _, piece := range s.Lines[scheduler.LineKey(o.order, "1")].Pieces {
			members = append(members, scheduler.Member{Piece: piece, Operation: "cure"})
		}
		plan.Load("L-"+o.order, "O", now+resources.Tick(o.at), members)
	}
	s.Plan = plan.Plan()
	b, err := promise.Begin(s, now)
	require.NoError(t, err)
	require.Same(t, s.Plan, b.Plan)
	return b
}

// The first load with room is that of an order without a minute to spare, and so
// the answer is behind everything else. A ride in the second is the only way for
// the wish to be met: it takes 20 minutes of those that order has to spare.
func TestARideInALoadWithRoom(t *testing.T) {
	const hour, minute = resources.Hour, resources.Minute
	tight, full := baked{"A", 0, 1, 4*hour + 20*minute}, baked{"C", 10 * hour, 2, 14*hour + 40*minute}
	wish := hours(10)
	b := bakery(t, tight, baked{"B", 5 * hour, 1, 10 * hour}, full)
	ask := promise.Ask{Product: "RING", Quantity: 1, Wish: b.Now + wish}
	a, err := b.Answer(ask)
	require.NoError(t, err)
	require.Equal(t, b.Now+hours(19), a.Earliest.Ready, "alone, when C is done")
	x := one(t, b, ask, promise.Loads)
	require.True(t, x.Meets)
	ready := b.Now + resources.Tick(9*hour+40*minute)
	require.Equal(t, []promise.Delivery{{Quantity: 1, Date: promise.Date{Ready: ready, Ship: ready}}}, x.Parts)
	require.InDelta(t, -4, x.OvenHours, 1e-9, "one load fewer than with a load of its own")
	require.InDelta(t, 1.0/3, x.LaterHours, 1e-9)
	require.Zero(t, x.Pieces)
	require.Equal(t, []promise.Moved{{
		Order: "B", Line: "1", Due: b.Now + hours(10), Was: ready - resources.Tick(20*minute), Will: ready, Later: 20 * minute, Spare: 20 * minute,
	}}, x.Moved)
	require.Equal(t, "oven loads formed otherwise: 1 with pieces of it, 1 of them shared with other orders, instead of 1 and 0", x.Words)
	require.Empty(t, x.MakeWay)
	require.True(t, x.Keepable())

	load := loadOf(t, x.Fit().Plan, "asked")
	require.Len(t, load.Members, 2)
	require.Equal(t, b.Now+resources.Tick(5*hour), load.Start, "nobody begins sooner")
	for _, order := range []string{"A", "C"} {
		require.Equal(t, loadOf(t, b.Plan, order), loadOf(t, x.Fit().Plan, order), "a load of others stays")
	}

	// Without anything to spare, with no room left, or too late for it, there is none.
	for name, second := range map[string]baked{
		"B has nothing to spare": {"B", 5 * hour, 1, 9*hour + 20*minute},
		"B's load is full":       {"B", 5 * hour, 2, 10 * hour},
		"C would wait for B":     {"B", 5*hour + 40*minute, 1, 12 * hour},
	} {
		b := bakery(t, tight, second, full)
		a, err := b.Answer(promise.Ask{Product: "RING", Quantity: 1, Wish: b.Now + wish})
		require.NoError(t, err)
		require.False(t, a.Meets)
		a, err = a.Alternatives(promise.Effort{Iterations: 1, Seed: 1})
		require.NoError(t, err)
		for _, x := range a.Otherwise.Alternatives {
			require.NotEqual(t, promise.Loads, x.Kind, "%s: %s", name, x.Words)
		}
	}
}

// loadOf is the load that has an order's first ring in it.
func loadOf(t *testing.T, plan *scheduler.Plan, order string) scheduler.Load {
	t.Helper()
	for i := range plan.Loads {
		for _, m := range plan.Loads[i].Members {
			if m.Piece == order+"-1-01" {
				l := plan.Loads[i]
				l.ID = ""
				return l
			}
		}
	}
	require.Fail(t, "no load", order)
	return scheduler.Load{}
}
