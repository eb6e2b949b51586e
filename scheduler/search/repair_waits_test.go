// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// Four wet tubes are to go into the large oven together when it breaks; the
// small one holds two. Two loads one after the other keep every wait, which
// the four as one load cannot.
func TestRepairTakesALoadApartToKeepItsWaits(t *testing.T) {
	text, err := os.ReadFile("../../testdata/scenarios/shop.yaml")
	require.NoError(t, err)
	plant, found := resources.ReadPlant("shop.yaml", text)
	require.Empty(t, found)
	begin := schedtest.Monday + 8*3600
	s := schedtest.State(plant, resources.OrderLine{Order: "A", Line: "1", Product: "SHAFT", Quantity: 4, ShipBy: begin + 86400, Due: begin + 86400, Weight: 1})
	plan, err := search.Construct(compile(t, s, begin))
	require.NoError(t, err)
	require.Len(t, plan.Loads, 1)
	require.Equal(t, "O1", plan.Loads[0].Station)
	require.Len(t, plan.Loads[0].Members, 4)

	m := at(t, s, plan, plan.Loads[0].Start-60)
	_, err = m.s.Apply(events.Event{ID: "down", Kind: events.StationDown, Plant: "basin", Station: "O1", At: m.now, Data: events.StationData{Why: "no heat"}})
	require.NoError(t, err)
	got, err := search.Repair(compile(t, m.s, m.now), m.s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, m.s, m.now, got)
	require.Empty(t, got.Breaches)
	require.Len(t, got.Loads, 2)
	var first []scheduler.Tick
	for _, l := range got.Loads {
		require.Equal(t, "O2", l.Station)
		for _, x := range l.Members {
			first = append(first, wound(t, m.s, x.Piece))
		}
	}
	require.IsNonDecreasing(t, first, "what was wound first goes in first")
}

// wound is when the winding of a piece ended, or is to end.
func wound(t *testing.T, s *scheduler.State, piece string) scheduler.Tick {
	t.Helper()
	for i := range s.Plan.Work {
		if w := &s.Plan.Work[i]; w.Piece == piece && w.Operation == "wind" {
			return w.End
		}
	}
	require.Fail(t, "not wound", piece)
	return 0
}

// Gaps are closed for the sake of dates, but not at the price of a longest wait
// that has begun, nor of what people near now were told: what would be placed into
// the oven sooner keeps out of the way of what goes in now.
func TestGapsAreNotClosedInFrontOfWhatIsNear(t *testing.T) {
	for name, most := range map[string]resources.Seconds{"it must go in": 6 * hour, "it could wait": 20 * hour} {
		t.Run(name, func(t *testing.T) { closeInFrontOfCure(t, most) })
	}
}

func closeInFrontOfCure(t *testing.T, most resources.Seconds) {
	t.Helper()
	wait := func(op string, most resources.Seconds) []resources.Link {
		return []resources.Link{{Operation: op, Max: most, HasMax: true}}
	}
	s := bench(t, nil,
		resources.Operation{ID: "wet", Stations: []string{"Y"}, Run: hour},
		resources.Operation{ID: "wet-cure", Stations: []string{"Z"}, Run: 2 * hour, After: wait("wet", most)},
		resources.Operation{ID: "other", Stations: []string{"X"}, Run: hour, After: []resources.Link{}},
		resources.Operation{ID: "other-cure", Stations: []string{"Z"}, Run: 2 * hour, After: wait("other", 16*hour)})
	at := func(x resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(x*minute) }
	s.Plant.Freeze = 4 * hour
	s.Lines[scheduler.LineKey("A", "1")].Due = at(16 * 60)
	s.Plan = schedtest.NewPlan(s, schedtest.Monday).Put("A-1-01", "wet", "Y", at(0)).Put("A-1-01", "other", "X", at(280)).
		Put("A-1-01", "wet-cure", "Z", at(300)).Put("A-1-01", "other-cure", "Z", at(13*60)).Plan()
	m := moment{s, at(70)}
	schedtest.Advance(s, s.Plan, m.now)
	s.Plant.Stations[2].Stops = []resources.Exception{{Open: true, Start: at(13 * 60), Long: 2 * hour}}
	plan, err := search.Repair(compile(t, s, m.now), s.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, m.now, plan)
	require.Empty(t, plan.Breaches)
	for _, w := range plan.Work {
		if w.Operation == "wet-cure" {
			require.Equal(t, at(300), w.Start)
		}
	}
}
