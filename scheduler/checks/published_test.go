// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"context"
	"flag"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/schedtest"
)

var budget = flag.Duration("budget", 2*time.Second, "time for each published problem in the benchmarks")

// generatedCheck is one entry of flow_shop_generated.json.
type generatedCheck struct {
	ID             string
	Source         source
	Jobs, Machines int
	Seed           int64
	Bound, Sum     int64
	Optimum        int64
	Sequence       []int
}

func (c *generatedCheck) shop(t testing.TB) (*instance.Flow, *instance.Shop) {
	t.Helper()
	f, err := instance.GeneratedFlow(c.ID, c.Jobs, c.Machines, c.Seed)
	require.NoError(t, err)
	s, err := f.Shop()
	require.NoError(t, err)
	return f, s
}

// places lets every machine keep the stored sequence.
func (c *generatedCheck) places(f *instance.Flow, cs *instance.Case) []place {
	var places []place
	free := make([]int64, c.Machines)
	for _, job := range c.Sequence {
		product := &cs.Plant.Products[job-1]
		var done int64
		for k := range c.Machines {
			start, run := max(done, free[k]), f.Times[job-1][k]
			done = start + run
			free[k] = done
			places = append(places, place{
				line: product.ID, operation: product.Routing[k].ID, station: cs.Plant.Stations[k].ID, start: start, run: run,
			})
		}
	}
	return places
}

// C: flow shops from the published generator. A plan may change the sequence
// between machines, so it can be shorter than the published optimum, which
// may not; the simple bound holds for both.
func TestGeneratedFlowShops(t *testing.T) {
	schedtest.Long(t)
	for _, check := range readChecks[generatedCheck](t, "flow_shop_generated.json") {
		f, s := check.shop(t)
		var sum int64
		for _, times := range f.Times {
			for _, x := range times {
				sum += x
			}
		}
		require.Equal(t, check.Sum, sum, check.ID)
		c, err := s.Makespan()
		require.NoError(t, err)
		accepts(t, c, check.places(f, c), check.Optimum, check.Bound)
		_, improved := solve(t, c, 3000)
		require.GreaterOrEqual(t, improved, check.Bound, "%s: below a published bound", check.ID)
	}
}

// A19: weighted tardiness of 40 jobs.
func TestWeightedTardiness(t *testing.T) {
	for _, check := range readChecks[singleCheck](t, "weighted_tardiness.json") {
		t.Run(check.ID, func(t *testing.T) {
			c := check.build(t)
			accepts(t, c, check.places(), check.Optimum, check.Optimum)
			reaches(t, c, check.Optimum, 20000, true)
		})
	}
}

// measured is a published problem with its optimum; none: it has no plan.
type measured struct {
	name    string
	c       *instance.Case
	optimum int64
	none    bool
}

// BenchmarkPublished plans families of published problems, each for -budget on
// all cores, and reports the share of optima reached, the mean of value over
// optimum, and for projects the share of impossible ones refused as proven.
//
//	go test ./scheduler/checks -run none -bench Published -benchtime 1x -budget 5s
func BenchmarkPublished(b *testing.B) {
	for name, cases := range families(b) {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				measureFamily(b, cases)
			}
		})
	}
}

func families(b *testing.B) func(yield func(string, []measured) bool) {
	all := []struct {
		name string
		read func() []measured
	}{
		{"generated-flow-shops", func() (list []measured) {
			for _, check := range readChecks[generatedCheck](b, "flow_shop_generated.json") {
				_, s := check.shop(b)
				list = append(list, published(b, check.ID, check.Optimum)(s.Makespan()))
			}
			return list
		}},
		{"projects-with-lags", func() (list []measured) {
			for _, check := range readChecks[projectCheck](b, "project_lags.json") {
				list = append(list, measured{check.ID, check.build(b), check.Optimum, check.Starts == nil})
			}
			return list
		}},
		{"flexible-job-shops", func() (list []measured) {
			for _, check := range readChecks[flexibleCheck](b, "flexible_job_shop.json") {
				list = append(list, published(b, check.ID, check.Optimum)(check.shop().Makespan()))
			}
			return list
		}},
		{"set-ups", func() (list []measured) {
			for _, check := range readChecks[tourCheck](b, "tour.json") {
				tour := instance.Tour{Name: check.ID, Setup: check.Setup}
				list = append(list, published(b, check.ID, check.Optimum)(tour.Makespan()))
			}
			return list
		}},
		{"weighted-tardiness", func() (list []measured) {
			for _, check := range readChecks[singleCheck](b, "weighted_tardiness.json") {
				list = append(list, measured{name: check.ID, c: check.build(b), optimum: check.Optimum})
			}
			return list
		}},
	}
	return func(yield func(string, []measured) bool) {
		for _, f := range all {
			if !yield(f.name, f.read()) {
				return
			}
		}
	}
}

func published(b *testing.B, name string, optimum int64) func(*instance.Case, error) measured {
	return func(c *instance.Case, err error) measured {
		require.NoError(b, err)
		return measured{name: name, c: c, optimum: optimum}
	}
}

func measureFamily(b *testing.B, cases []measured) {
	var planned, reached, refused, impossible int
	var ratio float64
	for _, x := range cases {
		s := stateOf(b, x.c)
		p, err := scheduler.Compile(s, instance.Start)
		require.NoError(b, err)
		found, err := runner.Plan(context.Background(), p, nil, runner.Budget{Time: *budget, Seed: seed, Workers: runtime.NumCPU()})
		if x.none {
			impossible++
			require.ErrorIs(b, err, scheduler.ErrNothingPossible, x.name)
			refused++
			continue
		}
		require.NoError(b, err, x.name)
		require.Empty(b, scheduler.Check(s, instance.Start, found.Plan), x.name)
		value := x.c.Value(scheduler.Measure(s, found.Plan).Levels)
		planned++
		ratio += float64(value) / float64(x.optimum)
		if value <= x.optimum {
			reached++
		} else {
			b.Logf("%s: %d, optimum %d", x.name, value, x.optimum)
		}
	}
	b.ReportMetric(float64(reached)/float64(planned), "optima/planned")
	b.ReportMetric(ratio/float64(planned), "value/optimum")
	b.ReportMetric(float64(planned), "planned")
	if impossible > 0 {
		b.ReportMetric(float64(refused)/float64(impossible), "refused/impossible")
	}
}
