// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// turned is a shop where the second operation follows the first on one station
// after a changeover of 20 min by a setter, of whom there are two sorts: one
// that is never there and one that always is. Some tools are wanted for the
// second. The plan is made and published.
func turned(t *testing.T, tools ...resources.Tool) (*scheduler.State, *scheduler.Plan) {
	t.Helper()
	plant := resources.Plant{
		Horizon: 30 * resources.Day, Freeze: 2 * hour,
		Crews: []resources.Crew{
			{ID: "gone", Skills: []string{"set"}},
			{ID: "here", Skills: []string{"set"}, Shifts: []resources.CrewShift{{Heads: 1}}},
		},
		Stations: []resources.Station{{
			ID: "X", SetupSkill: "set", SetupShare: 1000, Initial: map[string]string{"size": "1"},
			Setups: []resources.SetupRule{{Attribute: "size", From: "*", To: "*", Time: 20 * minute}},
		}},
		Tools: tools,
		Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
			{ID: "a", Stations: []string{"X"}, Run: hour, Attributes: map[string]string{"size": "1"}},
			{ID: "b", Stations: []string{"X"}, Run: hour, Attributes: map[string]string{"size": "2"}, After: []resources.Link{{Operation: "a"}}},
		}}},
	}
	for _, tool := range tools {
		plant.Products[0].Routing[1].Takes = append(plant.Products[0].Routing[1].Takes, resources.Take{Tool: tool.ID, Until: "b"})
	}
	s := schedtest.State(schedtest.Plant(plant), resources.OrderLine{
		Order: "A", Line: "1", Product: "P", Quantity: 1, Due: schedtest.Monday + resources.Tick(resources.Day), Weight: 1,
	})
	plan, err := search.Construct(compile(t, s, schedtest.Monday))
	require.NoError(t, err)
	require.Equal(t, schedtest.Monday+resources.Tick(hour), plan.Work[1].Setup)
	return s, plan
}

// Nobody has begun a changeover where other work is not reported finished: it
// comes after that, whatever was published.
func TestChangeoverBehindOverdueWorkHasNotBegun(t *testing.T) {
	s, plan := turned(t)
	now := schedtest.Monday + resources.Tick(hour-minute)
	schedtest.Advance(s, plan, now)
	now += resources.Tick(6 * minute)
	plan, err := search.Repair(compile(t, s, now), s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, plan)
	require.Equal(t, now, plan.Work[1].Setup)
}

// A changeover that is over the moment the plan is made asks nobody for
// anything any more.
func TestChangeoverThatIsOverNeedsNobody(t *testing.T) {
	s, plan := turned(t)
	now := plan.Work[1].Start
	schedtest.Advance(s, plan, now-1)
	plan, err := search.Repair(compile(t, s, now), s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, plan)
	require.Equal(t, now, plan.Work[1].Start)
	require.Less(t, plan.Work[1].Setup, now)
}

// A changeover that is done waits for the work when that cannot start as
// published; it is not done again.
func TestChangeoverInHandWaitsForItsWork(t *testing.T) {
	s, plan := turned(t)
	setup, start := plan.Work[1].Setup, plan.Work[1].Start
	now := start + resources.Tick(7*minute)
	schedtest.Advance(s, plan, start-1)
	plan, err := search.Repair(compile(t, s, now), s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, plan)
	require.Equal(t, setup, plan.Work[1].Setup)
	require.Equal(t, now, plan.Work[1].Start)
}

// What is done again takes its own time, not what was left of the first time.
func TestWorkDoneAgainIsNotTimedByTheFirstTime(t *testing.T) {
	s := bench(t, nil, resources.Operation{ID: "do", Stations: []string{"X"}, Run: hour})
	plan, err := search.Construct(compile(t, s, schedtest.Monday))
	require.NoError(t, err)
	plan.Work[0].Status, plan.Work[0].End = scheduler.Done, plan.Work[0].End-resources.Tick(10*minute)
	s.Plan = plan
	again := schedtest.Monday + resources.Tick(3*hour)
	op := schedtest.Op(t, s, "A-1-01", "do")
	op.Status, op.Station, op.Started = scheduler.Started, "X", again
	plan, err = search.Repair(compile(t, s, again), plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, again, plan)
	require.Equal(t, again+resources.Tick(hour), plan.Work[0].End)
}

// A mix that was to be begun by now is taken to be in hand, although the one
// who makes it is, as far as is reported, still at something else that began
// late: facts, and not the plan, ask too much of him. New work may not.
func TestMixInHandOfSomebodyBusy(t *testing.T) {
	plant := schedtest.Plant(resources.Plant{
		Horizon: 30 * resources.Day, Freeze: hour,
		Crews:    []resources.Crew{{ID: "one", Skills: []string{"clean", "mix"}, Shifts: []resources.CrewShift{{Heads: 1}}}},
		Stations: []resources.Station{{ID: "X"}, {ID: "Y"}, {ID: "Z"}},
		Resins:   []resources.Resin{{ID: "R", Life: 5 * hour, ReferenceC: 20, MaxMass: 1000, Mixing: 15 * minute, Station: "Y", Skill: "mix", Share: 1000}},
		Products: []resources.Product{
			{ID: "P", Routing: []resources.Operation{{ID: "wind", Stations: []string{"X"}, Run: hour, Mix: &resources.MixDraw{Resin: "R", Grams: 100}}}},
			{ID: "Q", Routing: []resources.Operation{{ID: "clean", Stations: []string{"Z"}, Run: hour, Needs: []resources.Need{{Part: resources.PartRun, Skill: "clean", Share: 1000}}}}},
		},
	})
	due := schedtest.Monday + resources.Tick(resources.Day)
	s := schedtest.State(plant,
		resources.OrderLine{Order: "A", Line: "1", Product: "P", Quantity: 1, Due: due, Weight: 1},
		resources.OrderLine{Order: "B", Line: "1", Product: "Q", Quantity: 2, Due: due - 3600, Weight: 9})
	plan, err := search.Construct(compile(t, s, schedtest.Monday))
	require.NoError(t, err)
	require.Len(t, plan.Mixes, 1)
	mix := plan.Mixes[0]
	before := plan.Work[0]
	require.Equal(t, "clean", before.Operation)
	require.GreaterOrEqual(t, mix.Start, before.End, "one after the other, as planned")
	s.Plan = plan
	late := resources.Tick(mix.Start-before.End) + resources.Tick(10*minute)
	op := schedtest.Op(t, s, before.Piece, "clean")
	op.Status, op.Station, op.Place, op.Started = scheduler.Started, "Z", 1, before.Start+late
	for i := range plan.Work {
		if w := &plan.Work[i]; w.Operation == "clean" && w.Piece != before.Piece && w.Start < mix.Start {
			o := schedtest.Op(t, s, w.Piece, "clean")
			o.Status, o.Station, o.Place, o.Started, o.Ended = scheduler.Done, "Z", 1, w.Start, w.End
		}
	}
	now := mix.Start + resources.Tick(5*minute)
	again, err := search.Repair(compile(t, s, now), plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, again)
	require.Equal(t, mix.Start, again.Mixes[0].Start, "it is in hand")
}

// What is placed before work whose changeover people have in hand, and comes
// after it, has its own changeover from there.
func TestChangeoverInHandIsNotTakenForUndone(t *testing.T) {
	small, large := map[string]string{"size": "1"}, map[string]string{"size": "2"}
	s := bench(t, nil,
		resources.Operation{ID: "b", Stations: []string{"X"}, Run: hour, Attributes: large},
		resources.Operation{ID: "c", Stations: []string{"X"}, Run: hour, Attributes: small, After: []resources.Link{}})
	st := &s.Plant.Stations[0]
	st.Setups = []resources.SetupRule{{Attribute: "size", From: "*", To: "*", Time: 20 * minute}}
	st.Initial = small
	s.Plant.Freeze = 8 * hour
	at := func(x resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(x) }
	s.Plan = schedtest.NewPlan(s, schedtest.Monday).Put("A-1-01", "b", "X", at(20*minute), schedtest.Setup(20*minute)).
		Put("A-1-01", "c", "X", at(2*hour), schedtest.Setup(20*minute)).Plan()
	now := at(10 * minute)
	for _, order := range [][]string{{"b", "c"}, {"c", "b"}} {
		plan, err := search.PlacedInOrder(compile(t, s, now), s.Plan, order...)
		require.NoError(t, err)
		schedtest.RequireOK(t, s, now, plan)
	}
}

// Where two are under way on one place, as far as is reported, what comes next
// is changed over to from the one that began last, whichever ends last.
func TestTwoUnderWayOnOnePlace(t *testing.T) {
	small, large := map[string]string{"size": "1"}, map[string]string{"size": "2"}
	for _, long := range []resources.Seconds{hour, 3 * hour} {
		s := bench(t, nil,
			resources.Operation{ID: "a", Stations: []string{"X"}, Run: long, Attributes: small},
			resources.Operation{ID: "b", Stations: []string{"X"}, Run: 2 * hour, Attributes: large, After: []resources.Link{}},
			resources.Operation{ID: "c", Stations: []string{"X"}, Run: hour, Attributes: small, After: []resources.Link{}})
		s.Plant.Stations[0].Setups = []resources.SetupRule{{Attribute: "size", From: "*", To: "*", Time: 20 * minute}}
		for i, id := range []string{"a", "b"} {
			op := schedtest.Op(t, s, "A-1-01", id)
			op.Status, op.Station, op.Place, op.Started = scheduler.Started, "X", 1, schedtest.Monday+resources.Tick(i*600)
		}
		now := schedtest.Monday + resources.Tick(1200)
		plan, err := search.Construct(compile(t, s, now))
		require.NoError(t, err)
		schedtest.RequireOK(t, s, now, plan)
	}
}

// Who has a changeover in hand has its tools in hand. With one of them out for
// repair nobody has begun it: it is done when that is back.
func TestChangeoverWithoutItsToolHasNotBegun(t *testing.T) {
	s, plan := turned(t, resources.Tool{ID: "T", Units: []string{"T-1"}})
	now := plan.Work[1].Start - resources.Tick(10*minute)
	schedtest.Advance(s, plan, now)
	back := now + resources.Tick(resources.Day)
	_, err := s.Apply(events.Event{ID: "1", Plant: "p", Kind: events.ToolOut, At: now, Data: events.ToolData{Unit: "T-1", Why: "coating", Until: back}})
	require.NoError(t, err)
	again, err := search.Repair(compile(t, s, now), s.Plan)
	require.NoError(t, err)
	once, fresh := search.PlacedAsTold(compile(t, s, now), s.Plan)
	require.Zero(t, fresh)
	for _, p := range []*scheduler.Plan{again, once} {
		schedtest.RequireOK(t, s, now, p)
		require.Equal(t, back, p.Work[1].Setup)
		require.Equal(t, back+resources.Tick(20*minute), p.Work[1].Start)
	}
}
