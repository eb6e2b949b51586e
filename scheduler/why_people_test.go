// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// What waits for people who are away is told so, and until when they are.
func TestWorkWaitsForPeopleWhoAreAway(t *testing.T) {
	hour := resources.Tick(resources.Hour)
	now := schedtest.Monday
	days := []time.Weekday{0, 1, 2, 3, 4, 5, 6}
	plant := schedtest.Plant(resources.Plant{
		ID: "room", Stations: []resources.Station{{ID: "A"}},
		Calendars: []resources.Calendar{{ID: "day", Shifts: []resources.Shift{{Days: days, Start: 6 * resources.Hour, End: 14 * resources.Hour}}}},
		Crews: []resources.Crew{
			{ID: "watch", Name: "Watch", Skills: []string{"watch"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 1}}},
			{ID: "hands", Skills: []string{"hold"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 2}}},
		},
		Products: []resources.Product{{ID: "ROD", Routing: []resources.Operation{
			{ID: "soak", Stations: []string{"A"}, Run: resources.Hour, Needs: []resources.Need{{Part: resources.PartRun, Skill: "watch", Share: 1000}}},
			{ID: "press", Stations: []string{"A"}, Run: resources.Hour, Needs: []resources.Need{{Part: resources.PartRun, Skill: "hold", Share: 1000}}},
		}}},
	})
	begin := now - now%(24*hour) + 6*hour
	s := schedtest.State(plant, rodLine("A", begin+90*hour))
	plan := schedtest.NewPlan(s, begin).
		Put("A-1-01", "soak", "A", begin+28*hour).
		Put("A-1-01", "press", "A", begin+30*hour).Plan()
	why := func(operation string) scheduler.Step {
		schedtest.RequireOK(t, s, begin, plan)
		for _, step := range scheduler.Explain(s, plan, "A") {
			if step.Operation == operation {
				return step
			}
		}
		t.Fatal(operation)
		return scheduler.Step{}
	}
	require.Equal(t, scheduler.CausePeople, why("soak").Kind)
	require.Equal(t, "its people are needed elsewhere first", why("soak").Because)

	s.Absences["ill"] = &scheduler.Absence{Crew: "watch", People: 1, From: begin - hour, Until: begin + 28*hour}
	s.Absences["leave"] = &scheduler.Absence{Crew: "hands", People: 1, From: begin}
	step := why("soak")
	require.Equal(t, scheduler.CauseCalendar, step.Kind)
	require.Equal(t, "A or its people are off until then; 1 of Watch away until Tue 3 Mar 10:00", step.Because)
	require.Equal(t, scheduler.CausePeople, why("press").Kind, "one of two is there")
	require.Equal(t, "its people are needed elsewhere first; 1 of hands away, nobody knows until when", why("press").Because)
}

// A plan made in the middle of a shift begins with a changeover: nobody was off.
func TestAChangeoverAtOnceWaitsForNoHours(t *testing.T) {
	hour := resources.Tick(resources.Hour)
	begin := schedtest.Monday - schedtest.Monday%(24*hour) + 8*hour
	days := []time.Weekday{0, 1, 2, 3, 4, 5, 6}
	plant := schedtest.Plant(resources.Plant{
		ID: "room",
		Stations: []resources.Station{{
			ID: "A", Calendar: "day", SetupSkill: "watch", SetupShare: 1000, Initial: map[string]string{"tow": "thin"},
			Setups: []resources.SetupRule{{Attribute: "tow", From: resources.Any, To: resources.Any, Time: resources.Hour / 2}},
		}},
		Calendars: []resources.Calendar{{ID: "day", Shifts: []resources.Shift{{Days: days, Start: 6 * resources.Hour, End: 14 * resources.Hour}}}},
		Crews:     []resources.Crew{{ID: "watch", Skills: []string{"watch"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 1}}}},
		Products: []resources.Product{{ID: "ROD", Routing: []resources.Operation{{
			ID: "soak", Stations: []string{"A"}, Run: resources.Hour, Attributes: map[string]string{"tow": "thick"},
			Needs: []resources.Need{{Part: resources.PartRun, Skill: "watch", Share: 1000}},
		}}}},
	})
	s := schedtest.State(plant, rodLine("A", begin+90*hour))
	plan := schedtest.NewPlan(s, begin).Put("A-1-01", "soak", "A", begin+hour/2, schedtest.Setup(resources.Hour/2)).Plan()
	schedtest.RequireOK(t, s, begin, plan)
	step := scheduler.Explain(s, plan, "A")[0]
	require.Equal(t, resources.Hour/2, step.Waited)
	require.NotEqual(t, scheduler.CauseCalendar, step.Kind, step.Because)
}
