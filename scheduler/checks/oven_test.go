// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// ovenCheck is one entry of oven.json; the instance is in testdata/bench.
type ovenCheck struct {
	ID        string
	Source    source
	File      string
	RunTime   int64 `json:"run_time"`
	Late      int64
	SetupCost int64 `json:"setup_cost"`
	Optimum   int64
	Batches   []instance.OvenBatch
}

func readOvens(t *testing.T, file string) *instance.Ovens {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(testdata, "bench", "ovens", file))
	require.NoError(t, err)
	o, findings := instance.ReadDZN(file, text)
	require.Empty(t, findings)
	return o
}

// places writes batches as loads.
func (c *ovenCheck) places(o *instance.Ovens, cs *instance.Case) []place {
	var places []place
	before := make([]int, len(o.Ovens))
	for m := range o.Ovens {
		before[m] = o.Ovens[m].Initial
	}
	for i, b := range c.Batches {
		attribute := o.Jobs[b.Jobs[0]-1].Attribute
		setup := o.SetupTime[before[b.Machine-1]-1][attribute-1]
		before[b.Machine-1] = attribute
		for _, j := range b.Jobs {
			places = append(places, place{
				line: cs.Lines[j-1].Line, operation: "cure", station: cs.Plant.Stations[b.Machine-1].ID,
				load: fmt.Sprintf("B%02d", i+1), start: b.Start, run: b.Duration, setup: setup,
			})
		}
	}
	return places
}

// placed is what a solution speaks of in a plan.
func placed(plan *scheduler.Plan) []instance.Placed {
	var out []instance.Placed
	for i := range plan.Work {
		w := &plan.Work[i]
		out = append(out, instance.Placed{
			Line: w.Line, Operation: w.Operation, Station: w.Station, Load: w.Load, Run: w.Run, RunEnd: w.RunEnd,
		})
	}
	return out
}

// D4: a stored optimum has the published cost by the rules of the problem and
// as a plan, and the engine's plan has the same cost both ways.
func TestOvens(t *testing.T) {
	for _, check := range readChecks[ovenCheck](t, "oven.json") {
		t.Run(check.ID, func(t *testing.T) {
			o := readOvens(t, check.File)
			cost, err := o.Score(instance.OvenSolution{Batches: check.Batches})
			require.NoError(t, err)
			require.Equal(t, []int64{check.RunTime, check.Late, check.SetupCost, check.Optimum},
				[]int64{cost.RunTime, cost.Late, cost.SetupCost, cost.Cost})
			require.InDelta(t, float64(check.Optimum)/float64(o.Factors.Bound), cost.Normalised(), 1e-12)
			cs := o.Case()
			accepts(t, cs, check.places(o, cs), check.Optimum, check.Optimum)

			s := stateOf(t, cs)
			p, err := scheduler.Compile(s, instance.Start)
			require.NoError(t, err)
			r, err := search.Improve(p, search.Options{Seed: seed, Iterations: 200000})
			require.NoError(t, err)
			require.Empty(t, scheduler.Check(s, instance.Start, r.Plan))
			sol, err := o.Solution(placed(r.Plan))
			require.NoError(t, err)
			cost, err = o.Score(sol)
			require.NoError(t, err)
			require.Equal(t, cost.Cost, cs.Value(scheduler.Measure(s, r.Plan).Levels))
			t.Logf("%s: improved %d, optimum %d", check.ID, cost.Cost, check.Optimum)
			require.Equal(t, check.Optimum, cost.Cost)
		})
	}
}

// Two availability intervals that touch are two: a plan that runs a batch
// across the seam is not taken.
func TestOvenBatchAcrossASeamIsRejected(t *testing.T) {
	o := readOvens(t, "uc3-001.dzn")
	require.Equal(t, o.Ovens[0].Open[0].End, o.Ovens[0].Open[1].Start)
	check := readChecks[ovenCheck](t, "oven.json")[0]
	cs := o.Case()
	last := &check.Batches[4]
	require.Equal(t, 1, last.Machine)
	last.Start = o.Ovens[0].Open[0].End - 1
	s := stateOf(t, cs)
	violations := scheduler.Check(s, instance.Start, planOf(t, cs, s, check.places(o, cs)))
	require.NotEmpty(t, violations)
	for _, v := range violations {
		require.Equal(t, scheduler.BreaksOpening, v.Kind, v.Text)
	}
}

// The engine's plans of the public instances keep the rules of the problem and
// cost the same by the problem's own scorer as by the plant's objective.
func TestBenchOvensScoreAlike(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(testdata, "bench", "ovens", "*.dzn"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		o := readOvens(t, filepath.Base(file))
		c := o.Case()
		s := stateOf(t, c)
		p, err := scheduler.Compile(s, instance.Start)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: seed, Iterations: 200})
		require.NoError(t, err)
		require.Empty(t, scheduler.Check(s, instance.Start, r.Plan))
		sol, err := o.Solution(placed(r.Plan))
		require.NoError(t, err)
		cost, err := o.Score(sol)
		require.NoError(t, err)
		require.Equal(t, cost.Cost, c.Value(scheduler.Measure(s, r.Plan).Levels), o.Name)
	}
}
