// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
)

func TestAlerts(t *testing.T) {
	require.Empty(t, scheduler.Alerts(scheduler.NewState(nil), six))
	f := newFloor(t)
	f.order("A", "TUBE", 3)
	require.Empty(t, scheduler.Alerts(f.s, mins(10)))

	f.ok("MIX", events.MixMade, 0, events.MixData{Mix: "x", Resin: "A", Grams: 900})
	f.ok("T1", events.StationDown, 5, events.StationData{Why: "cell", Until: mins(60)})
	f.ok("", events.ToolOut, 6, events.ToolData{Unit: "M-3"})
	f.ok("W1", events.OperationFinished, 62, events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "x", Started: mins(10)})
	f.publish(&scheduler.Plan{Version: 1, Work: []scheduler.Work{{Piece: "A-1-02", Operation: "wind", Station: "W1", End: mins(120)}}})
	f.start("W1", "A-1-02", "wind", 62)
	f.ok("", events.PieceHeld, 63, events.PieceData{Piece: "A-1-03", Why: "label"})

	at := func(minute int) []string {
		var out []string
		for _, n := range scheduler.Alerts(f.s, mins(minute)) {
			out = append(out, n.About+": "+n.Text)
		}
		return out
	}
	require.Equal(t, []string{
		"A-1-03: held: label",
		"M-3: out of use since Mon 2 Mar 07:06; nobody has said until when",
		"T1: down since Mon 2 Mar 07:05: cell; expected back at Mon 2 Mar 08:00",
	}, at(50))
	require.Equal(t, []string{
		"A-1-01: cure must start by Mon 2 Mar 11:02, 3 h after wind",
		"A-1-02: wind on W1 should have ended at Mon 2 Mar 09:00",
		"A-1-03: held: label",
		"M-3: out of use since Mon 2 Mar 07:06; nobody has said until when",
		"T1: down since Mon 2 Mar 07:05: cell; it was expected back at Mon 2 Mar 08:00",
		"x: expired at Mon 2 Mar 08:00 with 500 g left; it may heat up by itself: dispose of it as the supplier's data sheet and the site's rules say, and report it discarded",
	}, at(220))
	require.Contains(t, at(300), "A-1-01: cure had to start by Mon 2 Mar 11:02, 3 h after wind")

	f.ok("", events.OrderCancelled, 310, events.CancelData{Order: "A"})
	f.ok("MIX", events.MixDiscarded, 310, events.MixData{Mix: "x"})
	require.Len(t, at(320), 2, "tool and tester")
}
