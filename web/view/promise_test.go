// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/web/view"
)

// An order that was promised and then cancelled breaks no promise, and none is
// open for it; it is still told.
func TestACancelledPromiseIsNeitherKeptNorBroken(t *testing.T) {
	p := small(events.Event{Kind: events.OrderCancelled, At: at(0), Data: events.CancelData{Order: "B2", Line: "1"}})
	p.State.Plan = p.Plan
	for _, key := range []string{"A1/1", "B2/1"} {
		p.State.Lines[key].Promise = &scheduler.Promise{Status: scheduler.Confirmed, Made: ten, ShipBy: at(3000), Due: at(3000), Quantity: 1}
	}
	v := view.New(p)
	require.Equal(t, view.PromiseCount{Confirmed: 1, Open: 1}, v.Dates(view.DatesQuery{}).Promised)
	page := v.PromisePage(nil, true)
	require.Equal(t, 1, page.Confirmed)
	require.Equal(t, 1, page.Cancelled)
	require.Zero(t, page.Gone(), "it was not let go")
	require.Len(t, page.Given(), 2)
	require.Equal(t, "cancelled", v.OrderSheet("B2").Promises[0].Status)
	require.Equal(t, "confirmed", v.OrderSheet("A1").Promises[0].Status)
}

// The form shows how long was asked for, also where it offers no such length
// itself.
func TestTheHoldThatWasAskedIsShown(t *testing.T) {
	v := view.New(small())
	usual := v.PromisePage(nil, true).Holds
	for _, hold := range []resources.Seconds{promise.LeastHold, promise.DefaultHold, 5 * resources.Hour, promise.MostHold} {
		page := v.PromisePage(&view.Question{Hold: hold}, true)
		want := view.Choice{Key: page.HoldKey(), Word: view.Span(hold)}
		require.Equal(t, 1, count(page.Holds, want), "%v", page.Holds)
		require.Subset(t, page.Holds, usual)
	}
}

func count(list []view.Choice, c view.Choice) (n int) {
	for _, x := range list {
		if x == c {
			n++
		}
	}
	return n
}
