// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

func dropPlanned(p *scheduler.Plan, piece string) {
	p.Work = slices.DeleteFunc(p.Work, func(w scheduler.Work) bool { return w.Piece == piece && w.Status == scheduler.Planned })
}

// What looks like a violation and is none. A verifier that is too strict stops
// a shop as surely as one that is too lax wrecks it.
func TestCheckAccepts(t *testing.T) {
	for _, c := range []struct {
		name string
		at   resources.Tick
		do   func(s *scheduler.State, p *scheduler.Plan)
	}{
		{"a changeover longer than it must be", 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Setup -= minute }},
		{"an operation of no length on a busy place", 0, func(s *scheduler.State, p *scheduler.Plan) {
			s.Plant.Products[1].Routing[2].Run, s.Plant.Products[1].Routing[2].Needs = 0, nil
			w := work(p, "B-1-01", "pack")
			moved := schedtest.Monday + 25*hour + 20*minute
			*w = scheduler.Work{
				Order: w.Order, Line: w.Line, Piece: w.Piece, Operation: w.Operation, Station: w.Station, Place: 1,
				Setup: moved, Start: moved, Run: moved, RunEnd: moved, Unload: moved, End: moved,
			}
		}},
		{"a wait that may be negative", 0, func(s *scheduler.State, _ *scheduler.Plan) {
			// The tube's ring is cut from it before its shafts are bonded.
			s.Plant.Products[0].Routing[4].After = []resources.Link{{Operation: "cut"}, {Operation: "bond", Min: -7 * resources.Hour}}
		}},
		{"a wait between starts", 0, func(s *scheduler.State, _ *scheduler.Plan) {
			s.Plant.Products[0].Routing[2].After = []resources.Link{{
				Operation: "cure", FromStart: true, Min: 5*resources.Hour + 45*resources.Minute, Max: 5*resources.Hour + 45*resources.Minute, HasMax: true,
			}}
		}},
		{"a link from an operation the piece does not pass", 0, func(s *scheduler.State, _ *scheduler.Plan) {
			// Only the customer's shafts are packed; the sample waits for nothing.
			s.Plant.Products[0].Routing[7].After = append(s.Plant.Products[0].Routing[7].After, resources.Link{Operation: "pack", Min: resources.Hour})
		}},
		{"a held shaft left out, its tube going on", 0, func(s *scheduler.State, p *scheduler.Plan) {
			s.Pieces["A-1-01.1"].Held = true
			dropPlanned(p, "A-1-01.1")
		}},
		{"a scrapped tube and its shafts left out, made again", 0, func(s *scheduler.State, p *scheduler.Plan) {
			s.Pieces["B-1-01"].Scrapped = true
			again := *s.Pieces["B-1-01"]
			again.Serial, again.Replaces, again.Scrapped = "B-1-01R1", "B-1-01", false
			s.Pieces[again.Serial] = &again
			s.Lines["B/1"].Pieces = append(s.Lines["B/1"].Pieces, again.Serial)
			for _, op := range []string{"wind", "cure", "pack"} {
				work(p, "B-1-01", op).Piece = again.Serial
			}
			for i := range p.Loads {
				for j := range p.Loads[i].Members {
					if p.Loads[i].Members[j].Piece == "B-1-01" {
						p.Loads[i].Members[j].Piece = again.Serial
					}
				}
			}
			mix(p, "MX-2").Users[0].Piece = again.Serial
		}},
		{"a piece that is finished left out", 14 * hour, func(_ *scheduler.State, p *scheduler.Plan) {
			p.Work = slices.DeleteFunc(p.Work, func(w scheduler.Work) bool { return w.Piece == "B-1-01" })
		}},
		{"work in the frozen window that slips", 11 * minute, func(_ *scheduler.State, p *scheduler.Plan) { shiftLoad(p, "WL-2", 5*minute) }},
		{"work in the frozen window on a station that is down", 105 * minute, func(s *scheduler.State, p *scheduler.Plan) {
			moveToW2(s, p)
			s.Stations["W1"].Down, s.Stations["W1"].Since = true, schedtest.Monday+105*minute
		}},
		{"work in the frozen window that people put into another load", 11 * minute, func(s *scheduler.State, p *scheduler.Plan) {
			s.Plan.Work[slices.IndexFunc(s.Plan.Work, func(w scheduler.Work) bool { return w.Piece == "B-1-01" && w.Operation == "wind" })].Station = "W2"
			s.Loads["WL-2"] = &scheduler.LoadRun{ID: "WL-2", Station: "W1", Members: load(p, "WL-2").Members}
		}},
		{"a crew that facts alone overload", 100 * minute, func(s *scheduler.State, p *scheduler.Plan) {
			// Both winders would not be enough to unload WL-1, until 07:50.
			s.Plant.Products[0].Routing[0].Needs[2].Share = 9000
			people := work(p, "A-1-01", "wind").People
			people[slices.IndexFunc(people, func(u scheduler.PeopleUse) bool { return u.Part == resources.PartUnload })].Share = 9000
		}},
		{"a stop that is over in time", 0, func(s *scheduler.State, _ *scheduler.Plan) {
			*s.Stations["bench"] = scheduler.StationState{Down: true, Since: schedtest.Monday, Until: schedtest.Monday + 7*hour + 40*minute}
		}},
		{"a load of two recipes of one group, the longer one run", 0, func(s *scheduler.State, p *scheduler.Plan) {
			s.Plant.Recipes[0].Fixed, s.Plant.Recipes[2].Fixed = 4*resources.Hour, 4*resources.Hour
			s.Plant.Stations[3].Batch.Capacity["mass"] = 110
			s.Plant.Products[1].Routing[1].After = nil // or it would have to be wound first
			joinCure(p)
		}},
		{"a load too heavy that people have closed", 0, func(s *scheduler.State, p *scheduler.Plan) {
			s.Plant.Stations[3].Batch.Capacity["mass"] = 50
			s.Loads["OL-1"] = &scheduler.LoadRun{ID: "OL-1", Station: "O1", Members: load(p, "OL-1").Members}
		}},
		{"a station nobody knows to be down until later", 0, func(s *scheduler.State, _ *scheduler.Plan) {
			*s.Stations["cell"] = scheduler.StationState{Down: true, Since: schedtest.Monday} // a shift: until 14:00
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, p := schedtest.WorkshopPlan()
			now := schedtest.Monday + c.at
			if c.at > 0 {
				p = schedtest.Advance(s, p, now)
			}
			c.do(s, p)
			schedtest.RequireOK(t, s, now, p)
		})
	}
}

// A run that may pause stops for a station that is down and goes on after it.
func TestCheckPausesForAStop(t *testing.T) {
	s, p := schedtest.WorkshopPlan()
	now := schedtest.Monday + 8*hour // 14:00: both tubes are about to be cut
	p = schedtest.Advance(s, p, now-minute)
	p.Made = now - minute
	*s.Stations["bench"] = scheduler.StationState{Down: true, Since: now - minute, Until: now + 5*minute}
	schedtest.RequireKind(t, s, now-minute, p, scheduler.BreaksRun)
	for _, piece := range []string{"A-1-01", "A-1-02"} {
		w := work(p, piece, "cut")
		w.RunEnd, w.Unload, w.End = w.RunEnd+5*minute, w.Unload+5*minute, w.End+5*minute
	}
	found := schedtest.Kinds(scheduler.Check(s, now-minute, p))
	require.NotContains(t, found, scheduler.BreaksRun)
	require.NotContains(t, found, scheduler.BreaksStop)
}

// A closed oven that runs alone, over night and over the weekend.
func TestCheckUnattendedStations(t *testing.T) {
	day := resources.Calendar{ID: "day", Shifts: []resources.Shift{{
		Days: []time.Weekday{time.Monday, time.Tuesday}, Start: 6 * resources.Hour, End: 14 * resources.Hour,
	}}}
	for _, c := range []struct {
		name       string
		unattended bool
		needs      []resources.Need
		pause      bool
		people     bool
		runEnd     resources.Tick // after 13:00
		want       []scheduler.ViolationKind
	}{
		{"closed at two", false, nil, false, false, 3 * hour, []scheduler.ViolationKind{scheduler.BreaksOpening}},
		{"goes on alone", true, nil, false, false, 3 * hour, nil},
		{"somebody must be there", true, []resources.Need{{Part: resources.PartRun, Skill: "watch", Share: 1000}}, false, true, 3 * hour,
			[]scheduler.ViolationKind{scheduler.BreaksOpening, scheduler.BreaksShift}},
		{"pauses when closed", false, nil, true, false, 19 * hour, nil},
		{"pauses only when attended", true, nil, true, false, 3 * hour, nil},
		{"pauses when nobody is there", true, []resources.Need{{Part: resources.PartRun, Skill: "watch", Share: 1000}}, true, true, 19 * hour, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			plant := schedtest.Plant(resources.Plant{
				Calendars: []resources.Calendar{day},
				Stations:  []resources.Station{{ID: "S", Calendar: "day", Unattended: c.unattended}},
				Crews:     []resources.Crew{{ID: "watch", Skills: []string{"watch"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 1}}}},
				Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
					{ID: "do", Stations: []string{"S"}, Run: 3 * resources.Hour, Needs: c.needs, MayPause: c.pause},
				}}},
			})
			s := schedtest.State(plant, resources.OrderLine{Order: "X", Line: "1", Product: "P", Quantity: 1})
			start := schedtest.Monday + 7*hour // 13:00
			p := schedtest.NewPlan(s, schedtest.Monday).Put("X-1-01", "do", "S", start, schedtest.Pause(resources.Seconds(c.runEnd-3*hour))).Plan()
			require.Equal(t, c.want, schedtest.Kinds(scheduler.Check(s, schedtest.Monday, p)))
		})
	}
}

// The pieces that tests are made of are those the state makes.
func TestSchedtestMakesThePiecesTheStateMakes(t *testing.T) {
	demoState, _, _ := demo(t)
	s, _ := schedtest.WorkshopPlan()
	for _, want := range []*scheduler.State{demoState, stateOf(t, s)} {
		own := make([]resources.OrderLine, 0, len(want.Lines))
		for _, l := range want.Lines {
			own = append(own, l.OrderLine)
		}
		have := schedtest.State(want.Plant, own...)
		require.Len(t, have.Pieces, len(want.Pieces))
		for serial, piece := range want.Pieces {
			require.Equal(t, piece, have.Pieces[serial])
		}
		for key, line := range want.Lines {
			require.Equal(t, line, have.Lines[key])
		}
	}
}

func stateOf(t *testing.T, s *scheduler.State) *scheduler.State {
	t.Helper()
	var lines []resources.OrderLine
	for _, l := range s.Lines {
		lines = append(lines, l.OrderLine)
	}
	made, err := scheduler.StateOf(s.Plant, lines)
	require.NoError(t, err)
	return made
}
