// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// Two benches, always open; a frozen window of an hour, so that near ends five
// hours from now.
func churnShop() *scheduler.State {
	plant := schedtest.Plant(resources.Plant{
		ID:       "benches",
		Freeze:   resources.Hour,
		Stations: []resources.Station{{ID: "B1"}, {ID: "B2"}},
		Products: []resources.Product{{ID: "P", Routing: []resources.Operation{{ID: "do", Stations: []string{"B1", "B2"}, Run: resources.Hour}}}},
	})
	return schedtest.State(plant, resources.OrderLine{Order: "A", Line: "1", Product: "P", Quantity: 4, Due: schedtest.Monday + 90*3600, Weight: 1})
}

type spot struct {
	station string
	at      resources.Seconds
}

func churnPlan(s *scheduler.State, spots ...spot) *scheduler.Plan {
	b := schedtest.NewPlan(s, schedtest.Monday)
	for i, x := range spots {
		b.Put(s.Lines["A/1"].Pieces[i], "do", x.station, schedtest.Monday+resources.Tick(x.at))
	}
	p := b.Plan()
	p.Version = 1
	return p
}

func TestChurnCountsWhatPeopleWouldFindChanged(t *testing.T) {
	const h, m = resources.Hour, resources.Minute
	before := []spot{{"B1", 0}, {"B1", h}, {"B2", 4 * h}, {"B2", 20 * h}}
	for _, c := range []struct {
		name  string
		after []spot
		want  scheduler.Churn
		next  []string // stations
	}{
		{"nothing", before, scheduler.Churn{}, nil},
		{"pushed inside the frozen window", []spot{{"B1", 30 * m}, {"B1", 90 * m}, {"B2", 4 * h}, {"B2", 20 * h}}, scheduler.Churn{Moved: 2, Near: 2, Slipped: 1}, nil},
		{"a later job far away", []spot{{"B1", 0}, {"B1", h}, {"B2", 4 * h}, {"B2", 22 * h}}, scheduler.Churn{Moved: 1}, nil},
		{"to another station", []spot{{"B1", 0}, {"B2", h}, {"B2", 4 * h}, {"B2", 20 * h}}, scheduler.Churn{Moved: 1, Station: 1, Near: 1}, []string{"B2"}},
		{"another order", []spot{{"B1", 0}, {"B1", h}, {"B2", 20 * h}, {"B2", 4 * h}}, scheduler.Churn{Moved: 2, Near: 1}, []string{"B2"}},
		{"a station left empty", []spot{{"B1", 0}, {"B1", h}, {"B1", 4 * h}, {"B1", 20 * h}}, scheduler.Churn{Moved: 2, Station: 2, Near: 1}, []string{"B2"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := churnShop()
			s.Plan = churnPlan(s, before...)
			schedtest.RequireOK(t, s, schedtest.Monday, s.Plan)
			p := churnPlan(s, c.after...)
			schedtest.RequireOK(t, s, schedtest.Monday, p)
			x := scheduler.ChurnOf(s, p)
			var next []string
			for _, n := range x.Next {
				next = append(next, n.Station)
			}
			require.Equal(t, c.next, next)
			x.Next = nil
			c.want.Against, c.want.Compared, c.want.Frozen = 1, 4, 1
			require.Equal(t, c.want, *x)
			require.Equal(t, scheduler.Measure(s, p).Churn, x.Near, "what the objective pays for")
		})
	}
}

// People are told to begin with the changeover: work whose changeover falls
// into the frozen window is frozen, though it is loaded after it.
func TestFrozenIsWhatBeginsWithItsChangeover(t *testing.T) {
	s := churnShop()
	told := func(setup resources.Seconds) *scheduler.Plan {
		p := churnPlan(s, spot{"B1", 80 * resources.Minute}, spot{"B1", 10 * resources.Hour}, spot{"B1", 12 * resources.Hour}, spot{"B1", 14 * resources.Hour})
		p.Work[0].Setup -= resources.Tick(setup)
		return p
	}
	sooner := churnPlan(s, spot{"B2", 80 * resources.Minute}, spot{"B1", 10 * resources.Hour}, spot{"B1", 12 * resources.Hour}, spot{"B1", 14 * resources.Hour})
	for setup, frozen := range map[resources.Seconds]int{0: 0, 30 * resources.Minute: 1} {
		s.Plan = told(setup)
		require.Equal(t, frozen, scheduler.ChurnOf(s, sooner).Frozen)
		var broken int
		for _, v := range scheduler.Check(s, schedtest.Monday, sooner) {
			if v.Kind == scheduler.BreaksFreeze {
				broken++
			}
		}
		require.Equal(t, frozen, broken)
		p, err := scheduler.Compile(s, schedtest.Monday)
		require.NoError(t, err)
		var pinned int
		for i := range p.Acts {
			if p.Acts[i].Frozen {
				pinned++
			}
		}
		require.Equal(t, frozen, pinned)
	}
}

// A first plan changes nothing, and work that has begun is nobody's next job.
func TestChurnLeavesOutWhatHasBegun(t *testing.T) {
	s := churnShop()
	first := churnPlan(s, spot{"B1", 0}, spot{"B1", resources.Hour}, spot{"B2", 0}, spot{"B2", resources.Hour})
	require.Nil(t, scheduler.ChurnOf(s, first))
	s.Plan = first
	now := schedtest.Monday + 1800
	schedtest.Advance(s, first, now)
	p, err := scheduler.Compile(s, now)
	require.NoError(t, err)
	plan, err := search.Repair(p, first)
	require.NoError(t, err)
	e, broken := scheduler.Commit(s, now, plan)
	require.Empty(t, broken)
	require.NoError(t, events.Validate(e))
	churn := e.Data.(events.PlanData).Churn
	require.Equal(t, &events.PlanChurn{Against: 1, Compared: 2, Frozen: 2}, churn)
}

// The shop's own search keeps the frozen window, and its churn is that of the
// objective, whatever has happened.
func TestReplanningKeepsTheFrozenWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, published := schedtest.WorkshopPlan()
		s.Plan = published
		now := published.Made + resources.Tick(rapid.Int64Range(0, 20*int64(resources.Hour)).Draw(t, "passed"))
		schedtest.Advance(s, published, now)
		p, err := scheduler.Compile(s, now)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: rapid.Uint64().Draw(t, "seed"), Iterations: 5, Start: published})
		require.NoError(t, err)
		require.Empty(t, scheduler.Check(s, now, r.Plan))
		x := scheduler.ChurnOf(s, r.Plan)
		require.Equal(t, scheduler.Measure(s, r.Plan).Churn, x.Near)
		require.LessOrEqual(t, x.Slipped, x.Frozen)
		was := map[scheduler.Member]*scheduler.Work{}
		for i := range published.Work {
			w := &published.Work[i]
			was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w
		}
		for i := range r.Plan.Work {
			w := &r.Plan.Work[i]
			before := was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}]
			if w.Status == scheduler.Planned && before != nil && before.Start < now+resources.Tick(s.Plant.Freeze) {
				require.Equal(t, before.Station, w.Station)
				require.GreaterOrEqual(t, w.Start, before.Start)
			}
		}
	})
}
