// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

func TestPeopleAreAwayAndBack(t *testing.T) {
	f := newFloor(t)
	f.ok("", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 2, Until: mins(500), Why: "ill"})
	require.Equal(t, map[string]*scheduler.Absence{
		"e2": {Crew: "all", People: 2, From: mins(10), Until: mins(500), Why: "ill", By: "ann"},
	}, f.s.Absences)

	r := f.no(scheduler.RefusedAlready, "", events.CrewAbsent, 12, events.AbsentData{Crew: "all", People: 2, Until: mins(500), Why: "ill"})
	require.Contains(t, r.Text, "2 of it are reported away already")
	f.ok("W1", events.CrewAbsent, 15, events.AbsentData{Crew: "all", People: 1, From: mins(2000), Until: mins(2500), Why: "leave"})
	f.ok("", events.CrewAbsent, 20, events.AbsentData{Crew: "all", People: 1, Until: mins(900), Why: "ill", Absence: "e2"})
	require.Equal(t, &scheduler.Absence{Crew: "all", People: 1, From: mins(10), Until: mins(900), Why: "ill", By: "ann"}, f.s.Absences["e2"])

	f.ok("", events.CrewPresent, 100, events.PresentData{Crew: "all"}) // not who goes later
	require.Equal(t, []string{"e4"}, slices.Collect(maps.Keys(f.s.Absences)))
	f.no(scheduler.RefusedAlready, "", events.CrewPresent, 110, events.PresentData{Crew: "all"})
	f.no(scheduler.RefusedAlready, "", events.CrewPresent, 110, events.PresentData{Crew: "all", Absence: "e2"})
	f.ok("", events.CrewPresent, 120, events.PresentData{Crew: "all", Absence: "e4"})
	require.Empty(t, f.s.Absences)
}

func TestWhoIsAwayMustBeOfTheCrew(t *testing.T) {
	f := newFloor(t)
	f.no(scheduler.RefusedUnknown, "", events.CrewAbsent, 10, events.AbsentData{Crew: "painters", People: 1})
	f.no(scheduler.RefusedUnknown, "", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 1, Calendar: "night"})
	r := f.no(scheduler.RefusedMalformed, "", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 10})
	require.Contains(t, r.Text, "10 of it are away, and it has 9")
	f.no(scheduler.RefusedMalformed, "", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 1, Until: mins(10)})
	f.no(scheduler.RefusedAlready, "", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 1, Absence: "e1"})
	f.no(scheduler.RefusedUnknown, "", events.CrewPresent, 10, events.PresentData{Crew: "painters"})
}

// Of a crew with several shifts somebody should say which is theirs.
func TestWhichShiftIsAway(t *testing.T) {
	f := newFloor(t)
	require.Empty(t, f.ok("", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 1}))
	two := strings.Replace(kilnText, "- {calendar: day, heads: 9}", "- {calendar: day, heads: 9}\n      - {calendar: late, heads: 2}", 1)
	two = strings.Replace(two, "calendars:\n", "calendars:\n  - {id: late, shifts: [{days: Mon-Fri, hours: 14:00-22:00}]}\n", 1)
	f.ok("", events.PlantDeclared, 20, events.PlantData{File: two})
	require.Empty(t, f.ok("", events.CrewAbsent, 30, events.AbsentData{Crew: "all", People: 1, Calendar: "day"}))
	f.no(scheduler.RefusedMalformed, "", events.CrewAbsent, 30, events.AbsentData{Crew: "all", People: 10, Calendar: "day"})
	notes := f.ok("", events.CrewAbsent, 30, events.AbsentData{Crew: "all", People: 10})
	require.Len(t, notes, 1)
	require.Contains(t, notes[0].Text, "whichever shift is at work")
}

// Those who were expected back need not report, and are forgotten a day later.
func TestAnAbsenceEndsByItself(t *testing.T) {
	f := newFloor(t)
	f.ok("", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 1, Until: mins(60)})
	f.no(scheduler.RefusedAlready, "", events.CrewPresent, 60, events.PresentData{Crew: "all"})
	f.ok("", events.CrewAbsent, 70, events.AbsentData{Crew: "all", People: 1, Until: mins(3000)})
	require.Len(t, f.s.Absences, 2)
	f.ok("", events.CrewPresent, 60+24*60, events.PresentData{Crew: "all"})
	require.Empty(t, f.s.Absences)
}

func TestAPlantWithoutTheCrewForgetsWhoIsAway(t *testing.T) {
	f := newFloor(t)
	f.ok("", events.CrewAbsent, 10, events.AbsentData{Crew: "all", People: 1})
	f.ok("", events.PlantDeclared, 20, events.PlantData{File: kilnText + "\n"})
	require.Len(t, f.s.Absences, 1)
	notes := f.ok("", events.PlantDeclared, 30, events.PlantData{File: strings.Replace(kilnText, "- id: all\n", "- id: everybody\n", 1)})
	require.Empty(t, f.s.Absences)
	i := slices.IndexFunc(notes, func(n scheduler.Note) bool { return n.About == "crew all" })
	require.GreaterOrEqual(t, i, 0)
	require.Regexp(t, "^1 away since .*:10 are forgotten: the plant has no such crew$", notes[i].Text)
}

// A roster is what the shifts give less who is away, never below nobody.
func TestRosterIsLessWhoIsAway(t *testing.T) {
	crew := &resources.Crew{ID: "c", Shifts: []resources.CrewShift{{Calendar: "early", Heads: 2}, {Calendar: "late", Heads: 1}, {Calendar: "early", Heads: 1}}}
	open := map[string][]resources.Interval{"early": {{Start: 0, End: 100}, {Start: 300, End: 400}}, "late": {{Start: 90, End: 200}}}
	windows := func(calendar string) ([]resources.Interval, error) { return open[calendar], nil }
	roster := func(away ...scheduler.Absence) []scheduler.CapStep {
		s := scheduler.NewState(nil)
		for i := range away {
			away[i].Crew = "c"
			s.Absences[string(rune('a'+i))] = &away[i]
		}
		s.Absences["other"] = &scheduler.Absence{Crew: "d", People: 5, From: 0}
		steps, err := s.Roster(crew, 0, 1000, windows)
		require.NoError(t, err)
		return steps
	}
	type steps = []scheduler.CapStep
	require.Equal(t, steps{{At: 0, Cap: 3000}, {At: 90, Cap: 4000}, {At: 100, Cap: 1000}, {At: 200}, {At: 300, Cap: 3000}, {At: 400}}, roster())
	require.Equal(t, steps{{At: 0, Cap: 1000}, {At: 90, Cap: 2000}, {At: 95, Cap: 4000}, {At: 100, Cap: 1000}, {At: 200}, {At: 300, Cap: 3000}, {At: 400}},
		roster(scheduler.Absence{People: 2, Calendar: "early", From: -50, Until: 95}), "of one shift")
	require.Equal(t, steps{{At: 0, Cap: 3000}, {At: 90, Cap: 4000}, {At: 95, Cap: 3000}, {At: 100}, {At: 320, Cap: 2000}, {At: 350, Cap: 3000}, {At: 400}},
		roster(scheduler.Absence{People: 1, From: 95, Until: 350}, scheduler.Absence{People: 2, From: 300, Until: 320}), "of whichever shift, and another at the same time")
	require.Equal(t, steps{{At: 0}, {At: 90, Cap: 1000}, {At: 200}},
		roster(scheduler.Absence{People: 2, Calendar: "early", From: 0}, scheduler.Absence{People: 2, Calendar: "early", From: 0}), "until nobody knows when: no less than nobody of that shift")
	require.Equal(t, roster(), roster(scheduler.Absence{People: 3, From: -100, Until: -50}), "over before now")
}
