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

// row is an order for boxes that stand in the plan one behind the other.
type row struct {
	order    string
	at       int // hours after now at which the first begins
	quantity int
	due      int // in hours after now
}

func hours(n int) resources.Tick { return resources.Tick(n) * resources.Tick(resources.Hour) }

// saw is a shop of one saw that never stops, with rows in its plan. A BOX takes
// an hour, a BEAM two.
func saw(t *testing.T, rows ...row) *promise.Present {
	t.Helper()
	now := schedtest.Monday
	product := func(id string, run resources.Seconds) resources.Product {
		return resources.Product{ID: id, Routing: []resources.Operation{{ID: "saw", Stations: []string{"SAW"}, Run: run}}}
	}
	plant := schedtest.Plant(resources.Plant{
		ID: "sawmill", Horizon: 28 * resources.Day, Stations: []resources.Station{{ID: "SAW"}},
		Products: []resources.Product{product("BOX", resources.Hour), product("BEAM", 2*resources.Hour)},
	})
	var lines []resources.OrderLine
	for _, r := range rows {
		due := now + hours(r.due)
		lines = append(lines, resources.OrderLine{Order: r.order, Line: "1", Product: "BOX", Quantity: r.quantity, Weight: 1, ShipBy: due, Due: due})
	}
	s := schedtest.State(plant, lines...)
	plan := schedtest.NewPlan(s, now)
	for _, r := range rows {
		for i, piece := range s.Lines[scheduler.LineKey(r.order, "1")].Pieces {
			plan.Put(piece, "saw", "SAW", now+hours(r.at+i))
		}
	}
	s.Plan = plan.Plan()
	b, err := promise.Begin(s, now)
	require.NoError(t, err)
	require.Same(t, s.Plan, b.Plan)
	return b
}

// one is the alternative of a kind.
func one(t *testing.T, b *promise.Present, ask promise.Ask, kind promise.Kind) promise.Alternative {
	t.Helper()
	a, err := b.Answer(ask)
	require.NoError(t, err)
	require.False(t, a.Meets)
	a, err = a.Alternatives(promise.Effort{Iterations: 1, Seed: 1})
	require.NoError(t, err)
	for _, x := range a.Otherwise.Alternatives {
		if x.Kind == kind {
			holds(t, b, a, x)
			return x
		}
	}
	require.Fail(t, "there is no such alternative", "%s in %+v", kind, a.Otherwise.Alternatives)
	return promise.Alternative{}
}

// Three orders have time to spare. Only the two that stand side by side leave
// room for two hours: the third, which has most to spare and is tried first,
// need not make way.
func TestWhoIsNotNeededDoesNotMakeWay(t *testing.T) {
	b := saw(t, row{"U", 0, 1, 200}, row{"S", 1, 1, 2}, row{"A", 2, 1, 100}, row{"B", 3, 1, 100}, row{"T", 4, 2, 6})
	x := one(t, b, promise.Ask{Product: "BEAM", Quantity: 1, Wish: b.Now + hours(4)}, promise.Orders)
	require.Equal(t, []string{"A", "B"}, x.MakeWay)
	require.True(t, x.Meets)
	require.Equal(t, b.Now+hours(4), x.Parts[0].Ready)
	require.Len(t, x.Moved, 2, "nobody else moves by a second: %+v", x.Moved)
}

// One order that can wait is enough; who is late already is not asked to.
func TestWhoIsLateDoesNotMakeWay(t *testing.T) {
	b := saw(t, row{"L", 0, 1, 0}, row{"A", 1, 1, 100}, row{"T", 2, 2, 4})
	x := one(t, b, promise.Ask{Product: "BOX", Quantity: 1, Wish: b.Now + hours(2)}, promise.Orders)
	require.Equal(t, []string{"A"}, x.MakeWay)
	require.Equal(t, "order A (3.0 h later) makes way; everything else stays as it is", x.Words)
}

// As many as there is room for leave by the wish, the rest after the others.
func TestTwoShipments(t *testing.T) {
	b := saw(t, row{"S", 0, 1, 1}, row{"T", 3, 4, 7})
	x := one(t, b, promise.Ask{Product: "BOX", Quantity: 5, Wish: b.Now + hours(3)}, promise.Split)
	require.Len(t, x.Parts, 2)
	require.Equal(t, 2, x.Parts[0].Quantity, "the two hours that are free")
	require.Equal(t, 2, x.ByWish)
	require.Equal(t, b.Now+hours(3), x.Parts[0].Ready)
	require.Equal(t, 3, x.Parts[1].Quantity)
	require.Equal(t, b.Now+hours(10), x.Parts[1].Ready)
}

// Capacity is kept for five minutes to two weeks, both included.
func TestHowLongCapacityIsKept(t *testing.T) {
	for asked, want := range map[resources.Seconds]resources.Seconds{
		0: promise.DefaultHold, promise.LeastHold: promise.LeastHold, promise.MostHold: promise.MostHold,
	} {
		got, err := promise.HoldOf(asked)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	for _, asked := range []resources.Seconds{-1, promise.LeastHold - 1, promise.MostHold + 1} {
		_, err := promise.HoldOf(asked)
		var fault *promise.Fault
		require.ErrorAs(t, err, &fault)
		require.ErrorContains(t, err, "allowed: 300 s (5 min) to 1209600 s (14 days)")
	}
}
