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

// A winding that is pushed has its mix made later, and fresh; a mix that was to
// follow that one follows it still, and is not made in front of it.
func TestMixesAreMadeInTheOrderPeopleWereTold(t *testing.T) {
	draw := func(resin string) *resources.MixDraw { return &resources.MixDraw{Resin: resin, Grams: 100} }
	s := bench(t, nil,
		resources.Operation{ID: "first", Stations: []string{"X"}, Run: hour, Mix: draw("R")},
		resources.Operation{ID: "second", Stations: []string{"Y"}, Run: hour, Mix: draw("S"), After: []resources.Link{}})
	for _, id := range []string{"R", "S"} {
		s.Plant.Resins = append(s.Plant.Resins, resources.Resin{ID: id, Life: 8 * hour, ReferenceC: 20, MaxMass: 1000, Mixing: 15 * minute, Station: "Z"})
	}
	at := func(x resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(x*minute) }
	s.Plan = schedtest.NewPlan(s, schedtest.Monday).Mix("M1", "R", at(60)).Mix("M2", "S", at(75)).
		Put("A-1-01", "first", "X", at(75), schedtest.From("M1")).Put("A-1-01", "second", "Y", at(90), schedtest.From("M2")).Plan()
	s.Plant.Stations[0].Stops = []resources.Exception{{Open: true, Start: at(60), Long: 20 * minute}}
	plan, err := search.Repair(compile(t, s, at(10)), s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, at(10), plan)
	require.Equal(t, []resources.Tick{at(80), at(95)}, []resources.Tick{plan.Work[0].Start, plan.Work[1].Start})
	require.Equal(t, []resources.Tick{at(65), at(80)}, []resources.Tick{plan.Mixes[0].Start, plan.Mixes[1].Start})
}

// Work that hangs together is placed whole: what is pushed by a minute finds its
// oven taken by what was placed before it and was told for later. It keeps its
// turn, and that one is pushed by a minute too.
func TestWhatIsPushedByAMinuteKeepsItsTurn(t *testing.T) {
	wait := func(op string) []resources.Link {
		return []resources.Link{{Operation: op, Max: 8 * hour, HasMax: true}}
	}
	s := bench(t, nil,
		resources.Operation{ID: "early", Stations: []string{"X"}, Run: hour},
		resources.Operation{ID: "late-cure", Stations: []string{"Z"}, Run: 2 * hour, After: wait("early")},
		resources.Operation{ID: "late", Stations: []string{"Y"}, Run: hour, After: []resources.Link{}},
		resources.Operation{ID: "early-cure", Stations: []string{"Z"}, Run: 2 * hour, After: wait("late")})
	at := func(x resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(x*minute) }
	s.Plan = schedtest.NewPlan(s, schedtest.Monday).Put("A-1-01", "early", "X", at(20)).Put("A-1-01", "late", "Y", at(30)).
		Put("A-1-01", "early-cure", "Z", at(90)).Put("A-1-01", "late-cure", "Z", at(210)).Plan()
	s.Plant.Stations[1].Stops = []resources.Exception{{Open: true, Start: at(20), Long: 11 * minute}}
	plan, err := search.Repair(compile(t, s, at(10)), s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, at(10), plan)
	starts := map[string]resources.Tick{}
	for _, w := range plan.Work {
		starts[w.Operation] = w.Start
	}
	require.Equal(t, map[string]resources.Tick{"early": at(20), "late": at(31), "early-cure": at(91), "late-cure": at(211)}, starts)
}

// A plan that people follow stands, although it cannot be built up again in the
// order of its starts, and nothing can from here.
func TestAPlanThatIsFollowedStands(t *testing.T) {
	lines := []resources.OrderLine{
		{Order: "A", Quantity: 4, Due: 26, Weight: 4},
		{Order: "B", Quantity: 4, Due: 10, Weight: 1},
		{Order: "C", Quantity: 2, Due: 10, Weight: 4},
		{Order: "D", Quantity: 1, Due: 152, Weight: 1, Kind: resources.Event},
		{Order: "E", Quantity: 4, Due: 10, Weight: 1, Kind: resources.Event},
	}
	for i := range lines {
		lines[i].Product, lines[i].Line, lines[i].Due = "HS", "1", schedtest.Monday+lines[i].Due*3600
	}
	plant := schedtest.Workshop()
	plant.Materials[0].Receipts[0].Quantity = 100000
	s := schedtest.State(plant, lines...)
	r, err := search.Improve(compile(t, s, schedtest.Monday), search.Options{Seed: 1, Iterations: 40})
	require.NoError(t, err)
	now := schedtest.Monday + 1565*60
	schedtest.Advance(s, r.Plan, now)
	plan, err := search.Repair(compile(t, s, now), r.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, plan)
	require.Zero(t, scheduler.ChurnBetween(s.Plant, r.Plan, plan).Moved)

	// When people are late, it does not stand any more.
	for late := range resources.Tick(12) {
		plan, err := search.Repair(compile(t, s, now+late*300), r.Plan)
		require.NoError(t, err)
		schedtest.RequireOK(t, s, now+late*300, plan)
	}
}
