// SPDX-License-Identifier: Apache-2.0

package instance_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/resources/instance"
)

func TestStartIsAMonday(t *testing.T) {
	at := time.Unix(int64(instance.Start), 0).UTC()
	require.Equal(t, time.Monday, at.Weekday())
	require.Equal(t, "2024-01-01T00:00:00Z", at.Format(time.RFC3339))
}

func TestValueRoundsUp(t *testing.T) {
	c := instance.Case{Level: 1, Scale: 60, Shift: 3}
	require.Equal(t, int64(7), c.Value([4]int64{9, 600, 9, 9}))
	require.Equal(t, int64(8), c.Value([4]int64{9, 601, 9, 9}))
}

func TestFlowShopNumbersMachinesThroughTheStages(t *testing.T) {
	f := instance.Flow{Name: "f", Stages: []int{2, 1}, Times: [][]int64{{5, 3}},
		Waits: [][]instance.Wait{{{Min: 2, Max: 4, HasMax: true}}}}
	s, err := f.Shop()
	require.NoError(t, err)
	require.Equal(t, 3, s.Machines)
	c, err := s.Makespan()
	require.NoError(t, err)
	routing := c.Plant.Products[0].Routing
	require.Equal(t, []string{"M0", "M1"}, routing[0].Stations)
	require.Equal(t, []string{"M2"}, routing[1].Stations)
	require.Equal(t, []resources.Link{{
		Operation: "O0", Min: 2 * instance.Unit, Max: 4 * instance.Unit, HasMax: true,
	}}, routing[1].After)
	require.Equal(t, 5*instance.Unit, routing[0].RunAt["M1"])
}

func TestLatenessMovesDatesToTheFront(t *testing.T) {
	j := instance.Jobs{Name: "l", Time: []int64{4, 2}, Due: []int64{8, 12}, Release: []int64{0, 1}}
	c, err := j.Lateness()
	require.NoError(t, err)
	require.Equal(t, int64(12), c.Shift)
	require.Equal(t, instance.Start-4*60, c.Lines[0].Due)
	require.Equal(t, instance.Start, c.Lines[1].Due)
	require.Equal(t, instance.Start+60, c.Lines[1].EarliestStart)
	require.Equal(t, c.Lines[0].Order, c.Lines[1].Order)
}

// A lag and a negative lag between the same activities are one wait with a
// minimum and a maximum, and nothing names the last activity.
func TestProjectLagsBecomeWaits(t *testing.T) {
	p := instance.Project{
		Name: "p", Durations: []int64{0, 4, 3, 0}, Capacities: []int64{5},
		Demands: [][]int64{{0}, {4}, {2}, {0}},
		Lags: []instance.Lag{
			{0, 1, 0}, {0, 2, 0}, {1, 2, 6}, {2, 1, -9}, {1, 3, 4}, {2, 3, 3}, {3, 1, -20},
		},
	}
	c, err := p.Makespan()
	require.NoError(t, err)
	routing := c.Plant.Products[0].Routing
	require.Len(t, routing, 3, "the first activity says nothing")
	u := instance.Unit
	require.Empty(t, routing[0].After)
	require.Equal(t, []resources.Link{{Operation: "A1", FromStart: true, Min: 6 * u, Max: 9 * u, HasMax: true}}, routing[1].After)
	require.Equal(t, []resources.Link{
		{Operation: "A1", FromStart: true, Min: 4 * u, Max: 20 * u, HasMax: true},
		{Operation: "A2", FromStart: true, Min: 3 * u},
	}, routing[2].After)
	require.Equal(t, []resources.Need{{Part: resources.PartRun, Skill: "R1", Share: 4000}}, routing[0].Needs)
	require.Equal(t, []resources.CrewShift{{Heads: 5}}, c.Plant.Crews[0].Shifts)
}

func TestProjectKeepsAFirstActivityThatSaysSomething(t *testing.T) {
	p := instance.Project{
		Name: "p", Durations: []int64{0, 4, 0}, Demands: [][]int64{{}, {}, {}},
		Lags: []instance.Lag{{0, 1, 2}, {1, 0, -5}, {1, 2, 4}},
	}
	c, err := p.Makespan()
	require.NoError(t, err)
	routing := c.Plant.Products[0].Routing
	require.Len(t, routing, 3)
	require.Equal(t, []resources.Link{{
		Operation: "A0", FromStart: true, Min: 2 * instance.Unit, Max: 5 * instance.Unit, HasMax: true,
	}}, routing[1].After)
}

func TestTourEndsWhereItBegan(t *testing.T) {
	tour := instance.Tour{Name: "t", Setup: [][]int64{{0, 1, 2}, {3, 0, 4}, {5, 6, 0}}}
	c, err := tour.Makespan()
	require.NoError(t, err)
	st := &c.Plant.Stations[0]
	require.Equal(t, map[string]string{"city": "C0"}, st.Initial)
	routing := c.Plant.Products[0].Routing
	require.Len(t, routing, 3)
	back := &routing[2]
	require.Len(t, back.After, 2)
	long, _ := st.Changeover(routing[1].SetupAttributes(), back.SetupAttributes())
	require.Equal(t, 5*instance.Unit, long)
	long, _ = st.Changeover(st.Initial, routing[0].SetupAttributes())
	require.Equal(t, 1*instance.Unit, long)
	require.Equal(t, int64(3), c.Shift)
}

func TestBuildersRefuseWhatMakesNoSense(t *testing.T) {
	refused := func(_ *instance.Case, err error) { t.Helper(); require.Error(t, err) }
	refused((&instance.Shop{Name: "s"}).Makespan())
	refused((&instance.Shop{Name: "s", Machines: 1, Jobs: [][]instance.Step{{}}}).Makespan())
	refused((&instance.Shop{Name: "s", Machines: 1, Jobs: [][]instance.Step{{{Options: []instance.Option{{1, 1}}}}}}).Makespan())
	refused((&instance.Jobs{Name: "j"}).WeightedTardiness())
	refused((&instance.Jobs{Name: "j", Time: []int64{1, 2}, Due: []int64{1}}).LateJobs())
	refused((&instance.Jobs{Name: "j", Time: []int64{-1}}).WeightedCompletion())
	refused((&instance.Jobs{Name: "j", Time: []int64{1}}).Lateness())
	refused((&instance.Chains{Name: "c", Time: []int64{1, 1}, Weight: []int64{1, 1}, Chains: [][]int{{0}}}).WeightedCompletion())
	refused((&instance.Chains{Name: "c", Time: []int64{1}, Weight: []int64{1}, Chains: [][]int{{0, 0}}}).WeightedCompletion())
	refused((&instance.Batches{Name: "b", Machines: 1, Capacity: 3, Time: []int64{1}, Size: []int64{4}}).Makespan())
	refused((&instance.Batches{Name: "b", Machines: 0, Capacity: 3, Time: []int64{1}}).Makespan())
	refused((&instance.Project{Name: "p", Durations: []int64{0}}).Makespan())
	refused((&instance.Project{Name: "p", Durations: []int64{0, 1}, Demands: [][]int64{{}, {}}}).Makespan())
	refused((&instance.Tour{Name: "t", Setup: [][]int64{{0}}}).Makespan())
	refused((&instance.Tour{Name: "t", Setup: [][]int64{{0, 1}, {1}}}).Makespan())
	_, err := (&instance.Flow{Name: "f", Stages: []int{1, 0}}).Shop()
	require.Error(t, err)
	_, err = (&instance.Flow{Name: "f", Stages: []int{1}, Times: [][]int64{{1, 2}}}).Shop()
	require.Error(t, err)
	_, err = (&instance.Flow{Name: "f", Stages: []int{1, 1}, Times: [][]int64{{1, 2}}, Waits: [][]instance.Wait{{}}}).Shop()
	require.Error(t, err)
}

func TestShopScore(t *testing.T) {
	s := &instance.Shop{Name: "s", Machines: 2, Jobs: [][]instance.Step{
		{{Options: []instance.Option{{0, 3}}}, {Options: []instance.Option{{1, 4}}, Wait: instance.Wait{Max: 2, HasMax: true}}},
		{{Options: []instance.Option{{1, 2}, {0, 5}}}},
	}}
	good := []instance.ShopOp{{0, 0, 0, 0, 3}, {0, 1, 1, 3, 4}, {1, 0, 1, 7, 2}}
	last, err := s.Score(instance.ShopSolution{Ops: good})
	require.NoError(t, err)
	require.Equal(t, int64(9), last)
	for name, c := range map[string]struct {
		op   instance.ShopOp
		want string
	}{
		"overlap":        {instance.ShopOp{1, 0, 1, 6, 2}, "overlap"},
		"wrong duration": {instance.ShopOp{1, 0, 1, 7, 3}, "lasts 3 on machine 1"},
		"wrong machine":  {instance.ShopOp{1, 0, 0, 7, 2}, "lasts 2 on machine 0"},
		"no such op":     {instance.ShopOp{1, 1, 1, 7, 2}, "does not exist"},
		"twice":          {instance.ShopOp{0, 0, 0, 9, 3}, "is there twice"},
		"before time 0":  {instance.ShopOp{1, 0, 1, -2, 2}, "starts at -2"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.Score(instance.ShopSolution{Ops: []instance.ShopOp{good[0], good[1], c.op}})
			require.ErrorContains(t, err, c.want)
		})
	}
	_, err = s.Score(instance.ShopSolution{Ops: good[:2]})
	require.ErrorContains(t, err, "job 1, op 0 is missing")
	_, err = s.Score(instance.ShopSolution{Ops: []instance.ShopOp{good[0], {0, 1, 1, 6, 4}, {1, 0, 1, 0, 2}}})
	require.ErrorContains(t, err, "starts 3 after the op before it")
	_, err = s.Score(instance.ShopSolution{Ops: []instance.ShopOp{good[0], {0, 1, 1, 2, 4}, {1, 0, 1, 0, 2}}})
	require.ErrorContains(t, err, "starts -1 after the op before it")
}

func TestSolutionsCountAsTheInstanceDoes(t *testing.T) {
	shop := &instance.Shop{Name: "s", Machines: 12}
	at := func(u int64) resources.Tick { return instance.Start + resources.Tick(u*60) }
	sol, err := shop.Solution([]instance.Placed{
		{Line: "J3", Operation: "O1", Station: "M11", Run: at(4), RunEnd: at(9)},
		{Line: "J3", Operation: "O0", Station: "M02", Run: at(0), RunEnd: at(4)},
	})
	require.NoError(t, err)
	require.Equal(t, []instance.ShopOp{{3, 0, 2, 0, 4}, {3, 1, 11, 4, 5}}, sol.Ops)
	_, err = shop.Solution([]instance.Placed{{Line: "X", Operation: "O1", Station: "M1"}})
	require.Error(t, err)

	ovens := &instance.Ovens{Name: "o"}
	sched, err := ovens.Solution([]instance.Placed{
		{Line: "J04", Operation: "cure", Station: "M2", Load: "L1", Run: at(7), RunEnd: at(9)},
		{Line: "J01", Operation: "cure", Station: "M2", Load: "L1", Run: at(7), RunEnd: at(9)},
		{Line: "J02", Operation: "cure", Station: "M1", Run: at(3), RunEnd: at(4)},
		{Line: "J03", Operation: "cure", Station: "M1", Run: at(5), RunEnd: at(6)},
	})
	require.NoError(t, err)
	require.Equal(t, []instance.OvenBatch{
		{Machine: 1, Start: 3, Duration: 1, Jobs: []int{2}},
		{Machine: 1, Start: 5, Duration: 1, Jobs: []int{3}},
		{Machine: 2, Start: 7, Duration: 2, Jobs: []int{1, 4}},
	}, sched.Batches)
}
