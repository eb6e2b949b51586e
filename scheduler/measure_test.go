// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// Every number of the workshop's plan, worked out by hand from its times.
func TestMeasureTheWorkshop(t *testing.T) {
	s, p := schedtest.WorkshopPlan()
	x := scheduler.Measure(s, p)
	require.InDelta(t, (60.0/100+50.0/100)/2, x.MeanLoadFill, 1e-9, "the mass is the fullest dimension of both oven loads")
	x.MeanLoadFill = 0
	require.Equal(t, scheduler.Score{
		Orders: 2, OnTime: 2,
		MakespanSeconds: 25*resources.Hour + 45*resources.Minute, // last box packed Tuesday 07:45
		Loads:           2,                                       // in the oven; winder loads are not cures
		Changeovers:     1, ChangeoverSeconds: 20 * resources.Minute, ChangeoverCost: 7,
		DiscardedGrams: 200,                              // two heels
		OvenSeconds:    (4 + 5 + 1 + 1) * resources.Hour, // two cures, two winder loads
		FlowSeconds:    flow,
		Levels:         [4]int64{0, 0, 0, 11*3600*100 + 1200*5 + 200*20 + int64(flow)},
	}, x)
	require.Equal(t, []scheduler.OrderScore{
		{Order: "A", Due: schedtest.Monday + 30*hour, Completion: schedtest.Monday + 25*hour + 45*minute, Slack: 4*resources.Hour + 15*resources.Minute},
		{Order: "B", Due: schedtest.Monday + 24*hour, Completion: schedtest.Monday + 13*hour + 10*minute, Slack: 10*resources.Hour + 50*resources.Minute},
	}, publicOf(scheduler.MeasureOrders(s, p)))
}

// flow is, by piece, from first start to last end: tube 1 06:20 to 15:20, tube 2
// to 15:50; shafts from 15:20 to packed 31:25 and 31:35, from 18:40 to 31:45,
// the sample from 18:55 to 31:15; B's tube from 08:10 to 19:10.
const flow = (540 + 570 + 965 + 975 + 785 + 740 + 660) * resources.Minute

// publicOf compares what callers see.
func publicOf(list []scheduler.OrderScore) []scheduler.OrderScore {
	var out []scheduler.OrderScore
	for _, o := range list {
		out = append(out, scheduler.OrderScore{Order: o.Order, Due: o.Due, Completion: o.Completion, Slack: o.Slack, Status: o.Status})
	}
	return out
}

// What a date costs is counted per order: the worst of its firm lines, and an
// order with a lost line is lost whatever its other lines do.
func TestMeasureOrders(t *testing.T) {
	const done = 10 * resources.Minute // each line's one piece is done then
	firm := func(line string, due resources.Seconds, weight int64) resources.OrderLine {
		return resources.OrderLine{Order: "X", Line: line, Product: "P", Quantity: 1, Weight: weight, Due: schedtest.Monday + resources.Tick(due), Kind: resources.Firm}
	}
	event := func(line string, due resources.Seconds, weight int64) resources.OrderLine {
		l := firm(line, due, weight)
		l.Kind = resources.Event
		return l
	}
	for _, c := range []struct {
		name      string
		lines     []resources.OrderLine
		status    scheduler.OrderStatus
		tardiness int64
		lost      int64
		slack     resources.Seconds
	}{
		{"done when due is on time", []resources.OrderLine{firm("1", done, 3)}, scheduler.OrderOnTime, 0, 0, 0},
		{"a second late", []resources.OrderLine{firm("1", done-1, 3)}, scheduler.OrderLate, 3, 0, -1},
		{"the worst line counts, weighed", []resources.OrderLine{firm("1", done-10, 3), firm("2", done-7, 5), firm("3", done+9, 9)}, scheduler.OrderLate, 35, 0, -10},
		{"an event line in time", []resources.OrderLine{event("1", done, 3)}, scheduler.OrderOnTime, 0, 0, 0},
		{"an event line too late is lost, not tardy", []resources.OrderLine{event("1", done-1, 3)}, scheduler.OrderLost, 0, 3, -1},
		{"one lost line loses the order once", []resources.OrderLine{event("1", done-1, 3), event("2", done-2, 4), firm("3", done-5, 2)}, scheduler.OrderLost, 10, 4, -5},
	} {
		t.Run(c.name, func(t *testing.T) {
			plant := schedtest.Plant(resources.Plant{
				Stations: []resources.Station{{ID: "S", Places: 9}},
				Products: []resources.Product{{ID: "P", Routing: []resources.Operation{{ID: "do", Stations: []string{"S"}, Run: done}}}},
			})
			s := schedtest.State(plant, c.lines...)
			b := schedtest.NewPlan(s, schedtest.Monday)
			for i, l := range c.lines {
				b.Put("X-"+l.Line+"-01", "do", "S", schedtest.Monday, schedtest.Place(i+1))
			}
			p := b.Plan()
			schedtest.RequireOK(t, s, schedtest.Monday, p)
			o := scheduler.MeasureOrders(s, p)
			require.Len(t, o, 1)
			require.Equal(t, c.status, o[0].Status, o[0].Status.String())
			require.Equal(t, c.slack, o[0].Slack)
			x := scheduler.Measure(s, p)
			require.Equal(t, c.tardiness, x.WeightedTardinessSeconds)
			require.Equal(t, c.lost, x.LostWeight)
			require.Equal(t, [4]int64{c.lost, c.tardiness}, [4]int64{x.Levels[0], x.Levels[1]})
		})
	}
}

func TestMeasureWaitsForWhatIsHeld(t *testing.T) {
	s, p := schedtest.WorkshopPlan()
	s.Pieces["A-1-01.1"].Held = true
	drop(p, "A-1-01.1", "pack")
	x := scheduler.Measure(s, p)
	require.Equal(t, []int{2, 1, 0, 0, 1}, []int{x.Orders, x.OnTime, x.Late, x.Lost, x.Waiting})
	require.Zero(t, scheduler.MeasureOrders(s, p)[0].Completion)
	p.Made = schedtest.Monday + 40*hour
	x = scheduler.Measure(s, p)
	require.Equal(t, 1, x.Late, "waiting beyond the due instant is late already")
	require.Equal(t, int64(10*10*hour), x.WeightedTardinessSeconds)
}

func TestMeasureCountsChurnNearNow(t *testing.T) {
	s, p := schedtest.WorkshopPlan()
	now := schedtest.Monday + hour
	next := schedtest.Advance(s, p, now)
	require.Zero(t, scheduler.Measure(s, next).Churn)
	shift(work(next, "B-1-01", "pack"), hour) // 12 hours ahead
	require.Zero(t, scheduler.Measure(s, next).Churn)
	shiftLoad(next, "WL-2", minute)
	require.Equal(t, 1, scheduler.Measure(s, next).Churn)
	shiftLoad(next, "OL-1", minute)
	require.Equal(t, 3, scheduler.Measure(s, next).Churn, "each member of a load")
}

// singleMachine is jobs one after the other on one machine, as orders of a
// kind, with the plan that runs them in a sequence of job numbers from 1.
func singleMachine(kind resources.OrderKind, p, d, w []int64, sequence []int) (*scheduler.State, *scheduler.Plan) {
	plant := resources.Plant{Stations: []resources.Station{{ID: "M"}}}
	var lines []resources.OrderLine
	for i := range p {
		id := fmt.Sprintf("J%d", i+1)
		plant.Products = append(plant.Products, resources.Product{ID: id, Routing: []resources.Operation{
			{ID: "do", Stations: []string{"M"}, Run: resources.Seconds(p[i])},
		}})
		lines = append(lines, resources.OrderLine{
			Order: id, Line: "1", Product: id, Quantity: 1, Due: schedtest.Monday + resources.Tick(d[i]), Weight: w[i], Kind: kind,
		})
	}
	s := schedtest.State(schedtest.Plant(plant), lines...)
	b := schedtest.NewPlan(s, schedtest.Monday)
	at := schedtest.Monday
	for _, job := range sequence {
		b.Put(fmt.Sprintf("J%d-1-01", job), "do", "M", at)
		at += resources.Tick(p[job-1])
	}
	return s, b.Plan()
}

// The score of published sequences is the published value.
func TestMeasurePublishedSequences(t *testing.T) {
	ones := []int64{1, 1, 1, 1, 1}
	t.Run("late jobs", func(t *testing.T) {
		// M. Pinedo, Scheduling, Example 3.3.3 (data from memory, all subsets
		// recomputed): the rule of J. M. Moore (1968), Management Science
		// 15(1):102-109, leaves 2 jobs late, due-date order 3.
		p, d := []int64{7, 8, 4, 6, 6}, []int64{9, 17, 18, 19, 21}
		for _, c := range []struct {
			sequence []int
			late     int
		}{{[]int{3, 4, 5, 2, 1}, 2}, {[]int{1, 2, 3, 4, 5}, 3}} {
			s, plan := singleMachine(resources.Event, p, d, ones, c.sequence)
			schedtest.RequireOK(t, s, schedtest.Monday, plan)
			x := scheduler.Measure(s, plan)
			require.Equal(t, c.late, x.Lost)
			require.Equal(t, int64(c.late), x.Levels[0])
		}
	})
	t.Run("tardiness", func(t *testing.T) {
		// M. Pinedo, Scheduling, Example 3.4.5 (data from memory, all
		// permutations recomputed).
		s, plan := singleMachine(resources.Firm, []int64{121, 79, 147, 83, 130}, []int64{260, 266, 266, 336, 337}, ones, []int{1, 2, 4, 5, 3})
		schedtest.RequireOK(t, s, schedtest.Monday, plan)
		require.Equal(t, int64(370), scheduler.Measure(s, plan).WeightedTardinessSeconds)
	})
	t.Run("weighted tardiness", func(t *testing.T) {
		// M. Pinedo, Scheduling, chapter 3, branch and bound for weighted
		// tardiness (data from memory, all permutations recomputed).
		s, plan := singleMachine(resources.Firm, []int64{12, 8, 15, 9}, []int64{16, 26, 25, 27}, []int64{4, 5, 3, 5}, []int{1, 2, 4, 3})
		schedtest.RequireOK(t, s, schedtest.Monday, plan)
		require.Equal(t, int64(67), scheduler.Measure(s, plan).WeightedTardinessSeconds)
	})
	t.Run("weighted completion", func(t *testing.T) {
		// W. E. Smith (1956), Naval Research Logistics Quarterly 3:59-66, on the
		// data of M. Pinedo, Scheduling, Example 3.1.4 (data from memory, all
		// permutations recomputed): due at the start, tardiness is completion.
		p, w := []int64{3, 6, 6, 5, 4, 8, 10}, []int64{6, 18, 12, 8, 8, 17, 18}
		s, plan := singleMachine(resources.Firm, p, make([]int64, 7), w, []int{2, 6, 1, 3, 5, 7, 4})
		schedtest.RequireOK(t, s, schedtest.Monday, plan)
		require.Equal(t, int64(1942), scheduler.Measure(s, plan).WeightedTardinessSeconds)
	})
}

// S. M. Johnson (1954), Naval Research Logistics Quarterly 1(1):61-68, the
// example (data from memory, all permutations recomputed): two machines, the
// best order 5, 1, 4, 3, 2 takes 47. As one firm order due at the start, its
// tardiness is the makespan.
func TestMeasureFlowShop(t *testing.T) {
	a, b := []int64{4, 4, 30, 6, 2}, []int64{5, 1, 4, 30, 3}
	plant := resources.Plant{Stations: []resources.Station{{ID: "M1"}, {ID: "M2"}}}
	var lines []resources.OrderLine
	for i := range a {
		id := fmt.Sprintf("J%d", i+1)
		plant.Products = append(plant.Products, resources.Product{ID: id, Routing: []resources.Operation{
			{ID: "first", Stations: []string{"M1"}, Run: resources.Seconds(a[i])},
			{ID: "second", Stations: []string{"M2"}, Run: resources.Seconds(b[i])},
		}})
		lines = append(lines, resources.OrderLine{Order: "all", Line: id, Product: id, Quantity: 1, Due: schedtest.Monday, Weight: 1})
	}
	s := schedtest.State(schedtest.Plant(plant), lines...)
	build := schedtest.NewPlan(s, schedtest.Monday)
	var one, two resources.Tick
	for _, job := range []int{5, 1, 4, 3, 2} {
		piece := fmt.Sprintf("all-J%d-01", job)
		build.Put(piece, "first", "M1", schedtest.Monday+one)
		one += resources.Tick(a[job-1])
		two = max(two, one)
		build.Put(piece, "second", "M2", schedtest.Monday+two)
		two += resources.Tick(b[job-1])
	}
	p := build.Plan()
	schedtest.RequireOK(t, s, schedtest.Monday, p)
	x := scheduler.Measure(s, p)
	require.Equal(t, resources.Seconds(47), x.MakespanSeconds)
	require.Equal(t, int64(47), x.WeightedTardinessSeconds)
	shift(work(p, "all-J2-01", "second"), -1)
	schedtest.RequireKind(t, s, schedtest.Monday, p, scheduler.BreaksOccupancy)
}

// An operation that only gives a tool back does not keep the order open.
func TestMeasureDoesNotWaitForTheMandrel(t *testing.T) {
	plant := schedtest.Plant(resources.Plant{
		Stations: []resources.Station{{ID: "S", Places: 2}},
		Tools:    []resources.Tool{{ID: "M", Units: []string{"M-1"}}},
		Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
			{ID: "wind", Stations: []string{"S"}, Run: 10, Takes: []resources.Take{{Tool: "M", Until: "coat"}}},
			{ID: "coat", Stations: []string{"S"}, Run: 1000},
			{ID: "ship", Stations: []string{"S"}, Run: 20, After: []resources.Link{{Operation: "wind"}}},
		}}},
	})
	s := schedtest.State(plant, resources.OrderLine{Order: "X", Line: "1", Product: "P", Quantity: 1, Due: schedtest.Monday + 30})
	p := schedtest.NewPlan(s, schedtest.Monday).
		Put("X-1-01", "wind", "S", schedtest.Monday, schedtest.Tools("M-1")).
		Put("X-1-01", "ship", "S", schedtest.Monday+10).
		Put("X-1-01", "coat", "S", schedtest.Monday+10, schedtest.Place(2)).
		Plan()
	schedtest.RequireOK(t, s, schedtest.Monday, p)
	require.Equal(t, schedtest.Monday+30, scheduler.MeasureOrders(s, p)[0].Completion)
}
