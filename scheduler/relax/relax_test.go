// SPDX-License-Identifier: Apache-2.0

package relax_test

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/relax"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

const (
	hour = resources.Hour
)

func day(id string, from, to resources.Seconds) resources.Calendar {
	days := []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}
	return resources.Calendar{ID: id, Shifts: []resources.Shift{{Days: days, Start: from, End: to}}}
}

// shop is a bench that is never shut, one crew of one, one mandrel, and a
// product made in two steps of two hours.
func shop() *resources.Plant {
	return schedtest.Plant(resources.Plant{
		ID: "shop", Horizon: 28 * resources.Day,
		Calendars: []resources.Calendar{day("early", 6*hour, 14*hour)},
		Stations:  []resources.Station{{ID: "W", Kind: "winder"}, {ID: "B", Kind: "bench"}},
		Crews:     []resources.Crew{{ID: "hands", Skills: []string{"wind"}, Shifts: []resources.CrewShift{{Heads: 4}}}},
		Tools:     []resources.Tool{{ID: "M", Kind: "mandrel", Units: []string{"M-1", "M-2", "M-3", "M-4"}}},
		Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
			{
				ID: "wind", Stations: []string{"W"}, Run: 2 * hour, Takes: []resources.Take{{Tool: "M", Until: "pull"}},
				Needs: []resources.Need{{Part: resources.PartRun, Skill: "wind", Share: 1000}},
			},
			{ID: "pull", Stations: []string{"B"}, Run: 2 * hour},
		}}},
	})
}

func line(order string, quantity int, due resources.Seconds) resources.OrderLine {
	return resources.OrderLine{
		Order: order, Line: "1", Product: "P", Quantity: quantity, Weight: 1,
		ShipBy: schedtest.Monday + resources.Tick(due), Due: schedtest.Monday + resources.Tick(due),
	}
}

// ask plans a shop and asks what would save an order.
func ask(t *testing.T, p *resources.Plant, order string, lines ...resources.OrderLine) *relax.Question {
	t.Helper()
	s := schedtest.State(p, lines...)
	problem, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	r, err := search.Improve(problem, search.Options{Seed: 1, Iterations: 300})
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, r.Plan)
	q, err := relax.Ask(s, schedtest.Monday, r.Plan, order, relax.Effort{Iterations: 60, Seed: 1})
	require.NoError(t, err)
	return q
}

// solve tries everything, as the runner does.
func solve(t *testing.T, q *relax.Question) *relax.Answer {
	t.Helper()
	var done []relax.Relaxation
	asked := 0
	for list := q.First; len(list) > 0; list = q.Next(done) {
		asked += len(list)
		for _, c := range list {
			r, err := q.Try(c)
			require.NoError(t, err, c.Key)
			require.Equal(t, r.Saved, r.Slack >= 0, c.Key)
			done = append(done, r)
		}
		require.Less(t, asked, 40)
	}
	a := q.Answer(done, asked)
	require.Equal(t, a.Tried, a.Asked)
	return a
}

// Each limit is found by what lifts it, and what is cheapest comes first.
func TestTheLimitOfTheChainIsLifted(t *testing.T) {
	for _, c := range []struct {
		name   string
		limit  func(p *resources.Plant)
		lines  []resources.OrderLine
		first  string // key of the cheapest
		saving []string
	}{
		{
			"one mandrel", func(p *resources.Plant) { p.Tools[0].Units = p.Tools[0].Units[:1] },
			[]resources.OrderLine{line("A", 2, 7*hour)}, "tool:M", []string{"tool:M"},
		},
		{
			"one winder", func(*resources.Plant) {},
			[]resources.OrderLine{line("A", 3, 7*hour)}, "station:B & station:W", nil,
		},
		{
			"one winder, two benches", func(p *resources.Plant) { p.Stations[1].Places = 3 },
			[]resources.OrderLine{line("A", 3, 7*hour)}, "station:W", []string{"station:W"},
		},
		{
			"one person", func(p *resources.Plant) {
				p.Stations[0].Places, p.Stations[1].Places, p.Crews[0].Shifts[0].Heads = 3, 3, 1
			},
			[]resources.OrderLine{line("A", 2, 5*hour)}, "person:hands", []string{"person:hands"},
		},
		{
			"people who go home", func(p *resources.Plant) { p.Crews[0].Shifts[0].Calendar = "early"; p.Crews[0].Shifts[0].Heads = 1 },
			[]resources.OrderLine{line("A", 5, 14*hour)}, "shift", []string{"shift"},
		},
		{
			"an order that may not start yet", func(*resources.Plant) {}, func() []resources.OrderLine {
				l := line("A", 1, 5*hour)
				l.EarliestStart = schedtest.Monday + resources.Tick(2*hour)
				return []resources.OrderLine{l}
			}(), "release:A/1", []string{"release:A/1"},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := shop()
			c.limit(p)
			a := solve(t, ask(t, p, "A", c.lines...))
			saving := a.Saving()
			require.NotEmpty(t, saving, "%+v", a.Relaxations)
			require.Contains(t, saving[0].Key, c.first)
			require.NotEmpty(t, saving[0].Words)
			require.Empty(t, saving[0].Hurt)
			for _, want := range c.saving {
				require.Contains(t, saving[0].Key, want)
			}
			for i := range a.Relaxations {
				require.NotEqual(t, relax.Search, saving[0].Kind)
				require.Equal(t, i < len(saving), a.Relaxations[i].Saved, "those that save come first")
			}
		})
	}
}

// A shift is not longer than it must be.
func TestExtraShiftIsHalvedWhileItSaves(t *testing.T) {
	p := shop()
	p.Crews[0].Shifts[0] = resources.CrewShift{Calendar: "early", Heads: 1}
	a := solve(t, ask(t, p, "A", line("A", 5, 14*hour)))
	r := a.Saving()[0]
	require.Equal(t, relax.Shift, r.Kind)
	require.InDelta(t, 2, r.Hours, 1e-9, "two hours of winding are missing")
}

// An order that only stands behind others is saved by another order of work,
// and what that costs others is said.
func TestAnotherOrderOfWorkComesFirst(t *testing.T) {
	p := shop()
	lines := []resources.OrderLine{line("A", 1, 4*hour), line("B", 1, 40*hour)}
	s := schedtest.State(p, lines...)
	b := schedtest.NewPlan(s, schedtest.Monday)
	at := func(h resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(h*hour) }
	b.Put("B-1-01", "wind", "W", at(0), schedtest.Tools("M-1")).Put("B-1-01", "pull", "B", at(2))
	b.Put("A-1-01", "wind", "W", at(2), schedtest.Tools("M-2")).Put("A-1-01", "pull", "B", at(4))
	plan := b.Plan()
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	q, err := relax.Ask(s, schedtest.Monday, plan, "A", relax.Effort{Iterations: 30})
	require.NoError(t, err)
	a := solve(t, q)
	require.Equal(t, relax.Search, a.Saving()[0].Kind)
	require.Empty(t, a.Saving()[0].Hurt)
	require.False(t, a.Lost)
	require.NotEmpty(t, a.Chain)

	lines[1] = line("B", 1, 4*hour) // now only one of them can be in time
	s = schedtest.State(p, lines...)
	q, err = relax.Ask(s, schedtest.Monday, plan, "A", relax.Effort{Iterations: 30})
	require.NoError(t, err)
	for _, r := range solve(t, q).Relaxations {
		if r.Kind == relax.Search && r.Saved {
			require.Equal(t, []string{"B"}, r.Hurt)
		}
	}
}

func TestNothingIsAskedOfOrdersThatAreFine(t *testing.T) {
	s := schedtest.State(shop(), line("A", 1, 40*hour))
	problem, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	plan, err := search.Construct(problem)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, schedtest.Monday, plan)
	require.Empty(t, relax.Troubled(s, plan))
	_, err = relax.Ask(s, schedtest.Monday, plan, "A", relax.Effort{})
	require.ErrorIs(t, err, relax.ErrSafe)
	_, err = relax.Ask(s, schedtest.Monday, plan, "Z", relax.Effort{})
	require.ErrorIs(t, err, relax.ErrNoOrder)
	_, err = relax.Ask(s, schedtest.Monday, nil, "A", relax.Effort{})
	require.Error(t, err)
}

func TestAQuestionCanBeGivenUp(t *testing.T) {
	p := shop()
	p.Tools[0].Units = p.Tools[0].Units[:1]
	s := schedtest.State(p, line("A", 2, 7*hour))
	problem, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	plan, err := search.Construct(problem)
	require.NoError(t, err)
	q, err := relax.Ask(s, schedtest.Monday, plan, "A", relax.Effort{Stop: func() bool { return true }})
	require.NoError(t, err)
	_, err = q.Try(q.First[0])
	require.True(t, errors.Is(err, relax.ErrStopped))
}

// The order in which answers come does not matter to the ranking.
func TestRankPutsTheCheapestFirst(t *testing.T) {
	r := func(key string, saved bool, hurt int, things int, hours float64, earlier resources.Seconds) relax.Relaxation {
		return relax.Relaxation{Candidate: relax.Candidate{Key: key, Things: things, Hours: hours}, Saved: saved, Hurt: make([]string, hurt), Earlier: earlier}
	}
	list := []relax.Relaxation{
		r("little help", false, 0, 0, 0, 5), r("station", true, 0, 1, 0, 99), r("others pay", true, 1, 0, 0, 99),
		r("much help", false, 0, 2, 0, 50), r("long shift", true, 0, 0, 16, 9), r("shift", true, 0, 0, 8, 9),
	}
	relax.Rank(list)
	var keys []string
	for i := range list {
		keys = append(keys, list[i].Key)
	}
	require.Equal(t, []string{"shift", "long shift", "station", "others pay", "much help", "little help"}, keys)
}

// Winding that waits for the bench, as what is wound must be pulled soon, is helped at
// the bench and not by more people who wind.
func TestWhatIsKeptBackIsHelpedWhereItGoes(t *testing.T) {
	p := shop()
	p.Stations[0].Places = 3
	pull := &p.Products[0].Routing[1]
	pull.After[0].Max, pull.After[0].HasMax = hour/20, true
	q := ask(t, p, "A", line("A", 3, 7*hour))
	var keys []string
	for i := range q.First {
		keys = append(keys, q.First[i].Key)
	}
	require.Contains(t, keys, "station:B")
	require.NotContains(t, keys, "person:hands")
	require.Contains(t, solve(t, q).Saving()[0].Key, "station:B")
}
