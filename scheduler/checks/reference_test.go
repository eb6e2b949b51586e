// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// reference is a shop of testdata/reference with what a constraint solver says
// of it.
type reference struct {
	name  string
	plant *resources.Plant
	state *scheduler.State
	plan  *scheduler.Plan // the solver's; nil: it found none
	found struct {
		Solver, Status, Date string
		Pieces               int
		Levels, Bound        search.Cost
	}
}

// now is the instant a shop is planned for.
func (r *reference) now() scheduler.Tick { return r.plant.StartsAt }

// references reads the shops of a folder and, beside each, the solver's files
// of that name.
func references(t *testing.T, folder, name string) []*reference {
	t.Helper()
	dir := filepath.Join(testdata, "reference", folder)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var shops []*reference
	for _, e := range entries {
		read := func(file string) []byte {
			text, err := os.ReadFile(filepath.Join(dir, e.Name(), file))
			require.NoError(t, err)
			return text
		}
		r := &reference{name: e.Name()}
		var findings []resources.Finding
		plant, findings := resources.ReadPlant("plant.yaml", read("plant.yaml"))
		require.False(t, resources.HasErrors(findings), findings)
		r.plant = plant
		lines, findings := resources.ReadOrders("orders.csv", read("orders.csv"), plant)
		require.False(t, resources.HasErrors(findings), findings)
		r.state, err = scheduler.StateOf(r.plant, lines)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(read(name+".json"), &r.found))
		if r.found.Status != "UNKNOWN" {
			r.plan, err = scheduler.DecodePlan(read(name + "-plan.json"))
			require.NoError(t, err)
		}
		shops = append(shops, r)
	}
	return shops
}

// holds says that the verifier takes the solver's plan and that the objective
// measures on it what the solver says: model and engine speak of one problem.
func (r *reference) holds(t *testing.T) {
	t.Helper()
	require.NotEmpty(t, r.found.Solver)
	require.NotEmpty(t, r.found.Date)
	require.Empty(t, scheduler.Check(r.state, r.now(), r.plan), r.name)
	require.Equal(t, r.found.Levels, search.Cost(scheduler.Measure(r.state, r.plan).Levels), r.name)
	require.LessOrEqual(t, slices.Compare(r.found.Bound[:], r.found.Levels[:]), 0, r.name)
}

func TestReferenceOptimaAreProvenAndAccepted(t *testing.T) {
	shops := references(t, "tiny", "optimum")
	require.Len(t, shops, 60)
	for _, r := range shops {
		r.holds(t)
		require.Equal(t, "OPTIMAL", r.found.Status, r.name)
		require.Equal(t, r.found.Bound, r.found.Levels, r.name)
		require.GreaterOrEqual(t, r.found.Pieces, 4, r.name)
		require.LessOrEqual(t, r.found.Pieces, 10, r.name)
	}
}
