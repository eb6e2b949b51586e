// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// projectCheck is one entry of project_lags.json.
type projectCheck struct {
	ID         string
	Durations  []int64
	Capacities []int64
	Demands    [][]int64
	Lags       [][3]int64
	Optimum    int64
	Starts     []int64 // nil: infeasible
}

func (c *projectCheck) build(t testing.TB) *instance.Case {
	t.Helper()
	p := instance.Project{Name: c.ID, Durations: c.Durations, Demands: c.Demands, Capacities: c.Capacities}
	for _, l := range c.Lags {
		p.Lags = append(p.Lags, instance.Lag{From: int(l[0]), To: int(l[1]), Time: l[2]})
	}
	cs, err := p.Makespan()
	require.NoError(t, err)
	return cs
}

// places writes start times as operations; the first activity is not one.
func (c *projectCheck) places(cs *instance.Case) []place {
	var places []place
	product := &cs.Plant.Products[0]
	first := len(c.Durations) - len(product.Routing)
	for k := range product.Routing {
		places = append(places, place{
			line: product.ID, operation: product.Routing[k].ID, station: cs.Plant.Stations[0].ID,
			start: c.Starts[first+k], run: c.Durations[first+k],
		})
	}
	return places
}

func TestProjectOptimaAreAccepted(t *testing.T) {
	for _, check := range readChecks[projectCheck](t, "project_lags.json") {
		if check.Starts == nil {
			continue
		}
		t.Run(check.ID, func(t *testing.T) {
			cs := check.build(t)
			accepts(t, cs, check.places(cs), check.Optimum, check.Optimum)
		})
	}
}

// Of the 73 projects that can be done, the engine has to find a plan for so
// many and the best one for so many.
const (
	leastPlanned = 73
	leastBest    = 72
)

// G2, UBO10: the engine plans what can be planned, does not beat the optimum,
// and says so when it finds nothing.
func TestProjects(t *testing.T) {
	planned, best, refused := 0, 0, 0
	for _, check := range readChecks[projectCheck](t, "project_lags.json") {
		c := check.build(t)
		p, err := scheduler.Compile(stateOf(t, c), instance.Start)
		if err == nil {
			_, err = search.Construct(p)
		}
		switch {
		case check.Starts == nil:
			require.ErrorIs(t, err, scheduler.ErrNothingPossible, check.ID)
			var why *scheduler.Infeasible
			require.ErrorAs(t, err, &why, check.ID)
			require.True(t, why.Proven, check.ID)
			require.NotEmpty(t, why.Together, "%s: %v", check.ID, err)
			refused++
		case err != nil:
			require.ErrorIs(t, err, scheduler.ErrNothingPossible, check.ID)
			t.Logf("%s: optimum %d, %v", check.ID, check.Optimum, err)
		default:
			planned++
			first, improved := solve(t, c, 5000)
			require.GreaterOrEqual(t, improved, check.Optimum, "%s: better than a proven optimum", check.ID)
			if improved == check.Optimum {
				best++
			} else {
				t.Logf("%s: first %d, improved %d, optimum %d", check.ID, first, improved, check.Optimum)
			}
		}
	}
	t.Logf("%d planned, %d of them best; %d refused", planned, best, refused)
	require.Equal(t, 17, refused)
	require.GreaterOrEqual(t, planned, leastPlanned)
	require.GreaterOrEqual(t, best, leastBest)
}
