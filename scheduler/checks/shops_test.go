// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// flowCheck is one entry of flow_shop.json.
type flowCheck struct {
	ID     string
	Source source
	Stages []int
	Times  [][]int64
	Waits  [][]struct {
		Min int64
		Max *int64
	}
	Value    int64 // of the schedule, when it is not the optimum
	Optimum  int64
	Schedule [][][2]int64 // start, machine by job and stage
}

func (c *flowCheck) shop(t *testing.T) *instance.Shop {
	t.Helper()
	f := instance.Flow{Name: c.ID, Stages: c.Stages, Times: c.Times}
	for _, job := range c.Waits {
		var waits []instance.Wait
		for _, w := range job {
			wait := instance.Wait{Min: w.Min, HasMax: w.Max != nil}
			if w.Max != nil {
				wait.Max = *w.Max
			}
			waits = append(waits, wait)
		}
		f.Waits = append(f.Waits, waits)
	}
	s, err := f.Shop()
	require.NoError(t, err)
	return s
}

// shopPlaces writes a schedule of [start, machine] as operations of the case.
func shopPlaces(t *testing.T, s *instance.Shop, c *instance.Case, schedule [][][2]int64) []place {
	t.Helper()
	require.Len(t, schedule, len(s.Jobs))
	var places []place
	for j, steps := range schedule {
		product := &c.Plant.Products[j]
		require.Len(t, steps, len(product.Routing))
		for k, x := range steps {
			station := c.Plant.Stations[x[1]].ID
			places = append(places, place{
				line: product.ID, operation: product.Routing[k].ID, station: station, start: x[0],
				run: int64(product.Routing[k].RunAt[station] / instance.Unit),
			})
		}
	}
	return places
}

// A1, A2 (two machines), A6 (with cure lags), A16 (parallel machines), G4
// (hybrid flow shop without waits, with no wait allowed, with a cure wait).
func TestFlowShops(t *testing.T) {
	for _, check := range readChecks[flowCheck](t, "flow_shop.json") {
		t.Run(check.ID, func(t *testing.T) {
			s := check.shop(t)
			c, err := s.Makespan()
			require.NoError(t, err)
			value := check.Optimum
			if check.Value > 0 {
				value = check.Value
			}
			accepts(t, c, shopPlaces(t, s, c, check.Schedule), value, check.Optimum)
			reaches(t, c, check.Optimum, 2000, false)
		})
	}
}

// jobCheck is one entry of job_shop.json.
type jobCheck struct {
	ID       string
	Source   source
	Machines int
	Jobs     [][][2]int64
	Optimum  int64
	Schedule [][][2]int64
}

func (c *jobCheck) shop() *instance.Shop {
	s := &instance.Shop{Name: c.ID, Machines: c.Machines}
	for _, job := range c.Jobs {
		var steps []instance.Step
		for _, x := range job {
			steps = append(steps, instance.Step{Options: []instance.Option{{Machine: int(x[0]), Time: x[1]}}})
		}
		s.Jobs = append(s.Jobs, steps)
	}
	return s
}

// shopMoves is how many moves the job shops get.
const shopMoves = 200000

// B: ft06 and la01 to la05.
func TestJobShops(t *testing.T) {
	for _, check := range readChecks[jobCheck](t, "job_shop.json") {
		t.Run(check.ID, func(t *testing.T) {
			s := check.shop()
			c, err := s.Makespan()
			require.NoError(t, err)
			accepts(t, c, shopPlaces(t, s, c, check.Schedule), check.Optimum, check.Optimum)
			reaches(t, c, check.Optimum, shopMoves, false)
		})
	}
}

// flexibleCheck is one entry of flexible_job_shop.json.
type flexibleCheck struct {
	ID       string
	Source   source
	Machines int
	Jobs     [][][][2]int64
	Optimum  int64
	Schedule [][][2]int64
}

func (c *flexibleCheck) shop() *instance.Shop {
	s := &instance.Shop{Name: c.ID, Machines: c.Machines}
	for _, job := range c.Jobs {
		var steps []instance.Step
		for _, choices := range job {
			var step instance.Step
			for _, x := range choices {
				step.Options = append(step.Options, instance.Option{Machine: int(x[0]), Time: x[1]})
			}
			steps = append(steps, step)
		}
		s.Jobs = append(s.Jobs, steps)
	}
	return s
}

// G3: flexible job shops; the small ones to the optimum.
func TestFlexibleJobShops(t *testing.T) {
	for _, check := range readChecks[flexibleCheck](t, "flexible_job_shop.json") {
		t.Run(check.ID, func(t *testing.T) {
			s := check.shop()
			c, err := s.Makespan()
			require.NoError(t, err)
			accepts(t, c, shopPlaces(t, s, c, check.Schedule), check.Optimum, check.Optimum)
			reaches(t, c, check.Optimum, 5000, !strings.HasPrefix(check.ID, "SFJS"))
		})
	}
}

// The engine's plans of the public instances keep the rules of the job shop and
// are as long by the problem's own scorer as by the plant's objective.
func TestBenchShopsScoreAlike(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(testdata, "bench", "jobshop", "*.txt"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		shop, findings := instance.ReadJobShop(filepath.Base(file), text)
		require.Empty(t, findings)
		c, err := shop.Makespan()
		require.NoError(t, err)
		s := stateOf(t, c)
		p, err := scheduler.Compile(s, instance.Start)
		require.NoError(t, err)
		plan, err := search.Construct(p)
		require.NoError(t, err)
		require.Empty(t, scheduler.Check(s, instance.Start, plan))
		sol, err := shop.Solution(placed(plan))
		require.NoError(t, err)
		long, err := shop.Score(sol)
		require.NoError(t, err)
		require.Equal(t, long, c.Value(scheduler.Measure(s, plan).Levels), shop.Name)
	}
}
