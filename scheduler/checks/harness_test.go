// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"cmp"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

const testdata = "../../testdata"

// seed of every search here; with the iterations it fixes the plan.
const seed = 1

// source is where a published value comes from.
type source struct {
	Author, Title, Place, Note string
	Year                       int
}

// readChecks reads the list of one file of testdata/checks.
func readChecks[T any](t testing.TB, file string) []T {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(testdata, "checks", file))
	require.NoError(t, err)
	var doc struct {
		About  string
		Checks []T
	}
	require.NoError(t, json.Unmarshal(text, &doc))
	require.NotEmpty(t, doc.Checks)
	return doc.Checks
}

// place puts an operation of an order line's only piece at a start, in units.
type place struct {
	line, operation, station, load string
	start, run, setup              int64
}

// stateOf is the case's state before anything happened.
func stateOf(t testing.TB, c *instance.Case) *scheduler.State {
	t.Helper()
	s, err := scheduler.StateOf(c.Plant, c.Lines)
	require.NoError(t, err)
	return s
}

// planOf writes a published schedule as a plan: the reverse of what a case
// does to a problem.
func planOf(t *testing.T, c *instance.Case, s *scheduler.State, places []place) *scheduler.Plan {
	t.Helper()
	plan := &scheduler.Plan{Version: 1, Made: instance.Start}
	slices.SortStableFunc(places, func(a, b place) int { return cmp.Compare(a.start-a.setup, b.start-b.setup) })
	loads := map[string]int{}
	busy := map[string][]scheduler.Tick{}
	for _, p := range places {
		order := lineOf(t, c, p.line)
		piece := s.Lines[scheduler.LineKey(order.Order, order.Line)].Pieces[0]
		op := c.Plant.Product(order.Product).Operation(p.operation)
		require.NotNil(t, op, "operation %s of %s", p.operation, p.line)
		w := scheduler.Work{
			Order: order.Order, Line: order.Line, Piece: piece, Operation: p.operation, Station: p.station,
			Place: 1, Setup: at(p.start - p.setup), Start: at(p.start), Run: at(p.start),
			RunEnd: at(p.start + p.run), Unload: at(p.start + p.run), End: at(p.start + p.run), Load: p.load,
		}
		if p.load == "" {
			w.Place = freePlace(t, c, busy, &w)
		}
		for _, need := range op.Needs {
			w.People = append(w.People, scheduler.PeopleUse{Part: need.Part, Skill: need.Skill, Crew: need.Skill, Share: need.Share})
		}
		plan.Work = append(plan.Work, w)
		if p.load == "" {
			continue
		}
		ix, ok := loads[p.load]
		if !ok {
			ix = len(plan.Loads)
			loads[p.load] = ix
			plan.Loads = append(plan.Loads, scheduler.Load{
				ID: p.load, Station: p.station, Setup: w.Setup, Start: w.Start, Run: w.Run, RunEnd: w.RunEnd, Unload: w.Unload, End: w.End,
			})
		}
		plan.Loads[ix].Members = append(plan.Loads[ix].Members, scheduler.Member{Piece: piece, Operation: p.operation})
	}
	return plan
}

// freePlace takes the first place of the station that is free.
func freePlace(t *testing.T, c *instance.Case, busy map[string][]scheduler.Tick, w *scheduler.Work) int {
	t.Helper()
	if busy[w.Station] == nil {
		busy[w.Station] = make([]scheduler.Tick, c.Plant.Station(w.Station).Places)
	}
	for k, until := range busy[w.Station] {
		if until <= w.Setup {
			busy[w.Station][k] = w.End
			return k + 1
		}
	}
	return 1
}

func lineOf(t *testing.T, c *instance.Case, id string) *resources.OrderLine {
	t.Helper()
	for i := range c.Lines {
		if c.Lines[i].Line == id {
			return &c.Lines[i]
		}
	}
	t.Fatalf("no line %s", id)
	return nil
}

func at(units int64) scheduler.Tick {
	return instance.Start + scheduler.Tick(units)*scheduler.Tick(instance.Unit)
}

// accepts says that the verifier takes the stored schedule, that its value is
// the published one, and that it does not take it with one time shifted.
func accepts(t *testing.T, c *instance.Case, places []place, value, best int64) {
	t.Helper()
	s := stateOf(t, c)
	plan := planOf(t, c, s, places)
	require.Empty(t, scheduler.Check(s, instance.Start, plan))
	require.Equal(t, value, c.Value(scheduler.Measure(s, plan).Levels))
	for i := range plan.Work {
		shifted := planOf(t, c, s, places)
		w := &shifted.Work[i]
		w.RunEnd, w.Unload, w.End = w.RunEnd+1, w.Unload+1, w.End+1
		require.NotEmpty(t, scheduler.Check(s, instance.Start, shifted), "%s %s runs too long", w.Piece, w.Operation)

		shifted = planOf(t, c, s, places)
		w = &shifted.Work[i]
		by := scheduler.Tick(instance.Unit)
		w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End = w.Setup-by, w.Start-by, w.Run-by, w.RunEnd-by, w.Unload-by, w.End-by
		if c.Value(scheduler.Measure(s, shifted).Levels) < best {
			require.NotEmpty(t, scheduler.Check(s, instance.Start, shifted), "%s %s a unit earlier is better than the optimum", w.Piece, w.Operation)
		}
	}
}

// solve lets the engine plan the case and returns the published figure of its
// first and of its improved plan, both verified.
func solve(t *testing.T, c *instance.Case, iterations int64) (first, improved int64) {
	t.Helper()
	s := stateOf(t, c)
	p, err := scheduler.Compile(s, instance.Start)
	require.NoError(t, err)
	plan, err := search.Construct(p)
	require.NoError(t, err)
	require.Empty(t, scheduler.Check(s, instance.Start, plan))
	first = c.Value(scheduler.Measure(s, plan).Levels)
	r, err := search.Improve(p, search.Options{Seed: seed, Iterations: iterations})
	require.NoError(t, err)
	require.Empty(t, scheduler.Check(s, instance.Start, r.Plan))
	improved = c.Value(scheduler.Measure(s, r.Plan).Levels)
	require.LessOrEqual(t, improved, first, "an improvement is not worse than where it started")
	return first, improved
}

// reaches says that the engine gets to the optimum, with so many iterations,
// and not below. README.md lists what it reaches; open says that it need not get
// there yet, only not below.
func reaches(t *testing.T, c *instance.Case, optimum, iterations int64, open bool) {
	t.Helper()
	if testing.Short() { // a twentieth, of which no optimum is asked
		iterations, open = iterations/20, true
	}
	first, improved := solve(t, c, iterations)
	t.Logf("%s: first %d, improved %d, optimum %d", c.Name, first, improved, optimum)
	require.GreaterOrEqual(t, improved, optimum, "better than a proven optimum")
	if !open {
		require.Equal(t, optimum, improved)
	}
}
