// SPDX-License-Identifier: Apache-2.0

package whatif_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
	"towpath/scheduler/whatif"
)

// demo is the demo shop before anything has begun.
func demo(t testing.TB) *scheduler.State {
	t.Helper()
	plant, found := resources.ReadPlant("plant.yaml", testFile(t, "demo", "plant.yaml"))
	require.NotNil(t, plant, "%v", found)
	lines, found := resources.ReadOrders("orders.csv", testFile(t, "demo", "orders.csv"), plant)
	require.NotEmpty(t, lines, "%v", found)
	s, err := scheduler.StateOf(plant, lines)
	require.NoError(t, err)
	return s
}

func testFile(t testing.TB, folder, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", folder, name))
	require.NoError(t, err)
	return text
}

// read reads changes to a state.
func read(t testing.TB, s *scheduler.State, now resources.Tick, text string) *resources.ChangeSet {
	t.Helper()
	set, found := resources.ReadChanges("changes.yaml", []byte(text), s.Plant, whatif.Lines(s), now)
	require.NotNil(t, set, "%v", found)
	return set
}

// setOf is a set of some changes.
func setOf(changes ...resources.Change) *resources.ChangeSet {
	return &resources.ChangeSet{Name: "some changes", Changes: changes}
}

// print is everything that must not change in a state that is only asked of.
func print(s *scheduler.State) string { return s.Hash() + fmt.Sprintf("%+v", *s.Plant) }

// compare plans both sides with short searches, and verifies them.
func compare(t require.TestingT, q *whatif.Question, iterations int64) (*whatif.Comparison, [2]*scheduler.Plan) {
	first, err := search.Improve(q.Problem, search.Options{Seed: 1, Iterations: iterations})
	require.NoError(t, err)
	before, err := q.StartBefore(first.Plan)
	require.NoError(t, err)
	after, err := q.StartAfter(first.Plan)
	require.NoError(t, err)
	b, err := search.Improve(q.Problem, search.Options{Seed: 1, Iterations: iterations, Start: before})
	require.NoError(t, err)
	a, err := search.Improve(q.Changed, search.Options{Seed: 1, Iterations: iterations, Start: after})
	require.NoError(t, err)
	c, err := q.Compare(b.Plan, a.Plan)
	require.NoError(t, err)
	require.Empty(t, scheduler.Check(q.Before, q.Now, b.Plan))
	require.Empty(t, scheduler.Check(q.After, q.Now, a.Plan))
	return c, [2]*scheduler.Plan{b.Plan, a.Plan}
}

// bench is a winder and a bench, never shut, and a product of two steps of two
// hours; one mandrel.
func bench() *resources.Plant {
	return schedtest.Plant(resources.Plant{
		ID: "bench", Horizon: 28 * resources.Day,
		Stations: []resources.Station{{ID: "W", Kind: "winder"}, {ID: "B", Kind: "bench"}},
		Crews:    []resources.Crew{{ID: "hands", Skills: []string{"wind"}, Shifts: []resources.CrewShift{{Heads: 1}}}},
		Tools:    []resources.Tool{{ID: "M", Kind: "mandrel", Units: []string{"M-1"}}},
		Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
			{
				ID: "wind", Stations: []string{"W"}, Run: 2 * resources.Hour, Takes: []resources.Take{{Tool: "M", Until: "pull"}},
				Needs: []resources.Need{{Part: resources.PartRun, Skill: "wind", Share: 500}},
			},
			{ID: "pull", Stations: []string{"B"}, Run: 2 * resources.Hour},
		}}},
	})
}

func line(order string, quantity int, hours int) resources.OrderLine {
	due := schedtest.Monday + resources.Tick(hours)*resources.Tick(resources.Hour)
	return resources.OrderLine{Order: order, Line: "1", Product: "P", Quantity: quantity, Weight: 1, ShipBy: due, Due: due}
}
