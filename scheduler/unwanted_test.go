// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// begins is when a plan first takes a station for work that has not begun.
func begins(p *scheduler.Plan, station string) scheduler.Tick {
	for i := range p.Work {
		if w := &p.Work[i]; w.Station == station && w.Status == scheduler.Planned {
			return w.Setup
		}
	}
	return 0
}

// mustWait makes a plan for now, in which the station is not taken before it
// can be free, and breaks it: the verifier asks the same.
func (f *floor) mustWait(station string, now, free scheduler.Tick) {
	f.t.Helper()
	p, err := scheduler.Compile(f.s, now)
	require.NoError(f.t, err)
	plan, err := search.Construct(p)
	require.NoError(f.t, err)
	schedtest.RequireOK(f.t, f.s, now, plan)
	first := begins(plan, station)
	require.GreaterOrEqual(f.t, first, free)
	for i := range plan.Work {
		if w := &plan.Work[i]; w.Station == station && w.Status == scheduler.Planned && w.Setup == first {
			by := first - free + 1
			w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End = w.Setup-by, w.Start-by, w.Run-by, w.RunEnd-by, w.Unload-by, w.End-by
		}
	}
	for i := range plan.Loads {
		if l := &plan.Loads[i]; l.Station == station && l.Status == scheduler.Planned && l.Setup == first {
			by := first - free + 1
			l.Setup, l.Start, l.Run, l.RunEnd, l.Unload, l.End = l.Setup-by, l.Start-by, l.Run-by, l.RunEnd-by, l.Unload-by, l.End-by
		}
	}
	var texts []string
	for _, v := range scheduler.Check(f.s, now, plan) {
		if v.Kind == scheduler.BreaksOccupancy {
			texts = append(texts, v.Text)
		}
	}
	require.Len(f.t, texts, 1)
	require.Contains(f.t, texts[0], "nobody wants it any more")
}

// The winder goes on although the order it works for was cancelled.
func TestCancelledOrderKeepsTheStationItRunsOn(t *testing.T) {
	f := newFloor(t)
	f.order("P", "PAIR", 2)
	f.order("Q", "PAIR", 2)
	f.start("W1", "P-1-01", "wind", 10)
	f.ok("", events.OrderCancelled, 20, events.CancelData{Order: "P"})
	f.mustWait("W1", mins(20), mins(70))
	f.finish("W1", "P-1-01", "wind", 50)
	p, err := scheduler.Compile(f.s, mins(51))
	require.NoError(t, err)
	plan, err := search.Construct(p)
	require.NoError(t, err)
	schedtest.RequireOK(t, f.s, mins(51), plan)
	require.Equal(t, mins(51), begins(plan, "W1"), "it is free when that is reported")
}

// An oven runs on although all that is in it is scrap, until somebody reports
// the load finished or it should be over.
func TestScrappedLoadKeepsTheOven(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.order("H", "HOT", 1)
	f.finish("W1", "A-1-01", "wind", 70)
	f.load(events.LoadStarted, "L", 80, "A-1-01")
	f.finish("W1", "H-1-01", "wind", 140)
	f.ok("", events.PieceScrapped, 145, events.PieceData{Piece: "A-1-01", Why: "dropped"})
	f.mustWait("O1", mins(145), mins(80+10+240+10))
}
