// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
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
