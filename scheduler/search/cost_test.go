// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// Changeovers cost what the tables say, those behind us nothing: the costs of two
// plans for what is left differ by what is left alone.
func TestChangeoversThatAreMadeCostNothing(t *testing.T) {
	product := func(id string) resources.Product {
		return resources.Product{ID: id, Routing: []resources.Operation{{
			ID: "wind", Stations: []string{"W"}, Run: resources.Hour, Attributes: map[string]string{"resin": id},
		}}}
	}
	now := schedtest.Monday
	for name, c := range map[string]struct {
		at   resources.Tick // when they ask
		cost int64
	}{
		"nothing has begun":        {now - 1, 8},
		"the first begins now":     {now, 5}, // it has begun
		"the second begins now":    {now + resources.Tick(resources.Hour), 0},
		"between them, in a break": {now + resources.Tick(resources.Hour) - 1, 5},
	} {
		s := schedtest.State(schedtest.Plant(resources.Plant{
			ID: "turns", Products: []resources.Product{product("A"), product("B")},
			Stations: []resources.Station{{
				ID: "W", Initial: map[string]string{"resin": "N"},
				Setups: []resources.SetupRule{{Attribute: "resin", From: "N", To: "A", Cost: 3}, {Attribute: "resin", From: "A", To: "B", Cost: 5}},
			}},
			Objective: resources.Objective{SetupCost: resources.Term{Weight: 1}},
		}),
			resources.OrderLine{Order: "1", Line: "1", Product: "A", Quantity: 1, Weight: 1, Due: now},
			resources.OrderLine{Order: "2", Line: "1", Product: "B", Quantity: 1, Weight: 1, Due: now})
		plan := schedtest.NewPlan(s, now).Put("1-1-01", "wind", "W", now).Put("2-1-01", "wind", "W", now+resources.Tick(resources.Hour)).Plan()
		plan = schedtest.Advance(s, plan, c.at)
		require.Equal(t, c.cost, costOf(t, s, c.at, plan).cost[0], name)
		require.Equal(t, c.cost, scheduler.Measure(s, plan).ChangeoverCost, name)
	}
}

// A station is known to be set up as the last that began there wants it; what runs
// on another of its places has its changeover behind it all the same.
func TestWhatRunsOnAnotherPlaceCostsNoChangeover(t *testing.T) {
	now := schedtest.Monday
	var products []resources.Product
	for _, id := range []string{"A", "B"} {
		products = append(products, resources.Product{ID: id, Routing: []resources.Operation{{
			ID: "wind", Stations: []string{"W"}, Run: resources.Hour, Attributes: map[string]string{"resin": id},
		}}})
	}
	s := schedtest.State(schedtest.Plant(resources.Plant{
		ID: "pair", Products: products, Objective: resources.Objective{SetupCost: resources.Term{Weight: 1}},
		Stations: []resources.Station{{
			ID: "W", Places: 2, Initial: map[string]string{"resin": "A"},
			Setups: []resources.SetupRule{{Attribute: "resin", From: "A", To: "B", Cost: 5}, {Attribute: "resin", From: "B", To: "A", Cost: 7}},
		}},
	}),
		resources.OrderLine{Order: "1", Line: "1", Product: "A", Quantity: 1, Weight: 1, Due: now},
		resources.OrderLine{Order: "2", Line: "1", Product: "B", Quantity: 1, Weight: 1, Due: now})
	plan := schedtest.NewPlan(s, now).Put("1-1-01", "wind", "W", now).Put("2-1-01", "wind", "W", now+60, schedtest.Place(2)).Plan()
	later := now + 600
	plan = schedtest.Advance(s, plan, later)
	require.Equal(t, map[string]string{"resin": "B"}, s.Stations["W"].Setup)
	require.Zero(t, costOf(t, s, later, plan).cost[0])
	require.Zero(t, scheduler.Measure(s, plan).ChangeoverCost)
}

// A piece that is planned for this very instant has its changeover before it.
func TestAChangeoverForThisInstantCosts(t *testing.T) {
	now := schedtest.Monday
	s := schedtest.State(schedtest.Plant(resources.Plant{
		ID: "turn", Objective: resources.Objective{SetupCost: resources.Term{Weight: 1}},
		Products: []resources.Product{{ID: "A", Routing: []resources.Operation{{
			ID: "wind", Stations: []string{"W"}, Run: resources.Hour, Attributes: map[string]string{"resin": "A"},
		}}}},
		Stations: []resources.Station{{
			ID: "W", Initial: map[string]string{"resin": "N"}, Setups: []resources.SetupRule{{Attribute: "resin", From: "N", To: "A", Cost: 3}},
		}},
	}), resources.OrderLine{Order: "1", Line: "1", Product: "A", Quantity: 1, Weight: 1, Due: now})
	plan := schedtest.NewPlan(s, now).Put("1-1-01", "wind", "W", now).Plan()
	require.Equal(t, int64(3), costOf(t, s, now, plan).cost[0])
}

// How far a lost order is from being saved guides a search only where nothing
// that is late counts as much as what is lost.
func TestFarLostGuidesBelowLostAlone(t *testing.T) {
	now := schedtest.Monday
	for _, c := range []struct {
		lost, tardiness int
		guides          bool
	}{{0, 1, true}, {1, 3, true}, {0, 0, false}, {2, 2, false}, {1, 0, false}} {
		s := schedtest.State(schedtest.Plant(resources.Plant{
			ID:        "race",
			Objective: resources.Objective{Lost: resources.Term{Level: c.lost, Weight: 1}, Tardiness: resources.Term{Level: c.tardiness, Weight: 1}},
			Products:  []resources.Product{{ID: "A", Routing: []resources.Operation{{ID: "wind", Stations: []string{"W"}, Run: resources.Hour}}}},
			Stations:  []resources.Station{{ID: "W"}},
		}), resources.OrderLine{Order: "1", Line: "1", Product: "A", Quantity: 1, Weight: 2, Kind: resources.Event, Due: now + 600})
		v := costOf(t, s, now, schedtest.NewPlan(s, now).Put("1-1-01", "wind", "W", now).Plan())
		want := 0.0
		if c.guides {
			want = 2 * 3000 // weight by seconds late
		}
		require.Equal(t, int64(2), v.cost[c.lost], "%+v", c)
		require.InDelta(t, want, v.far, 0, "%+v", c)
		require.InDelta(t, scale[c.lost]*2+farWorth*want, v.guide, 1e-6, "%+v", c)
	}
}

// costOf is what a search counts for a plan.
func costOf(t *testing.T, s *scheduler.State, now resources.Tick, plan *scheduler.Plan) value {
	t.Helper()
	s.Plan = plan
	p, err := scheduler.Compile(s, now)
	require.NoError(t, err)
	d, err := newDecoder(p)
	require.NoError(t, err)
	g, err := d.like(plan)
	require.NoError(t, err)
	require.True(t, d.decode(g))
	return d.assess()
}
