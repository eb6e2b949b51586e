// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// requireBelow holds a plan against the bound of every part of the objective:
// no plan may be below any of them.
func requireBelow(t require.TestingT, s *scheduler.State, p *scheduler.Problem, plan *scheduler.Plan) {
	require.Empty(t, scheduler.Check(s, p.Now, plan))
	bounds, err := search.Bounds(p)
	require.NoError(t, err)
	score := scheduler.Measure(s, plan)
	for i, part := range search.Parts() {
		require.Equal(t, part.Name, bounds[i].Part)
		require.LessOrEqual(t, bounds[i].Value, part.Of(&score), "%s by %s", part.Name, bounds[i].By)
	}
}

// All parts at once, each on a level of its own, so that none is without weight.
func everyPart() resources.Objective {
	one := func(level int) resources.Term { return resources.Term{Level: level, Weight: 1} }
	return resources.Objective{
		Lost: one(0), Tardiness: one(1), Churn: one(2), Oven: one(3), SetupTime: one(3), SetupCost: one(3), Discard: one(3), Flow: one(3),
	}
}

// Whatever the orders, at the start and live somewhere on the way, no plan is
// below the bound of any part.
func TestBoundsOfWorkshopsAtRandom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, now := drawWorkshop(t)
		s.Plant.Objective = everyPart()
		p, err := scheduler.Compile(s, now)
		require.NoError(t, err)
		plan, err := search.Construct(p)
		require.NoError(t, err)
		requireBelow(t, s, p, plan)
		now += resources.Tick(rapid.IntRange(1, 60*60).Draw(t, "minutes") * 60)
		schedtest.Advance(s, plan, now)
		if rapid.Bool().Draw(t, "down") {
			for _, id := range []string{"O1", "W1"} {
				if st := s.Stations[id]; st != nil {
					down := *st
					down.Down, down.Since, down.Until = true, now, now+resources.Tick(5*resources.Hour)
					s.Stations[id] = &down
				}
			}
		}
		p, err = scheduler.Compile(s, now)
		require.NoError(t, err)
		plan, err = search.Repair(p, plan)
		if errors.Is(err, scheduler.ErrNothingPossible) {
			t.Skip(err) // a bound has nothing to be held against
		}
		require.NoError(t, err)
		requireBelow(t, s, p, plan)
	})
}

func drawWorkshop(t *rapid.T) (*scheduler.State, resources.Tick) {
	var lines []resources.OrderLine
	for i := range rapid.IntRange(1, 5).Draw(t, "orders") {
		for k := range rapid.IntRange(1, 2).Draw(t, "lines") {
			lines = append(lines, resources.OrderLine{
				Order: string(rune('A' + i)), Line: fmt.Sprint(k + 1),
				Product:  rapid.SampledFrom([]string{"HS", "PX"}).Draw(t, "product"),
				Quantity: rapid.IntRange(1, 4).Draw(t, "quantity"),
				Due:      schedtest.Monday + resources.Tick(rapid.IntRange(1, 90).Draw(t, "due hours")*3600),
				Weight:   int64(rapid.IntRange(1, 9).Draw(t, "weight")),
				Kind:     rapid.SampledFrom([]resources.OrderKind{resources.Firm, resources.Event}).Draw(t, "kind"),
			})
		}
	}
	plant := schedtest.Workshop()
	plant.Materials[0].Receipts[0].Quantity = 100000
	return schedtest.State(plant, lines...), schedtest.Monday
}

// Small problems of every family, each planned well by a search: the bound is
// never above what it finds, and for many of them it meets it.
func TestBoundsOfSmallProblemsAtRandom(t *testing.T) {
	met, all := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		s, err := scheduler.StateOf(c.Plant, c.Lines)
		require.NoError(t, err)
		p, err := scheduler.Compile(s, instance.Start)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: 1, Iterations: 150})
		require.NoError(t, err)
		require.Empty(t, scheduler.Check(s, instance.Start, r.Plan))
		requireBelow(t, s, p, r.Plan)
		all++
		if r.Cost == r.Bound {
			met++
		}
	})
	t.Logf("%d of %d meet", met, all)
	schedtest.Met(t, met)
}

func drawCase(t *rapid.T) *instance.Case {
	n := rapid.IntRange(2, 6).Draw(t, "jobs")
	list := func(low, high int64, name string) []int64 {
		return rapid.SliceOfN(rapid.Int64Range(low, high), n, n).Draw(t, name)
	}
	var c *instance.Case
	var err error
	switch rapid.IntRange(0, 5).Draw(t, "family") {
	case 0:
		shop := instance.Shop{Name: "shop", Machines: 3}
		for range n {
			var steps []instance.Step
			for _, m := range rapid.Permutation([]int{0, 1, 2}).Draw(t, "route") {
				steps = append(steps, instance.Step{Options: []instance.Option{{Machine: m, Time: rapid.Int64Range(1, 9).Draw(t, "time")}}})
			}
			shop.Jobs = append(shop.Jobs, steps)
		}
		c, err = shop.Makespan()
	case 1:
		flow := instance.Flow{Name: "flow", Stages: []int{2, 1, 2}}
		for range n {
			flow.Times = append(flow.Times, rapid.SliceOfN(rapid.Int64Range(1, 9), 3, 3).Draw(t, "times"))
		}
		var shop *instance.Shop
		if shop, err = flow.Shop(); err == nil {
			c, err = shop.Makespan()
		}
	case 2:
		b := instance.Batches{Name: "batch", Machines: rapid.IntRange(1, 3).Draw(t, "machines"), Capacity: 10, Time: list(1, 9, "time"), Size: list(1, 10, "size")}
		c, err = b.Makespan()
	case 3:
		jobs := instance.Jobs{Name: "late", Time: list(1, 9, "time"), Due: list(1, 25, "due"), Weight: list(1, 9, "weight"), Release: list(0, 9, "release")}
		c, err = jobs.LateJobs()
	case 4:
		jobs := instance.Jobs{Name: "tardy", Time: list(1, 9, "time"), Due: list(1, 25, "due"), Weight: list(1, 9, "weight"), Release: list(0, 9, "release")}
		c, err = jobs.WeightedTardiness()
	default:
		c = drawOvens(t, n).Case()
	}
	require.NoError(t, err)
	return c
}

func drawOvens(t *rapid.T, n int) *instance.Ovens {
	o := &instance.Ovens{Name: "ovens", Attributes: 2, Factors: instance.OvenFactors{RunTime: 4, Late: 100, SetupTime: 1, SetupCost: 3, Bound: 1}}
	for range 3 {
		o.SetupTime = append(o.SetupTime, rapid.SliceOfN(rapid.Int64Range(0, 4), 2, 2).Draw(t, "setup time"))
		o.SetupCost = append(o.SetupCost, rapid.SliceOfN(rapid.Int64Range(0, 9), 2, 2).Draw(t, "setup cost"))
	}
	for range 2 {
		o.Ovens = append(o.Ovens, instance.Oven{
			Capacity: rapid.Int64Range(6, 12).Draw(t, "capacity"), Initial: rapid.IntRange(1, 3).Draw(t, "initial"),
			Open: []instance.Span{{Start: 0, End: 40}, {Start: 45, End: 90}, {Start: 90, End: 500}},
		})
	}
	for range n {
		least := rapid.Int64Range(1, 9).Draw(t, "time")
		earliest := rapid.Int64Range(0, 20).Draw(t, "earliest")
		o.Jobs = append(o.Jobs, instance.OvenJob{
			Eligible: rapid.SampledFrom([][]int{{1}, {2}, {1, 2}}).Draw(t, "eligible"),
			Earliest: earliest, Latest: earliest + least + rapid.Int64Range(0, 20).Draw(t, "slack"),
			Min: least, Max: least + rapid.Int64Range(0, 5).Draw(t, "more"),
			Size: rapid.Int64Range(1, 6).Draw(t, "size"), Attribute: rapid.IntRange(1, 2).Draw(t, "attribute"),
		})
	}
	return o
}

// The season, at its start and on the way.
func TestBoundsOfTheSeason(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	p := compile(t, s, s.Plant.StartsAt)
	plan, err := search.Construct(p)
	require.NoError(t, err)
	requireBelow(t, s, p, plan)
	for _, hours := range []resources.Seconds{9, 26, 101, 300} {
		now := s.Plant.StartsAt + resources.Tick(hours*resources.Hour) + 77
		schedtest.Advance(s, plan, now)
		p := compile(t, s, now)
		plan, err = search.Repair(p, plan)
		if errors.Is(err, scheduler.ErrNothingPossible) {
			t.Skip(err) // a bound has nothing to be held against
		}
		require.NoError(t, err)
		requireBelow(t, s, p, plan)
	}
}

// Orders of two hours each on one bench: what is left when all are done is the
// spare, to the minute, and when they do not fit, the lateness of the last one is
// bounded.
func TestABoundOfNothingSaysWhatIsToSpare(t *testing.T) {
	const hour = resources.Hour
	plant := schedtest.Plant(resources.Plant{
		ID: "shop", Horizon: 28 * resources.Day, Objective: everyPart(),
		Stations: []resources.Station{{ID: "B", Kind: "bench"}},
		Products: []resources.Product{{ID: "P", Routing: []resources.Operation{{ID: "do", Stations: []string{"B"}, Run: 2 * hour}}}},
	})
	parts := func(kind resources.OrderKind, due ...resources.Seconds) map[string]search.PartBound {
		var lines []resources.OrderLine
		for i, d := range due {
			lines = append(lines, resources.OrderLine{
				Order: string(rune('A' + i)), Line: "1", Product: "P", Quantity: 1, Weight: int64(2 + i), Kind: kind,
				ShipBy: schedtest.Monday + resources.Tick(d), Due: schedtest.Monday + resources.Tick(d),
			})
		}
		s := schedtest.State(plant, lines...)
		p, err := scheduler.Compile(s, schedtest.Monday)
		require.NoError(t, err)
		bounds, err := search.Bounds(p)
		require.NoError(t, err)
		plan, err := search.Construct(p)
		require.NoError(t, err)
		requireBelow(t, s, p, plan)
		out := map[string]search.PartBound{}
		for _, b := range bounds {
			out[b.Part] = b
		}
		return out
	}
	for part, kind := range map[string]resources.OrderKind{"tardiness": resources.Firm, "lost": resources.Event} {
		b := parts(kind, 10*hour, 10*hour, 10*hour)[part]
		require.Zero(t, b.Value)
		require.Equal(t, "all orders' work on B, the earliest due first, which leaves 4 h to spare", b.By)
		b = parts(kind, 3*hour, 30*hour, 30*hour)[part]
		require.Zero(t, b.Value)
		require.Contains(t, b.By, "1 h to spare")
		b = parts(kind, 5*hour, 5*hour, 5*hour)[part]
		require.Positive(t, b.Value, "three do not fit")
		require.NotContains(t, b.By, "to spare")
	}
	for _, b := range parts(resources.Firm) {
		require.Empty(t, b.By, b.Part)
	}
}

func BenchmarkBounds(b *testing.B) {
	s := season(b)
	p := compile(b, s, s.Plant.StartsAt)
	for b.Loop() {
		if _, err := search.Bounds(p); err != nil {
			b.Fatal(err)
		}
	}
}
