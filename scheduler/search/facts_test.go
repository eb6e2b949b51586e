// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

const minute, hour = resources.Minute, resources.Hour

// bench is a shop of one order with one piece, on stations that never close.
func bench(t testing.TB, crews []resources.Crew, routing ...resources.Operation) *scheduler.State {
	t.Helper()
	plant := resources.Plant{
		Horizon: 30 * resources.Day, Crews: crews,
		Stations: []resources.Station{{ID: "X"}, {ID: "Y"}, {ID: "Z"}},
		Products: []resources.Product{{ID: "P", Routing: routing}},
	}
	return schedtest.State(schedtest.Plant(plant), resources.OrderLine{
		Order: "A", Line: "1", Product: "P", Quantity: 1, Due: schedtest.Monday + resources.Tick(resources.Day), Weight: 1,
	})
}

func TestManyNeeds(t *testing.T) {
	var crews []resources.Crew
	op := resources.Operation{ID: "do", Stations: []string{"X"}, Run: hour}
	for i := range 30 {
		skill := fmt.Sprintf("s%d", i)
		crews = append(crews, resources.Crew{ID: skill, Skills: []string{skill}, Shifts: []resources.CrewShift{{Heads: 1}}})
		op.Needs = append(op.Needs, resources.Need{Part: resources.PartRun, Skill: skill, Share: 1000})
	}
	s := bench(t, crews, op)
	plan, err := search.Construct(compile(t, s, schedtest.Monday))
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	require.Len(t, plan.Work[0].People, 30)
}

// A pause puts the end off by the pause, however often it is planned meanwhile.
func TestRepairsDuringAPause(t *testing.T) {
	s := bench(t, nil, resources.Operation{ID: "do", Stations: []string{"X"}, Run: 4 * hour, MayPause: true})
	now := schedtest.Monday
	plan, err := search.Construct(compile(t, s, now))
	require.NoError(t, err)
	now += resources.Tick(hour)
	schedtest.Advance(s, plan, now)
	op := schedtest.Op(t, s, "A-1-01", "do")
	op.Status, op.PausedAt = scheduler.Paused, now
	for range 5 {
		now += resources.Tick(10 * minute)
		plan, err = search.Repair(compile(t, s, now), plan)
		require.NoError(t, err)
		schedtest.RequireOK(t, s, now, plan)
		s.Plan = plan
		require.Equal(t, now+resources.Tick(3*hour), plan.Work[0].End, "three hours of work are left")
	}
	op.Status, op.PausedAt, op.PausedFor = scheduler.Started, 0, 50*minute
	now += resources.Tick(20 * minute)
	plan, err = search.Repair(compile(t, s, now), plan)
	require.NoError(t, err)
	require.Equal(t, schedtest.Monday+resources.Tick(4*hour+50*minute), plan.Work[0].End)
}

// Facts have broken two waits to the same operation: the plan owns up to both.
func TestEveryBrokenWaitIsRecorded(t *testing.T) {
	s := bench(t, nil,
		resources.Operation{ID: "a", Stations: []string{"X"}, Run: hour},
		resources.Operation{ID: "b", Stations: []string{"Y"}, Run: hour},
		resources.Operation{ID: "c", Stations: []string{"Z"}, Run: hour, After: []resources.Link{
			{Operation: "a", Max: hour, HasMax: true}, {Operation: "a", FromStart: true, Max: 2 * hour, HasMax: true},
			{Operation: "b", Max: 90 * minute, HasMax: true},
		}})
	for _, id := range []string{"a", "b"} {
		op := schedtest.Op(t, s, "A-1-01", id)
		op.Status, op.Station, op.Started, op.Ended = scheduler.Done, map[string]string{"a": "X", "b": "Y"}[id], schedtest.Monday, schedtest.Monday+resources.Tick(hour)
	}
	now := schedtest.Monday + resources.Tick(9*hour)
	plan, err := search.Construct(compile(t, s, now))
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, plan)
	require.Len(t, plan.Breaches, 2)
}

// A piece for which there is no material waits; the others are planned, and so is
// it when a receipt is entered.
func TestWhatLacksMaterialWaitsAndTheOthersDoNot(t *testing.T) {
	s := bench(t, nil,
		resources.Operation{ID: "do", Stations: []string{"X"}, Run: hour, Draws: []resources.Draw{{Material: "tow", Quantity: 5000}}},
		resources.Operation{ID: "pack", Stations: []string{"Y"}, Run: hour, After: []resources.Link{{Operation: "do"}}})
	s = schedtest.State(s.Plant, resources.OrderLine{Order: "A", Line: "1", Product: "P", Quantity: 2, Due: schedtest.Monday + resources.Tick(resources.Day), Weight: 1})
	tow := resources.Material{ID: "tow", Unit: "kg", Stock: 8000}
	s.Plant.Materials = []resources.Material{tow}
	plan, err := search.Construct(compile(t, s, schedtest.Monday))
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	require.Len(t, plan.Work, 2)
	require.Equal(t, "A-1-01", plan.Work[1].Piece)
	require.Equal(t, scheduler.OrderWaiting, scheduler.MeasureOrders(s, plan)[0].Status)

	arrives := schedtest.Monday + resources.Tick(300*resources.Day)
	tow.Receipts = []resources.Receipt{{At: arrives, Quantity: 2000}}
	s.Plant.Materials = []resources.Material{tow}
	require.NotEmpty(t, scheduler.Check(s, schedtest.Monday, plan), "nothing keeps it from being planned")
	plan, err = search.Construct(compile(t, s, schedtest.Monday))
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	require.Len(t, plan.Work, 4)
	require.Equal(t, arrives, plan.Work[2].Start)
}

// A tool that is taken out of use while a piece is on it is kept until the
// piece gives it back, and from everybody else until it is in use again.
func TestToolOutInSomebodysHands(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	tried := 0
	for hours := resources.Seconds(25); hours < 34; hours++ {
		now := s.Plant.StartsAt + resources.Tick(hours*hour)
		m := at(t, s, plan, now)
		for i := range m.s.Plan.Work {
			w := &m.s.Plan.Work[i]
			if w.Status != scheduler.Started || len(w.Tools) == 0 {
				continue
			}
			for _, until := range []resources.Tick{0, now + resources.Tick(3*resources.Day)} {
				tried++
				c := m.s.Clone()
				data := events.ToolData{Unit: w.Tools[0], Why: "coating", Until: until}
				_, err := c.Apply(events.Event{ID: "out", Kind: events.ToolOut, Plant: "p", At: now, Data: data})
				require.NoError(t, err)
				again, err := search.Repair(compile(t, c, now), c.Plan)
				require.NoError(t, err)
				schedtest.RequireOK(t, c, now, again)
			}
		}
	}
	require.Positive(t, tried)
}
