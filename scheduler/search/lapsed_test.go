// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

const wetPlant = `
id: wet
zone: Etc/UTC
starts_at: "2026-03-02 06:00"
horizon: 5d
objective:
  oven: {level: 3, weight: 0}
  setup_time: {level: 3, weight: 0}
  discard: {level: 3, weight: 0}
  flow: {level: 3, weight: 0}
  churn: {level: 2, weight: 0}
calendars:
- id: day
  shifts:
  - {days: Mon-Sun, hours: "00:00-24:00"}
crews:
- id: hands
  skills: [winding]
  shifts:
  - {calendar: day, heads: 1}
stations:
- {id: W, calendar: day}
- {id: O, calendar: day}
products:
- id: TUBE
  routing:
  - {id: wind, stations: W, run: 60m}
  - id: cure
    stations: O
    run: 2h
    after:
    - {operation: wind, max: 30m}
- id: PLATE
  routing:
  - {id: bake, stations: O, run: 2h}
`

// Nobody is late whichever of two goes into the oven first, but a tube that has
// been wound waits too long when it is not the tube: a search does not rest
// there, and does not call it the best.
func TestNoPlanThatBreaksAWaitForNothingIsOptimal(t *testing.T) {
	plant, found := resources.ReadPlant("wet.yaml", []byte(wetPlant))
	require.False(t, resources.HasErrors(found), "%v", found)
	begin := plant.StartsAt
	line := func(order, product string) resources.OrderLine {
		return resources.OrderLine{Order: order, Line: "1", Product: product, Quantity: 1, ShipBy: begin + 86400, Due: begin + 86400, Weight: 1}
	}
	s := schedtest.State(plant, line("A", "TUBE"), line("B", "PLATE"))
	plan, err := search.Construct(compile(t, s, begin))
	require.NoError(t, err)
	for i := range plan.Work { // the tube at once, the plate when both are done
		w := &plan.Work[i]
		by := map[string]scheduler.Tick{"wind": begin, "cure": begin + 3600, "bake": begin + 4*3600}[w.Operation] - w.Start
		w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End = w.Setup+by, w.Start+by, w.Run+by, w.RunEnd+by, w.Unload+by, w.End+by
	}
	schedtest.RequireOK(t, s, begin, plan)
	now := begin + 1800
	schedtest.Advance(s, plan, now)
	p := compile(t, s, now)

	late := schedtest.Clone(s.Plan)
	for i := range late.Work {
		w := &late.Work[i]
		by := map[string]scheduler.Tick{"cure": 2 * 3600, "bake": -3 * 3600}[w.Operation]
		w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End = w.Setup+by, w.Start+by, w.Run+by, w.RunEnd+by, w.Unload+by, w.End+by
	}
	begun, err := search.Improve(p, search.Options{Start: late})
	require.NoError(t, err)
	require.Len(t, begun.Plan.Breaches, 1, "this is where it starts")
	require.Equal(t, begun.Cost, begun.Bound)
	require.False(t, begun.Optimal)
	require.True(t, begun.Plan.Judge([]scheduler.Gap{{Weight: 1}}, false))
	require.False(t, begun.Plan.Optimal)

	r, err := search.Improve(p, search.Options{Start: late, Seed: 1, Iterations: 1000})
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, r.Plan)
	require.Empty(t, r.Plan.Breaches)
	require.True(t, r.Optimal)
	require.Less(t, r.Iterations, int64(1000), "nothing is left to look for")
}
