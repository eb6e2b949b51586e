// SPDX-License-Identifier: Apache-2.0

package soak_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/soak"
)

// teller has one deed told until now, with no slips.
func teller(e events.Event) *soak.Reporter {
	r := soak.NewReporter(1, soak.Slips{})
	r.Took(e, scheduler.NewState(nil))
	return r
}

func nothing(string) bool { return false }

// A stop that is refused because the shop knows of something later there is
// not told again and not lost; one that is refused for another reason is told
// until it is believed.
func TestOvertakenStopIsNotToldForEver(t *testing.T) {
	stop := events.Event{ID: "stop", Kind: events.StationDown, Station: "W1", At: 1000, Data: events.StationData{Why: "drive"}}
	for _, tt := range []struct {
		name  string
		state scheduler.StationState
		over  bool
	}{
		{"work began there later", scheduler.StationState{Since: 2000}, true},
		{"an end of the stop at the same second", scheduler.StationState{Since: 1000}, false},
		{"the same stop is known", scheduler.StationState{Since: 1000, Down: true}, true},
		{"nothing later is known", scheduler.StationState{Since: 500}, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := teller(stop)
			s := scheduler.NewState(nil)
			s.Stations["W1"] = &tt.state
			require.Len(t, r.Due(1000, true), 1)
			r.Heard(1000, s, nothing, false)
			a := r.Account(nothing)
			if tt.over {
				require.Zero(t, r.Open())
				require.Empty(t, a.Lost)
				require.Equal(t, 1, a.Overtaken)
				return
			}
			require.Equal(t, 1, r.Open())
			require.Len(t, a.Lost, 1)
			require.Zero(t, a.Overtaken)
		})
	}
}

// Work that is refused is never called overtaken.
func TestOnlyStopsAreOvertaken(t *testing.T) {
	r := teller(events.Event{ID: "go", Kind: events.OperationStarted, Station: "W1", At: 1000, Data: events.OperationData{Piece: "P", Operation: "o"}})
	s := scheduler.NewState(nil)
	s.Stations["W1"] = &scheduler.StationState{Since: 2000}
	require.Len(t, r.Due(1000, true), 1)
	r.Heard(1000, s, nothing, false)
	require.Len(t, r.Account(nothing).Lost, 1)
}

// What has to be done again is told after how it went the first time: its station
// does not offer it before that is known, and a second finish would be taken for
// the first.
func TestDoneAgainIsToldAfterTheFirstTime(t *testing.T) {
	r := soak.NewReporter(1, soak.Slips{})
	s := scheduler.NewState(nil)
	s.Pieces["P"] = &scheduler.Piece{Serial: "P"}
	did := func(id string, kind events.Kind, at scheduler.Tick, data any) {
		r.Took(events.Event{ID: id, Kind: kind, Station: "B", At: at, Data: data}, s)
	}
	work := events.OperationData{Piece: "P", Operation: "balance"}
	did("start 1", events.OperationStarted, 1000, work)
	did("finish 1", events.OperationFinished, 2000, work)
	did("result 1", events.ResultRecorded, 2000, events.ResultData{Piece: "P", Operation: "balance"})
	did("start 2", events.OperationStarted, 3000, work)
	did("finish 2", events.OperationFinished, 4000, work)
	believed := map[string]bool{}
	due := func() (ids []string) {
		for _, x := range r.Due(5000, false) {
			ids = append(ids, x.Event.ID)
		}
		return ids
	}
	believe := func(ids ...string) {
		for _, id := range ids {
			believed[id] = true
		}
		r.Heard(5000, s, func(id string) bool { return believed[id] }, false)
	}
	require.Equal(t, []string{"start 1", "finish 1"}, due())
	believe("start 1", "finish 1")
	require.Equal(t, []string{"result 1"}, due())
	believe("result 1")
	require.Equal(t, []string{"start 2"}, due())
	believe("start 2")
	require.Equal(t, []string{"finish 2"}, due())
}

// A wrong scan that is refused because something before it is not known yet may be
// believed once that is put right: then it is taken back like any other, and what
// was right stays told.
func TestAWrongScanThatIsBelievedLaterIsTakenBack(t *testing.T) {
	r := soak.NewReporter(1, soak.Slips{Unknown: 1})
	s := scheduler.NewState(nil)
	r.Took(events.Event{ID: "start", Kind: events.OperationStarted, Station: "T", At: 1000, Data: events.OperationData{Piece: "P", Operation: "tape"}}, s)
	believed := map[string]bool{}
	stands := func(id string) bool { return believed[id] }
	due := func() events.Event {
		list := r.Due(9000, false)
		require.Len(t, list, 1)
		return list[0].Event
	}
	wrong := due()
	require.Equal(t, events.OperationData{Piece: "P-X", Operation: "tape"}, wrong.Data)
	r.Heard(1000, s, stands, false)
	right := due()
	require.Equal(t, "start", right.ID)
	believed[right.ID] = true
	r.Heard(1000, s, stands, false)
	require.Zero(t, r.Open())

	believed[wrong.ID] = true
	r.Heard(2000, s, stands, true)
	void := due()
	require.Equal(t, events.VoidData{Event: wrong.ID, Why: "wrong serial scanned"}, void.Data)
	believed[wrong.ID] = false
	r.Heard(3000, s, stands, true)
	require.Zero(t, r.Open())
	a := r.Account(stands)
	require.Empty(t, a.Lost)
	require.Empty(t, a.Doubled)
}

// Who is back is told after who went, by the report of it that was believed; a
// second person who tells that they went is no second absence.
func TestPeopleAreBackAfterTheyWent(t *testing.T) {
	r := soak.NewReporter(1, soak.Slips{Told: 1})
	s := scheduler.NewState(nil)
	r.Took(events.Event{ID: "gone", Kind: events.CrewAbsent, At: 1000, Data: events.AbsentData{Crew: "C", People: 1}}, s)
	r.Took(events.Event{ID: "back", Kind: events.CrewPresent, At: 2000, Data: events.PresentData{Crew: "C", Absence: "gone"}}, s)
	r.Took(events.Event{ID: "others", Kind: events.CrewAbsent, At: 2500, Data: events.AbsentData{Crew: "D", People: 1}}, s)
	believed := map[string]bool{}
	stands := func(id string) bool { return believed[id] }
	due := func() (ids []string) {
		for _, x := range r.Due(9000, true) {
			ids = append(ids, x.Event.ID)
			if back, is := x.Event.Data.(events.PresentData); is {
				require.Equal(t, "gone-2", back.Absence)
			}
		}
		return ids
	}
	require.Equal(t, []string{"gone", "others"}, due(), "one crew does not wait for another")
	believed["others"] = true
	r.Heard(9000, s, stands, false)
	require.Equal(t, []string{"others-b", "gone-2"}, due(), "it was refused, and is told again")
	believed["gone-2"] = true
	r.Heard(9000, s, stands, false)
	require.Equal(t, []string{"gone-b", "back"}, due())
	r.Heard(9000, s, stands, false)
	require.Len(t, r.Account(stands).Lost, 1)
	believed["back-2"] = true
	require.Equal(t, []string{"back-2"}, due())
	r.Heard(9000, s, stands, false)
	require.Zero(t, r.Open())
	require.Empty(t, r.Account(stands).Lost)
	require.Empty(t, r.Account(stands).Doubled)
	believed["gone-b"] = true
	require.Len(t, r.Account(stands).Doubled, 1, "were it believed they would be away twice")
}

// Who is away is what was told of who went and came back, until they are expected.
func TestTheModelKnowsWhoIsAway(t *testing.T) {
	m := soak.NewModel(nil)
	did := func(id string, at scheduler.Tick, data any) error {
		kind := events.CrewAbsent
		if _, back := data.(events.PresentData); back {
			kind = events.CrewPresent
		}
		return m.Did(events.Event{ID: id, Kind: kind, At: at, Data: data})
	}
	s := scheduler.NewState(nil)
	require.NoError(t, did("a", 1000, events.AbsentData{Crew: "C", People: 2, Until: 5000}))
	require.NoError(t, did("b", 1100, events.AbsentData{Crew: "D", People: 1}))
	s.At = 2000
	require.Equal(t, []string{"the shop does not know: 1 of D away from 1100 until 0", "the shop does not know: 2 of C away from 1000 until 5000"}, m.Compare(s))
	s.Absences = map[string]*scheduler.Absence{
		"as told": {Crew: "C", People: 2, From: 1000, Until: 5000}, "b": {Crew: "D", People: 1, From: 1100}, "over": {Crew: "E", People: 1, From: 10, Until: 1990},
	}
	require.Empty(t, m.Compare(s))
	require.NoError(t, did("c", 2000, events.PresentData{Crew: "D", Absence: "b"}))
	require.Equal(t, []string{"the shop believes: 1 of D away from 1100 until 0"}, m.Compare(s))
	delete(s.Absences, "b")
	require.Empty(t, m.Compare(s))
	s.At = 5000 // all are expected back, whoever forgets it first
	require.Empty(t, m.Compare(s))
	delete(s.Absences, "as told")
	require.Empty(t, m.Compare(s))
	require.ErrorContains(t, did("d", 3000, events.PresentData{Crew: "D", Absence: "b"}), "had not gone", "twice")
	require.ErrorContains(t, did("e", 5000, events.PresentData{Crew: "C", Absence: "a"}), "had not gone", "they were expected by then")
}
