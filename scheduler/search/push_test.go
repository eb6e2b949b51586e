// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// On a bottleneck that begins half an hour late, what follows is half an hour late
// until a gap takes it up; what comes after that stays.
func TestPushEndsInAGap(t *testing.T) {
	s := bench(t, nil, resources.Operation{ID: "do", Stations: []string{"X"}, Run: hour})
	s = schedtest.State(s.Plant, resources.OrderLine{Order: "A", Line: "1", Product: "P", Quantity: 5, Due: schedtest.Monday + resources.Tick(resources.Day), Weight: 1})
	at := func(after resources.Seconds) resources.Tick { return schedtest.Monday + resources.Tick(after) }
	was := []resources.Seconds{0, hour, 2 * hour, 3*hour + 20*minute, 6 * hour}
	want := []resources.Seconds{30 * minute, hour + 30*minute, 2*hour + 30*minute, 3*hour + 30*minute, 6 * hour}
	b := schedtest.NewPlan(s, schedtest.Monday)
	for i, start := range was {
		b.Put(pieceNames[i], "do", "X", at(start))
	}
	s.Plan = b.Plan()
	now := at(30 * minute)
	_, err := s.Apply(events.Event{ID: "1", Kind: events.OperationStarted, At: now, Plant: "p", Station: "X", Data: events.OperationData{Piece: pieceNames[0], Operation: "do"}})
	require.NoError(t, err)
	plan, whole := search.Push(compile(t, s, now), s.Plan)
	require.True(t, whole)
	schedtest.RequireOK(t, s, now, plan)
	for i, w := range plan.Work {
		require.Equal(t, pieceNames[i], w.Piece)
		require.Equal(t, at(want[i]), w.Start, w.Piece)
	}
}

var pieceNames = []string{"A-1-01", "A-1-02", "A-1-03", "A-1-04", "A-1-05"}

// Whatever has happened, a pushed plan keeps every rule but waits that facts have
// broken, and begins nothing sooner than it was told.
func TestPushKeepsTheRules(t *testing.T) {
	one := seasons(t, 60)
	plan, err := search.Construct(compile(t, one, one.Plant.StartsAt))
	require.NoError(t, err)
	all, whole, moved := 0, 0, 0
	for _, hours := range []resources.Seconds{9, 31, 61, 110} {
		m := at(t, seasons(t, 60), plan, one.Plant.StartsAt+resources.Tick(hours*hour))
		for _, h := range happenings(t, m, 4) {
			all++
			got, ok := search.Push(compile(t, h.s, h.now), h.s.Plan)
			if got == nil {
				continue
			}
			moved += requirePushed(t, h.s, h.now, got, ok, h.kind)
			if ok {
				whole++
			}
		}
	}
	require.Greater(t, whole, all/2)
	require.Positive(t, moved)
}

// requirePushed holds a pushed plan against the one before it and, when nothing is
// left to be placed, against the verifier. It counts what is later.
func requirePushed(t require.TestingT, s *scheduler.State, now resources.Tick, got *scheduler.Plan, whole bool, what string) (later int) {
	if whole {
		require.Empty(t, scheduler.Check(s, now, got), what)
	}
	was := map[scheduler.Member]*scheduler.Work{}
	for i := range s.Plan.Work {
		w := &s.Plan.Work[i]
		was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w
	}
	for i := range got.Work {
		w := &got.Work[i]
		old := was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}]
		if old == nil || w.Status != scheduler.Planned {
			continue
		}
		require.GreaterOrEqual(t, w.Start, old.Start, "%s: %s at %s", what, w.Piece, w.Operation)
		require.Equal(t, old.Station, w.Station)
		if w.Start > old.Start {
			later++
		}
	}
	return later
}

// Small shops at random, a station down or work late on the way: a pushed plan
// keeps every rule.
func TestPushOfWorkshopsAtRandom(t *testing.T) {
	pushed := 0
	rapid.Check(t, func(t *rapid.T) {
		s, now := drawWorkshop(t)
		p, err := scheduler.Compile(s, now)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: 1, Iterations: 20})
		require.NoError(t, err)
		now += resources.Tick(rapid.IntRange(1, 60*60).Draw(t, "minutes") * 60)
		schedtest.Advance(s, r.Plan, now)
		now += resources.Tick(rapid.IntRange(0, 90).Draw(t, "minutes late") * 60)
		if st := s.Stations[s.Plant.Stations[rapid.IntRange(0, len(s.Plant.Stations)-1).Draw(t, "station")].ID]; rapid.Bool().Draw(t, "down") {
			st.Down, st.Since, st.Until = true, now, now+resources.Tick(rapid.IntRange(1, 30).Draw(t, "hours down")*3600)
		}
		p, err = scheduler.Compile(s, now)
		require.NoError(t, err)
		got, whole := search.Push(p, s.Plan)
		if got == nil {
			return
		}
		requirePushed(t, s, now, got, whole, "")
		if whole {
			pushed++
		}
	})
	require.Greater(t, pushed, 10)
}

// Where facts have changed nothing, nothing is changed.
func TestPushMovesNothingForNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, now := drawWorkshop(t)
		p, err := scheduler.Compile(s, now)
		require.NoError(t, err)
		r, err := search.Improve(p, search.Options{Seed: 1, Iterations: 20})
		require.NoError(t, err)
		got, whole := search.Push(p, r.Plan)
		require.True(t, whole)
		require.Equal(t, r.Plan.Work, got.Work)
		require.Equal(t, r.Plan.Loads, got.Loads)
		require.Equal(t, r.Plan.Mixes, got.Mixes)
	})
}

// What would be pushed past the end of the horizon cannot be pushed.
func TestPushPastTheHorizon(t *testing.T) {
	crews := []resources.Crew{
		{ID: "one", Skills: []string{"run"}, Shifts: []resources.CrewShift{{Heads: 1}}},
		{ID: "two", Skills: []string{"run"}, Shifts: []resources.CrewShift{{Heads: 1}}},
	}
	s := bench(t, crews, resources.Operation{ID: "do", Stations: []string{"X"}, Run: hour, Needs: []resources.Need{{Part: resources.PartRun, Skill: "run", Share: 1000}}})
	end := compile(t, s, schedtest.Monday).End
	s.Plan = schedtest.NewPlan(s, schedtest.Monday).Put("A-1-01", "do", "X", end-resources.Tick(resources.Day)).Plan()
	p := compile(t, s, schedtest.Monday)
	p.Acts[0].Release = p.End + resources.Tick(resources.Day)
	got, whole := search.Push(p, s.Plan)
	require.Nil(t, got)
	require.False(t, whole)
}
