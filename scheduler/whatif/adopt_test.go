// SPDX-License-Identifier: Apache-2.0

package whatif_test

import (
	"cmp"
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/whatif"
)

// What is adopted makes the shop that was compared, once.
func TestAdopt(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7), line("B", 1, 20))
	add := line("C", 1, 30)
	set := setOf(
		resources.Change{Down: &resources.DownChange{Station: "W", For: 3 * resources.Hour}},
		resources.Change{AddOrder: &resources.NewOrder{OrderLine: add, Asked: &resources.Asked{Wish: add.ShipBy, Plan: 3, PerMille: 912}}},
		resources.Change{DropOrder: &resources.OrderName{Order: "B"}},
	)
	asked := s.Clone()
	q, err := whatif.Ask(asked, now, set)
	require.NoError(t, err)
	was := print(s)
	list, err := q.Adopt(s, "try")
	require.NoError(t, err)
	require.Equal(t, was, print(s), "the shop itself is untouched")
	require.Len(t, list, 3)
	for i, e := range list {
		require.Equal(t, []string{"try-0", "try-1", "try-2"}[i], e.ID)
		e.Seq = s.Seq + 1
		_, err := s.Apply(e)
		require.NoError(t, err)
	}
	require.Equal(t, q.After.Lines, s.Lines)
	require.Equal(t, q.After.Stations["W"].Down, s.Stations["W"].Down)
	require.True(t, s.Stations["W"].Down)
	require.Equal(t, &scheduler.Promise{
		Status: scheduler.Confirmed, Made: now, Wish: add.ShipBy, ShipBy: add.ShipBy, Due: s.Lines["C/1"].Due, Quantity: 1, Plan: 3, PerMille: 912, Closed: now,
	}, s.Lines["C/1"].Promise, "it was promised to somebody who asked")
	require.Nil(t, s.Lines["A/1"].Promise)

	_, err = q.Adopt(s, "again")
	require.ErrorIs(t, err, whatif.ErrMoved, "adopting twice")
}

// Who is away is told, also who goes later, beside a change of the plant that must
// come first; the shop that comes of it is the one that was compared, and its plan
// stands there.
func TestAdoptPeopleAway(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7), line("B", 1, 20))
	s.PlantFile = "id: bench"
	hours := func(n int) resources.Tick { return now + resources.Tick(n)*resources.Tick(resources.Hour) }
	set := setOf(
		resources.Change{Absent: &resources.AbsentChange{Crew: "hands", People: 1, For: 3 * resources.Hour, Why: "ill"}},
		resources.Change{Absent: &resources.AbsentChange{Crew: "hands", People: 2, From: hours(20), To: hours(30), Why: "course"}},
		resources.Change{Crew: &resources.CrewChange{ID: "hands", Heads: 2}, Source: "crew: {id: hands, heads: 2}"},
	)
	q, err := whatif.Ask(s.Clone(), now, set)
	require.NoError(t, err)
	require.Equal(t, []string{"crew hands: 2 people"}, q.OfPlant(), "nobody takes people off the plant")
	list, err := q.Adopt(s, "try")
	require.NoError(t, err)
	kinds := make([]events.Kind, len(list))
	for i, e := range list {
		kinds[i] = e.Kind
		if e.Kind != events.PlantDeclared {
			e.By = "ann"
			_, err := events.Encode(e)
			require.NoError(t, err, "it can be told")
		}
	}
	require.Equal(t, []events.Kind{events.PlantDeclared, events.CrewAbsent, events.CrewAbsent}, kinds)
	require.Equal(t, events.AbsentData{Crew: "hands", People: 1, Until: hours(3), Why: "ill"}, list[1].Data)
	require.Equal(t, events.AbsentData{Crew: "hands", People: 2, From: hours(20), Until: hours(30), Why: "course"}, list[2].Data)

	s, err = s.OnPlant(q.After.Plant)
	require.NoError(t, err)
	for _, e := range list[1:] {
		e.Seq = s.Seq + 1
		_, err := s.Apply(e)
		require.NoError(t, err)
	}
	require.Equal(t, absences(q.After), absences(s))
	require.Len(t, s.Absences, 2)
	_, plans := compare(t, q, 50)
	schedtest.RequireOK(t, s, now, plans[1])
	_, err = q.Adopt(s, "again")
	require.ErrorIs(t, err, whatif.ErrMoved, "adopting twice")
}

// absences lists who is away, whatever the reports were called.
func absences(s *scheduler.State) []scheduler.Absence {
	var list []scheduler.Absence
	for _, a := range s.Absences {
		list = append(list, *a)
	}
	slices.SortFunc(list, func(a, b scheduler.Absence) int { return cmp.Compare(a.From, b.From) })
	return list
}

// Each of these makes the comparison one of another shop; work and plans do not.
func TestWhatEndsAComparison(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7), line("B", 1, 20))
	s.Lines["B/1"].Promise = &scheduler.Promise{Status: scheduler.Reserved}
	piece := slices.Sorted(maps.Keys(s.Pieces))[0]
	add := line("C", 1, 30)
	q, err := whatif.Ask(s.Clone(), now, setOf(resources.Change{AddOrder: &resources.NewOrder{OrderLine: add}}))
	require.NoError(t, err)
	for _, x := range []struct {
		about string
		tell  func(s *scheduler.State)
	}{
		{"", func(*scheduler.State) {}},
		{"", func(s *scheduler.State) { s.Seq += 5 }},
		{"order A/1", func(s *scheduler.State) { l := *s.Lines["A/1"]; l.Quantity++; s.Lines["A/1"] = &l }},
		{"order B/1", func(s *scheduler.State) { l := *s.Lines["B/1"]; l.Cancelled = true; s.Lines["B/1"] = &l }},
		{"order D/1", func(s *scheduler.State) { s.Lines["D/1"] = &scheduler.Line{} }},
		{"order B/1", func(s *scheduler.State) {
			l := *s.Lines["B/1"]
			l.Promise = &scheduler.Promise{Status: scheduler.Confirmed}
			s.Lines["B/1"] = &l
		}},
		{"W", func(s *scheduler.State) { s.Stations["W"] = &scheduler.StationState{Down: true} }},
		{"W", func(s *scheduler.State) { s.Stations["W"] = &scheduler.StationState{Until: now + 3600} }},
		{"tool M-1", func(s *scheduler.State) { s.Tools["M-1"] = &scheduler.ToolState{Pool: "M", Out: true} }},
		{"report ill", func(s *scheduler.State) { s.Absences["ill"] = &scheduler.Absence{Crew: "hands", People: 1} }},
		{"lot/R/1", func(s *scheduler.State) { s.Batches = map[string]*scheduler.BatchHold{"lot/R/1": {Held: true}} }},
		{piece, func(s *scheduler.State) { p := *s.Pieces[piece]; p.Scrapped = true; s.Pieces[piece] = &p }},
		{piece, func(s *scheduler.State) { p := *s.Pieces[piece]; p.Held = true; s.Pieces[piece] = &p }},
		{"another plant", func(s *scheduler.State) { s.Plant, s.PlantFile = bench(), "id: other" }},
	} {
		is := s.Clone()
		x.tell(is)
		list, err := q.Adopt(is, "try")
		if x.about == "" {
			require.NoError(t, err)
			require.Len(t, list, 1)
			continue
		}
		require.ErrorIs(t, err, whatif.ErrMoved, x.about)
		require.ErrorContains(t, err, x.about)
		require.Empty(t, list)
	}
}

func TestWhatIsNotAdopted(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7))
	q, err := whatif.Ask(s, now, setOf())
	require.NoError(t, err)
	_, err = q.Adopt(s, "try")
	require.ErrorIs(t, err, whatif.ErrNothing)
	q, err = whatif.Ask(s, now, setOf(resources.Change{Tool: &resources.ToolChange{ID: "M", Count: 2}, Line: 3}))
	require.NoError(t, err)
	_, err = q.Adopt(s, "try")
	require.ErrorIs(t, err, whatif.ErrOfPlant)
	require.ErrorContains(t, err, "line 3: tool M")
}

// A stop or an absence that would be over when it is adopted says nothing any more.
func TestAStopThatIsOver(t *testing.T) {
	for say, change := range map[string]resources.Change{
		"the stop would be over by now": {Down: &resources.DownChange{Station: "W", For: 3 * resources.Hour}},
		"they would be back by now":     {Absent: &resources.AbsentChange{Crew: "hands", People: 1, From: now + 60, To: now + resources.Tick(3*resources.Hour)}},
	} {
		s := schedtest.State(bench(), line("A", 2, 7))
		s.PlantFile = "id: bench"
		q, err := whatif.Ask(s.Clone(), now, setOf(change))
		require.NoError(t, err)
		end := now + resources.Tick(3*resources.Hour)
		s.At = end - 1
		_, err = q.Adopt(s, "try")
		require.NoError(t, err)
		s.At = end
		_, err = q.Adopt(s, "try")
		require.ErrorIs(t, err, whatif.ErrMoved)
		require.ErrorContains(t, err, say)
	}
}

// No more sets stand on top of a plant file than an event may say.
func TestTooManySetsOnTop(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7))
	s.PlantFile = "id: bench"
	change := resources.Change{Tool: &resources.ToolChange{ID: "M", Count: 2}, Source: "tool: {id: M, count: 2}"}
	for _, n := range []int{resources.MaxAdopted - 1, resources.MaxAdopted} {
		s.Adopted = make([]resources.Adopted, n)
		q, err := whatif.Ask(s.Clone(), now, setOf(change))
		require.NoError(t, err)
		list, err := q.Adopt(s, "try")
		if n == resources.MaxAdopted {
			require.ErrorIs(t, err, whatif.ErrOfPlant)
			continue
		}
		require.NoError(t, err)
		require.Len(t, list[0].Data.(events.PlantData).Adopted, n+1)
	}
}
