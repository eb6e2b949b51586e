// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// demo is the demonstration plant with its season of orders and a first plan.
func demo(t testing.TB) (*scheduler.State, resources.Tick, *scheduler.Plan) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "testdata", "demo", "plant.yaml"))
	require.NoError(t, err)
	plant, findings := resources.ReadPlant("plant.yaml", text)
	require.NotNil(t, plant, "%v", findings)
	text, err = os.ReadFile(filepath.Join("..", "testdata", "demo", "orders.csv"))
	require.NoError(t, err)
	lines, findings := resources.ReadOrders("orders.csv", text, plant)
	require.False(t, resources.HasErrors(findings), "%v", findings)
	s, err := scheduler.StateOf(plant, lines)
	require.NoError(t, err)
	problem, err := scheduler.Compile(s, plant.StartsAt)
	require.NoError(t, err)
	p, err := search.Construct(problem)
	require.NoError(t, err)
	return s, plant.StartsAt, p
}

func TestCheckCatchesCorruptionsOfTheDemoPlan(t *testing.T) {
	schedtest.Long(t)
	s, now, p := demo(t)
	schedtest.RequireOK(t, s, now, p)
	requireCaught(t, s, now, p)
	now += 30 * hour
	p = schedtest.Advance(s, p, now)
	schedtest.RequireOK(t, s, now, p)
	requireCaught(t, s, now, p)
}

func requireCaught(t *testing.T, s *scheduler.State, now resources.Tick, p *scheduler.Plan) {
	t.Helper()
	kinds := map[scheduler.ViolationKind]int{}
	for _, c := range schedtest.Corruptions(s, now, p, rand.New(rand.NewPCG(7, 7)), 1) {
		kinds[c.Kind]++
		if found := scheduler.Check(s, now, c.Plan); !contains(found, c.Kind) {
			t.Errorf("%s: want %s, found\n%s", c.Name, c.Kind, schedtest.Text(found))
		}
	}
	require.Greater(t, len(kinds), 20, "%v", kinds)
}

// The search minds the same numbers as the score, counted apart from it, at
// the start of the season and in its midst.
func TestMeasureAgreesWithTheSearch(t *testing.T) {
	schedtest.Long(t)
	s, now, p := demo(t)
	for _, later := range []resources.Tick{0, 60 * hour} {
		if later > 0 {
			schedtest.Advance(s, p, now+later)
		}
		problem, err := scheduler.Compile(s, now+later)
		require.NoError(t, err)
		r, err := search.Improve(problem, search.Options{Seed: 1, Iterations: 10})
		require.NoError(t, err)
		schedtest.RequireOK(t, s, now+later, r.Plan)
		require.Equal(t, [4]int64(r.Cost), scheduler.Measure(s, r.Plan).Levels)
	}
}
