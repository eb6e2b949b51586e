// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

func TestSeasonLosesNothingThatDueDatesLose(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	now := s.Plant.StartsAt
	p := compile(t, s, now)
	r, err := search.Improve(p, search.Options{Seed: 1, Iterations: 100})
	require.NoError(t, err)
	requireSound(t, s, now, r)
	require.Zero(t, scheduler.Measure(s, r.Plan).Lost, "an event order is lost")

	plain, err := search.ByRule(p, search.DueDate)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, plain)
	require.NotZero(t, scheduler.Measure(s, plain).Lost, "due dates alone would do: the season is not tight")
}

func TestEveryRulePlansTheSeason(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	p := compile(t, s, s.Plant.StartsAt)
	for _, rule := range search.Rules() {
		plan, err := search.ByRule(p, rule)
		require.NoError(t, err, rule)
		schedtest.RequireOK(t, s, s.Plant.StartsAt, plan)
	}
	_, err := search.ByRule(p, "by-mood")
	require.ErrorIs(t, err, search.ErrUnknownRule)
}

func TestSameSeedAndIterationsSamePlan(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	p := compile(t, s, s.Plant.StartsAt)
	var first []byte
	for range 2 {
		r, err := search.Improve(p, search.Options{Seed: 7, Iterations: 60})
		require.NoError(t, err)
		requireSound(t, s, s.Plant.StartsAt, r)
		text, err := scheduler.EncodePlan(r.Plan)
		require.NoError(t, err)
		if first == nil {
			first = text
		}
		require.Equal(t, string(first), string(text))
	}
}

func TestImproveIsNeverWorseThanItsStart(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	p := compile(t, s, s.Plant.StartsAt)
	start := retime(t, p, nil)
	r, err := search.Improve(p, search.Options{Seed: 3, Iterations: 100, Start: start.Plan})
	require.NoError(t, err)
	require.False(t, start.Cost.Less(r.Cost))
	requireSound(t, s, s.Plant.StartsAt, r)
}

// The plan is followed to the second up to many instants, in the middle of
// winds, cures, bonds and nights, and made again from there.
func TestReplansOnTheWay(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	now := s.Plant.StartsAt
	for _, hours := range []resources.Seconds{1, 5, 9, 14, 26, 50, 101, 150, 214, 300, 600} {
		now = s.Plant.StartsAt + resources.Tick(hours*resources.Hour) + 77
		schedtest.Advance(s, plan, now)
		p := compile(t, s, now)
		repaired, err := search.Repair(p, plan)
		require.NoError(t, err, "after %d hours", hours)
		schedtest.RequireOK(t, s, now, repaired)
		plan = repaired
	}
	r, err := search.Improve(compile(t, s, now), search.Options{Seed: 1, Iterations: 30, Start: plan})
	require.NoError(t, err)
	requireSound(t, s, now, r)
}

func TestRepairOfAnUndisturbedPlanMovesNothingNear(t *testing.T) {
	s := season(t)
	plan := retime(t, compile(t, s, s.Plant.StartsAt), nil).Plan
	now := s.Plant.StartsAt + resources.Tick(27*resources.Hour)
	schedtest.Advance(s, plan, now)
	repaired, err := search.Repair(compile(t, s, now), plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, repaired)
	require.Zero(t, scheduler.Measure(s, repaired).Churn)
}

func TestStationDownMovesItsWork(t *testing.T) {
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	now := s.Plant.StartsAt + resources.Tick(52*resources.Hour)
	schedtest.Advance(s, plan, now)
	for _, id := range []string{"O1", "W2", "BC1", "TORSION"} {
		st := *s.Stations[id]
		st.Down, st.Since, st.Until, st.Why = true, now, now+resources.Tick(30*resources.Hour), "heater"
		s.Stations[id] = &st
	}
	p := compile(t, s, now)
	repaired, err := search.Repair(p, plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, repaired)
	for _, w := range repaired.Work {
		if w.Station == "O1" && w.Status == scheduler.Planned {
			require.GreaterOrEqual(t, w.Setup, s.Stations["O1"].Until)
		}
	}
}

func TestWorkshopsAtRandom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []resources.OrderLine
		for i := range rapid.IntRange(1, 5).Draw(t, "orders") {
			lines = append(lines, resources.OrderLine{
				Order: string(rune('A' + i)), Line: "1",
				Product:  rapid.SampledFrom([]string{"HS", "PX"}).Draw(t, "product"),
				Quantity: rapid.IntRange(1, 4).Draw(t, "quantity"),
				Due:      schedtest.Monday + resources.Tick(rapid.IntRange(10, 200).Draw(t, "due hours")*3600),
				Weight:   int64(rapid.IntRange(1, 9).Draw(t, "weight")),
				Kind:     rapid.SampledFrom([]resources.OrderKind{resources.Firm, resources.Event}).Draw(t, "kind"),
			})
		}
		plant := schedtest.Workshop()
		plant.Materials[0].Receipts[0].Quantity = 100000
		s := schedtest.State(plant, lines...)
		now := schedtest.Monday
		p, err := scheduler.Compile(s, now)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: uint64(rapid.IntRange(0, 99).Draw(t, "seed")), Iterations: 40})
		require.NoError(t, err)
		require.Empty(t, scheduler.Check(s, now, r.Plan))
		require.Equal(t, scheduler.Measure(s, r.Plan).Levels, [4]int64(r.Cost))
		for i := range r.Cost {
			if r.Bound[i] != r.Cost[i] {
				require.Less(t, r.Bound[i], r.Cost[i])
				break
			}
		}
		// Live, somewhere on the way.
		now += resources.Tick(rapid.IntRange(1, 60*60).Draw(t, "minutes") * 60)
		schedtest.Advance(s, r.Plan, now)
		for i := range rapid.IntRange(0, 3).Draw(t, "absences") {
			s.Absences[string(rune('a'+i))] = drawAbsence(t, s.Plant, now)
		}
		p, err = scheduler.Compile(s, now)
		require.NoError(t, err)
		repaired, err := search.Repair(p, r.Plan)
		require.NoError(t, err)
		require.Empty(t, scheduler.Check(s, now, repaired))
		// Made while nobody knew when people would be back, it asks for no more of
		// them when time has passed.
		for _, v := range scheduler.Check(s, now+resources.Tick(2*hour), repaired) {
			require.NotContains(t, []scheduler.ViolationKind{scheduler.BreaksShift, scheduler.BreaksCrew}, v.Kind, v.Text)
		}
	})
}

func drawAbsence(t *rapid.T, p *resources.Plant, now resources.Tick) *scheduler.Absence {
	crew := &p.Crews[rapid.IntRange(0, len(p.Crews)-1).Draw(t, "crew")]
	a := &scheduler.Absence{Crew: crew.ID, People: rapid.IntRange(1, crew.Heads()).Draw(t, "people")}
	a.From = now + resources.Tick(rapid.IntRange(-10, 50).Draw(t, "from"))*3600
	a.Calendar = rapid.SampledFrom([]string{"", crew.Shifts[0].Calendar}).Draw(t, "calendar")
	if rapid.Bool().Draw(t, "until") {
		a.Until = a.From + resources.Tick(rapid.IntRange(1, 100).Draw(t, "long")*1800)
	}
	return a
}

// Nobody is asked for who is away, and those who are there go on.
func TestPeopleAwayAreNotPlanned(t *testing.T) {
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	now := s.Plant.StartsAt + resources.Tick(52*resources.Hour)
	schedtest.Advance(s, plan, now)
	crew := &s.Plant.Crews[0]
	away := &scheduler.Absence{Crew: crew.ID, People: crew.Heads(), From: now + 3600, Until: now + resources.Tick(3*resources.Day)}
	s.Absences["away"] = away
	require.True(t, slices.ContainsFunc(scheduler.Check(s, now, plan), func(v scheduler.Violation) bool {
		return v.Kind == scheduler.BreaksShift && v.At >= away.From && v.At < away.Until
	}), "the verifier sees who is away")
	repaired, err := search.Repair(compile(t, s, now), plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, repaired)
	later := 0
	for _, w := range repaired.Work {
		for _, u := range w.People {
			if u.Crew != crew.ID || w.Status != scheduler.Planned {
				continue
			}
			if w.Setup >= away.From {
				require.GreaterOrEqual(t, w.Setup, away.Until)
				later++
			}
		}
	}
	require.Positive(t, later)
}

// TestRepairWhereTheOldOrderLocksUp holds both fixtures by shafts whose next
// operation the old order puts behind a shaft that waits for a fixture.
func TestRepairWhereTheOldOrderLocksUp(t *testing.T) {
	lines := []resources.OrderLine{
		{Order: "A", Product: "HS", Quantity: 2, Due: 10, Weight: 1},
		{Order: "B", Product: "HS", Quantity: 2, Due: 11, Weight: 1},
		{Order: "C", Product: "HS", Quantity: 1, Due: 10, Weight: 1},
		{Order: "D", Product: "PX", Quantity: 4, Due: 10, Weight: 2, Kind: resources.Event},
		{Order: "E", Product: "HS", Quantity: 1, Due: 32, Weight: 1},
	}
	for i := range lines {
		lines[i].Line, lines[i].Due = "1", schedtest.Monday+lines[i].Due*3600
	}
	plant := schedtest.Workshop()
	plant.Materials[0].Receipts[0].Quantity = 100000
	s := schedtest.State(plant, lines...)
	p, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	r, err := search.Improve(p, search.Options{Seed: 2, Iterations: 40})
	require.NoError(t, err)
	now := schedtest.Monday + 1351*60
	schedtest.Advance(s, r.Plan, now)
	p, err = scheduler.Compile(s, now)
	require.NoError(t, err)
	repaired, err := search.Repair(p, r.Plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, repaired)
}

func TestExplainEndsWithTheOrdersLastOperation(t *testing.T) {
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	for _, o := range scheduler.MeasureOrders(s, plan) {
		steps := scheduler.Explain(s, plan, o.Order)
		require.NotEmpty(t, steps, o.Order)
		require.Equal(t, o.Completion, steps[len(steps)-1].End, o.Order)
		for i := range steps {
			require.NotEmpty(t, steps[i].Because)
			require.GreaterOrEqual(t, steps[i].Waited, resources.Seconds(0))
			if i > 0 {
				require.LessOrEqual(t, steps[i-1].Start, steps[i].Start, o.Order)
			}
		}
	}
	require.Empty(t, scheduler.Explain(s, plan, "no such order"))
	require.Empty(t, scheduler.Explain(s, nil, "any"))
}

// Anywhere on the way, with stations down for nobody knows how long and a piece
// on hold.
func TestRepairsAfterTrouble(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	for range 5 {
		s := season(t)
		now := s.Plant.StartsAt + resources.Tick(rng.IntN(700*3600))
		schedtest.Advance(s, plan, now)
		for _, id := range []string{"O1", "W2", "BC1", "TORSION", "BALANCE"} {
			if rng.IntN(3) == 0 {
				st := *s.Stations[id]
				st.Down, st.Since = true, now
				s.Stations[id] = &st
			}
		}
		piece := *s.Pieces["1102-1-01"]
		piece.Held, piece.Why = true, "looked at"
		s.Pieces["1102-1-01"] = &piece
		repaired, err := search.Repair(compile(t, s, now), plan)
		require.NoError(t, err, "at %d", now)
		schedtest.RequireOK(t, s, now, repaired)
	}
}

// A cancelled piece keeps its mandrel until somebody reports it back.
func TestToolsOfCancelledWorkAreNotFree(t *testing.T) {
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	now := s.Plant.StartsAt + resources.Tick(5*resources.Hour)
	schedtest.Advance(s, plan, now)
	held := map[string]bool{}
	var order string
	for _, mark := range slices.Sorted(maps.Keys(s.Tools)) {
		if piece := s.Pieces[s.Tools[mark].Holder]; piece != nil && (order == "" || piece.Order == order) {
			order = piece.Order
			held[mark] = true
		}
	}
	require.NotEmpty(t, held)
	for key, line := range s.Lines {
		if line.Order == order {
			gone := *line
			gone.Cancelled = true
			s.Lines[key] = &gone
		}
	}
	repaired, err := search.Repair(compile(t, s, now), plan)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, repaired)
	for _, w := range repaired.Work {
		for _, mark := range w.Tools {
			if held[mark] && w.Status == scheduler.Planned {
				require.GreaterOrEqual(t, w.Setup, now+resources.Tick(s.Plant.Horizon), mark)
			}
		}
	}
}
