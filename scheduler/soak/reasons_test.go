// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// spots is a plan with one step at each of the given instants, on station W.
func spots(starts ...scheduler.Tick) *scheduler.Plan {
	p := &scheduler.Plan{}
	for i, at := range starts {
		p.Work = append(p.Work, scheduler.Work{Piece: string(rune('A' + i)), Operation: "wind", Station: "W", Setup: at, Start: at})
	}
	return p
}

func job1(piece string) nextJob {
	return nextJob{key: piece, pieces: []string{piece}, operation: "wind"}
}

func TestOnlyWhatBecomesLaterSlides(t *testing.T) {
	before := spots(100, 200)
	for name, tt := range map[string]struct {
		plan *scheduler.Plan
		want bool
	}{
		"the first is pushed behind the second":     {spots(250, 200), true},
		"both are pushed, the first further":        {spots(350, 220), true},
		"the second is pulled in front":             {spots(100, 50), false},
		"the first is pushed, the second is pulled": {spots(250, 180), false},
		"the first is gone":                         {&scheduler.Plan{Work: spots(0, 200).Work[1:]}, false},
	} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, tt.want, slid(before, tt.plan, job1("A"), job1("B")))
		})
	}
	elsewhere := spots(250, 200)
	elsewhere.Work[0].Station = "X"
	require.False(t, slid(before, elsewhere, job1("A"), job1("B")), "it has been sent elsewhere")
	mixed := func(starts ...scheduler.Tick) *scheduler.Plan {
		return &scheduler.Plan{Mixes: []scheduler.Mix{{ID: "MX-1", Start: starts[0]}, {ID: "MX-2", Start: starts[1]}}}
	}
	mix := func(id string) nextJob { return nextJob{key: id, mix: id, pieces: []string{"A", "B"}} }
	require.True(t, slid(mixed(100, 200), mixed(300, 200), mix("MX-1"), mix("MX-2")), "one mix is pushed behind another")
	require.False(t, slid(mixed(100, 200), mixed(300, 150), mix("MX-1"), mix("MX-2")), "the other is pulled in front")
}

func TestOfTwoThatBeginTogetherEitherIsNext(t *testing.T) {
	is := job1("B")
	is.start = 200
	require.True(t, together(spots(200, 200), "W", job1("A"), is))
	require.False(t, together(spots(210, 200), "W", job1("A"), is))
	require.False(t, together(spots(200, 200), "X", job1("A"), is))
}

func TestWhatPassedIsNoReason(t *testing.T) {
	s, plan := scheduler.NewState(nil), spots(5000)
	plan.Made = 1000
	s.Plan = spots(6000)
	a := &Audit{last: 5}
	was, is := job1("B"), job1("A")
	was.start, is.start = 6000, 5000
	require.False(t, a.reasoned("W", was, is, s, plan, nil, gain{}))
	require.True(t, a.reasoned("W", was, is, s, plan, nil, gain{waits: true}), "it keeps a wait")
	require.True(t, a.reasoned("W", was, is, s, plan, nil, gain{dates: true}), "it is better for the dates")
	was.start = 900
	require.True(t, a.reasoned("W", was, is, s, plan, nil, gain{}), "it should have begun")
}

func TestWhatFactsPushLeavesRoomForOthers(t *testing.T) {
	told := spots(100, 900)
	for name, tt := range map[string]struct {
		pushed, plan *scheduler.Plan
		better       bool // for the dates than pushed
		want         bool
	}{
		"another fills the gap":                      {spots(800, 900), spots(800, 300), false, true},
		"and it comes sooner than pushed":            {spots(800, 900), spots(500, 300), false, true},
		"it is later than pushed: another is put in": {spots(800, 900), spots(850, 300), false, false},
		"the other for its date":                     {spots(800, 900), spots(850, 300), true, true},
		"nothing pushes it":                          {spots(100, 900), spots(800, 300), false, false},
		"nor for a date":                             {spots(100, 900), spots(800, 300), true, false},
		"it is gone":                                 {spots(800, 900), &scheduler.Plan{Work: spots(0, 300).Work[1:]}, false, false},
		"for a date":                                 {spots(800, 900), &scheduler.Plan{Work: spots(0, 300).Work[1:]}, true, false},
	} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, tt.want, meanwhile(told, tt.pushed, tt.plan, job1("A"), tt.better))
		})
	}
}

func TestAMixWaitsForTheStationItIsFor(t *testing.T) {
	s := scheduler.NewState(nil)
	s.Plan = spots(1000, 3000)
	s.Plan.Work[1].Mix = "MX-1"
	for _, id := range []string{"A", "B"} {
		s.Pieces[id] = &scheduler.Piece{Serial: id, Ops: []scheduler.OpState{{Operation: "wind"}}}
	}
	mix := nextJob{key: "mix of R", mix: "MX-1", pieces: []string{"B"}}
	require.False(t, behind(s, 900, mix), "nothing is late")
	require.True(t, behind(s, 1100, mix), "what comes before on its station has not begun")
	require.True(t, behind(s, 1100, nextJob{mix: "MX-2", pieces: []string{"B"}}), "nor for the mix that is made instead")
	s.Plan.Work[0].Station = "X"
	require.False(t, behind(s, 1100, mix), "that is another station")
}

func TestWhatWouldComeTooLateIsDoneSooner(t *testing.T) {
	plant := &resources.Plant{Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
		{ID: "prep"}, {ID: "wind", After: []resources.Link{{Operation: "prep", Max: 3600, HasMax: true}}},
	}}}}
	s := scheduler.NewState(plant)
	s.Plan = spots(5000)
	s.Pieces["A"] = &scheduler.Piece{Serial: "A", Product: "P", Ops: []scheduler.OpState{
		{Operation: "prep", Status: scheduler.Done, Ended: 1000}, {Operation: "wind", Index: 1},
	}}
	require.True(t, tooLate(s, spots(4000), job1("A")), "told 4000 s after its preparation, which keeps for 3600")
	s.Pieces["A"].Ops[0].Ended = 1500
	require.False(t, tooLate(s, spots(4000), job1("A")))
	s.Pieces["A"].Ops[0] = scheduler.OpState{Operation: "prep", Status: scheduler.Started, Started: 500}
	running := spots(4000)
	running.Work = append(running.Work, scheduler.Work{Piece: "A", Operation: "prep", Station: "B", End: 900})
	require.True(t, tooLate(s, running, job1("A")))
	s.Pieces["A"].Ops[0].Status = scheduler.Planned
	require.False(t, tooLate(s, running, job1("A")), "what has not begun can wait")
}

func TestAStationThatStaysDownIsAReason(t *testing.T) {
	broken := []scheduler.Violation{
		{Kind: scheduler.BreaksStop, Piece: "A", Operation: "wind"}, {Kind: scheduler.BreaksOccupancy, Piece: "B", Operation: "wind"},
	}
	require.True(t, stopped(broken, job1("A")))
	require.False(t, stopped(broken, job1("B")), "that only something runs longer is none")
	require.False(t, stopped(broken, nextJob{pieces: []string{"A"}, operation: "cure"}))
}

// People who go or come back are a reason for jobs that need them, and for no others.
func TestPeopleWhoGoConcernTheirJobs(t *testing.T) {
	plan := spots(1000, 3000)
	plan.Work[0].People = []scheduler.PeopleUse{{Crew: "winders"}, {Crew: "mixer"}}
	plan.Work[1].Station, plan.Work[1].Load = "O", "L-1"
	plan.Work[1].People = []scheduler.PeopleUse{{Crew: "oven-hand"}}
	plan.Mixes = []scheduler.Mix{{ID: "MX-1", Station: "MIX", Crew: "mixer"}}
	s := scheduler.NewState(nil)
	for _, id := range []string{"A", "B"} {
		s.Pieces[id] = &scheduler.Piece{Serial: id, Ops: []scheduler.OpState{{Operation: "wind"}}}
	}
	next := nextJobs(s, plan)
	for station, crews := range map[string]string{"W": "winders mixer", "O": "oven-hand", "MIX": "mixer"} {
		require.Equal(t, crews, strings.Join(next[station].crews, " "), station)
	}
	for _, kind := range []any{events.AbsentData{Crew: "mixer", People: 1}, events.PresentData{Crew: "mixer"}} {
		e := events.Event{Data: kind}
		require.True(t, concerns(e, next["W"]))
		require.True(t, concerns(e, next["MIX"]))
		require.False(t, concerns(e, next["O"]))
	}
}
