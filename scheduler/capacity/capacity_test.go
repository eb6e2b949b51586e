// SPDX-License-Identifier: Apache-2.0

package capacity_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/capacity"
	"towpath/scheduler/schedtest"
)

const (
	hour   = resources.Hour
	minute = resources.Minute
)

// oneBench is a shop that can be worked out by hand: saw, then an oven of four
// places, then a bench of two places; open 8 to 16 on weekdays.
func oneBench(yield float64) *resources.Plant {
	week := []resources.Shift{{Days: weekdays, Start: 8 * hour, End: 16 * hour}}
	return schedtest.Plant(resources.Plant{
		ID:        "one",
		Calendars: []resources.Calendar{{ID: "day", Shifts: week}},
		Stations: []resources.Station{
			{ID: "saw", Calendar: "day", SetupSkill: "hand", SetupShare: 1000,
				Setups: []resources.SetupRule{{Attribute: "bore", From: "*", To: "*", Time: 30 * minute}}},
			{ID: "oven", Calendar: "day", Unattended: true, Recipes: []string{"R"}, Batch: &resources.Batch{Capacity: map[string]int64{"places": 4}}},
			{ID: "bench", Calendar: "day", Places: 2},
		},
		Recipes:  []resources.Recipe{{ID: "R", Group: "R", Fixed: 3 * hour}},
		Crews:    []resources.Crew{{ID: "hands", Skills: []string{"hand"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 2}}, Absence: 0.1}},
		Tools:    []resources.Tool{{ID: "M", Kind: "mandrel", Units: []string{"M-1", "M-2"}, Turnaround: hour}},
		Products: []resources.Product{bored("A", "36", yield), bored("B", "60", yield)},
	})
}

var weekdays = []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}

func bored(id, bore string, yield float64) resources.Product {
	return resources.Product{ID: id, Routing: []resources.Operation{
		{ID: "cut", Stations: []string{"saw"}, Load: 15 * minute, Run: 45 * minute, Attributes: map[string]string{"bore": bore},
			Needs: []resources.Need{{Part: resources.PartLoad, Skill: "hand", Share: 1000}, {Part: resources.PartRun, Skill: "hand", Share: 500}},
			Takes: []resources.Take{{Tool: "M", Until: "cure"}}},
		{ID: "cure", Stations: []string{"oven"}, Recipe: "R", Load: 30 * minute, Unload: 30 * minute, WaitInside: true, Size: map[string]int64{"places": 1},
			After: []resources.Link{{Operation: "cut"}}},
		{ID: "finish", Stations: []string{"bench"}, Run: 2 * hour, Yield: yield, After: []resources.Link{{Operation: "cure"}}},
	}}
}

func line(order, product string, quantity int, due resources.Tick) resources.OrderLine {
	return resources.OrderLine{Order: order, Line: "1", Product: product, Quantity: quantity, Weight: 1, ShipBy: due, Due: due}
}

func of(t *testing.T, in capacity.Input) *capacity.Report {
	t.Helper()
	r, err := capacity.Of(in)
	require.NoError(t, err)
	return r
}

func cell(t *testing.T, r *capacity.Report, key string, week int) capacity.Cell {
	t.Helper()
	row := r.Row(key)
	require.NotNil(t, row, key)
	return row.Cells[week]
}

// All numbers of a week, by hand; schedtest's Monday begins at 6:00. Six of A and two of B are due on Friday of
// the second week at 16:00.
func TestAWeekByHand(t *testing.T) {
	due := schedtest.Monday + resources.Tick(11*24*hour+10*hour)
	s := schedtest.State(oneBench(0), line("1", "A", 6, due), line("2", "B", 2, due))
	r := of(t, capacity.Input{State: s, Now: schedtest.Monday, Weeks: 3})
	require.Len(t, r.Weeks, 3)

	saw := cell(t, r, "station:saw", 1)
	require.InDelta(t, 8*1+2*0.5, saw.Asked, 1e-9, "eight cuts of an hour, and from one bore to the other and back")
	require.InDelta(t, 1, saw.Setup, 1e-9)
	require.InDelta(t, 40, saw.There, 1e-9)
	require.InDelta(t, 9.0/40, saw.Ratio, 1e-9)
	oven := cell(t, r, "station:oven", 1)
	require.InDelta(t, 2, oven.Loads, 1e-9)
	require.InDelta(t, 2*4, oven.Asked, 1e-9, "two full loads of four hours")
	require.InDelta(t, 5*8+5*3, oven.There, 1e-9, "a load that begins at closing runs on for three hours")
	bench := cell(t, r, "station:bench", 1)
	require.InDelta(t, 16, bench.Asked, 1e-9)
	require.InDelta(t, 80, bench.There, 1e-9)
	hand := cell(t, r, "skill:hand", 1)
	require.InDelta(t, 8*(0.25+0.75/2)+1, hand.Asked, 1e-9, "loading, half of the run, and the changeovers")
	require.InDelta(t, 80*0.9, hand.There, 1e-9, "two people, absent one day in ten")
	require.Equal(t, hand.Asked, cell(t, r, "crew:hands", 1).Asked)
	recipe := cell(t, r, "recipe:R", 1)
	require.InDelta(t, 8, recipe.Asked, 1e-9)
	require.Equal(t, 1, r.Row("recipe:R").Units)
	// Backwards from Friday 16:00: finish 14:00 to 16:00, cure 10:00 to 14:00,
	// cut 9:00 to 10:00; the mandrel is held from 9:00 to 14:00, and an hour more.
	require.InDelta(t, 8*6, cell(t, r, "tool:M", 1).Asked, 1e-9)
	require.InDelta(t, 2*168, cell(t, r, "tool:M", 1).There, 1e-9)
	require.Equal(t, "station:saw", r.Bottlenecks[1].Key)
	require.Equal(t, []int{0, 6, 0}, r.Demand[0].Ordered)
	require.Zero(t, cell(t, r, "station:saw", 0).Asked)
	require.Empty(t, r.Bottlenecks[0].Key)
}

// Who is reported away is not there.
func TestPeopleAwayAreNotThere(t *testing.T) {
	s := schedtest.State(oneBench(0))
	tuesday := schedtest.Monday + resources.Tick(24*hour)
	s.Absences["a"] = &scheduler.Absence{Crew: "hands", People: 1, From: tuesday, Until: tuesday + resources.Tick(3*24*hour)}
	s.Absences["b"] = &scheduler.Absence{Crew: "hands", People: 2, From: tuesday + resources.Tick(7*24*hour)} // from 6:00, nobody knows until when: eight hours, of which the shop is open six
	r := of(t, capacity.Input{State: s, Now: schedtest.Monday, Weeks: 3})
	for week, away := range []float64{3 * 8, 2 * 6, 0} {
		require.InDelta(t, (80-away)*0.9, cell(t, r, "crew:hands", week).There, 1e-9)
		require.InDelta(t, (80-away)*0.9, cell(t, r, "skill:hand", week).There, 1e-9)
	}
}

// What is lost is made again from the start: nine in ten good without a gate.
func TestYieldAsksForMore(t *testing.T) {
	due := schedtest.Monday + resources.Tick(11*24*hour+10*hour)
	in := capacity.Input{State: schedtest.State(oneBench(0.9), line("1", "A", 9, due)), Now: schedtest.Monday, Weeks: 2}
	require.InDelta(t, 10, cell(t, of(t, in), "station:saw", 1).Pieces, 1e-9)
	plant := oneBench(0.9)
	plant.Products[0].Routing[2].SecondPass = 0.5
	in.State = schedtest.State(plant, line("1", "A", 9, due))
	r := of(t, in)
	require.InDelta(t, 9/0.95, cell(t, r, "station:saw", 1).Pieces, 1e-9, "half of the failures pass when they are done again")
	require.InDelta(t, 9/0.95*1.1, cell(t, r, "station:bench", 1).Pieces, 1e-9, "and are done twice there")
}

// Orders are part of a forecast; what is left of it is added.
func TestOrdersAreTakenOutOfTheForecast(t *testing.T) {
	plant := oneBench(0)
	due := schedtest.Monday + resources.Tick(11*24*hour+10*hour)
	forecast := func(n int) *resources.Forecast {
		w := resources.WeekOf(plant.Zone, due)
		return &resources.Forecast{First: w, Last: w, Lines: []resources.ForecastLine{{Product: "A", Week: w, Quantity: n, Due: due}}}
	}
	for _, c := range []struct{ forecast, ordered, want int }{{10, 4, 10}, {3, 4, 4}, {0, 4, 4}, {5, 0, 5}} {
		var lines []resources.OrderLine
		if c.ordered > 0 {
			lines = append(lines, line("1", "A", c.ordered, due))
		}
		in := capacity.Input{State: schedtest.State(plant, lines...), Now: schedtest.Monday, Weeks: 2, Forecast: forecast(c.forecast)}
		r := of(t, in)
		require.InDelta(t, c.want, cell(t, r, "station:saw", 1).Pieces, 1e-9, "%+v", c)
		require.Equal(t, c.want-c.ordered, r.Demand[0].Forecast[1])
	}
}

// With yields of 1 and everything in sight, what is asked is what a finite
// plan does: each skill's hours but for changeovers, to the minute, and each
// station's that works on one piece at a time.
func TestAskedIsWhatThePlanDoes(t *testing.T) {
	in := demo(t)
	plant := *in.State.Plant
	plant.Products = slices.Clone(plant.Products)
	for i := range plant.Products {
		plant.Products[i].Routing = slices.Clone(plant.Products[i].Routing)
		for k := range plant.Products[i].Routing {
			plant.Products[i].Routing[k].Yield = 1
		}
	}
	s := *in.State
	s.Plant, in.State, in.Forecast, in.Weeks = &plant, &s, nil, 12
	r := of(t, in)
	sums := func(kind capacity.Kind, ids ...string) (asked, planned float64) {
		for _, id := range ids {
			row := r.Row(string(kind) + ":" + id)
			require.NotNil(t, row, id)
			for _, c := range row.Cells {
				asked += c.Asked - c.Setup
				planned += c.Planned
			}
		}
		return asked, planned
	}
	for _, ids := range [][]string{{"TAPE"}, {"PULL"}, {"MANDREL"}, {"SAW"}, {"MOUNT"}, {"SCOPE"}, {"RELEASE"}, {"BLAST"}, {"ASSEMBLY"}, {"PACK"}} {
		asked, planned := sums(capacity.Station, ids...)
		require.InDelta(t, planned, asked, 1e-6, "station %v", ids)
	}
	for _, id := range []string{"extraction", "finishing", "bonding", "assembly", "packing", "mandrels"} {
		asked, planned := sums(capacity.Skill, id)
		require.InDelta(t, planned, asked, 1e-6, "skill %s", id)
	}
	// Where loads and changeovers decide, what is asked comes near.
	for _, id := range []string{"ovens", "winding", "torsion", "balancing"} {
		asked, planned := sums(capacity.Skill, id)
		require.InEpsilon(t, planned, asked, 0.35, "skill %s", id)
	}
}

// Sharing work out among those who can do it comes near the best there is:
// the greatest, over sets of jobs, of their hours over those of all who can do
// any of them (P. Hall 1935, J. London Math. Soc. 10, as a bound on the load).
func TestSharesAreNearTheBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		crews, skills := 1+rng.IntN(4), 1+rng.IntN(5)
		there, can, hours := make([]float64, crews), make([][]int, skills), make([]float64, skills)
		for c := range there {
			there[c] = 1 + 40*rng.Float64()
		}
		for s := range can {
			hours[s] = 30 * rng.Float64()
			for c := range there {
				if rng.IntN(2) == 0 {
					can[s] = append(can[s], c)
				}
			}
			if len(can[s]) == 0 {
				can[s] = []int{rng.IntN(crews)}
			}
		}
		got := capacity.BusiestShare(can, hours, there)
		best := 0.0
		for set := 1; set < 1<<skills; set++ {
			work, who := 0.0, map[int]bool{}
			for s := range skills {
				if set>>s&1 == 1 {
					work += hours[s]
					for _, c := range can[s] {
						who[c] = true
					}
				}
			}
			room := 0.0
			for c := range who {
				room += there[c]
			}
			best = max(best, work/room)
		}
		if got < best-1e-9 {
			t.Fatalf("busy to %g, less than the %g there must be", got, best)
		}
		// Grains of a thirty-second of each job's hours.
		slack := 0.0
		for s := range hours {
			slack = max(slack, hours[s]/32)
		}
		if got > best*1.12+slack/slices.Min(there) {
			t.Fatalf("busy to %g, the best is %g", got, best)
		}
	})
}

// The demo's season: every number makes sense, and the same input gives the
// same report.
func TestTheDemoSeason(t *testing.T) {
	in := demo(t)
	r := of(t, in)
	require.Equal(t, r, of(t, in))
	require.Len(t, r.Weeks, 27)
	require.Equal(t, "2026-W10", r.Weeks[0].Week)
	require.Equal(t, "2026-W36", r.Forecast.Last)
	for i := range r.Rows {
		row := &r.Rows[i]
		require.Len(t, row.Cells, 27, row.Key)
		for w, c := range row.Cells {
			for _, x := range []float64{c.Asked, c.Setup, c.There, c.Ratio, c.Loads, c.Pieces, c.Planned, c.PlannedWait} {
				require.False(t, math.IsNaN(x) || math.IsInf(x, 0) || x < 0, "%s in week %d: %+v", row.Key, w, c)
			}
			require.True(t, c.Wait >= 0 || c.Wait == capacity.Endless, "%s: %+v", row.Key, c)
		}
	}
	peak := 0
	for w := range r.Bottlenecks {
		if r.Bottlenecks[w].Ratio > r.Bottlenecks[peak].Ratio {
			peak = w
		}
	}
	require.Contains(t, []string{"crew:bonders", "skill:bonding"}, r.Bottlenecks[peak].Key, "one crew bonds")
	require.Greater(t, r.Bottlenecks[peak].Ratio, 1.0)
	for _, d := range r.Dates {
		require.LessOrEqual(t, d.Latest, d.Due)
		require.LessOrEqual(t, d.Safe, d.Latest)
	}
	require.Len(t, r.Dates, 6*12, "six products, twelve race weekends")
	for _, f := range r.Figures {
		require.InDelta(t, f.Times.AUBT, f.Times.APT+f.Times.AUST+f.Times.ADET, 1e-9)
	}
}

// Until when an order is safe does not depend on how many weeks are shown, and what
// is ready for one race weekend is ready for the next.
func TestLastDatesAreTheSameHoweverFarOneLooks(t *testing.T) {
	in := demo(t)
	all := of(t, in).Dates
	safe, open := map[string]resources.Tick{}, 0
	for _, d := range all {
		require.GreaterOrEqual(t, d.Safe, safe[d.Product], "%+v", d)
		if safe[d.Product] = d.Safe; d.Safe > 0 {
			open++
		}
	}
	require.Positive(t, open)
	for _, in.Weeks = range []int{2, 3, 6, 12, 52} {
		some := of(t, in).Dates
		require.Equal(t, all[:len(some)], some, "%d weeks", in.Weeks)
		require.NotEmpty(t, some)
	}
}

// A report of a shop that has worked for two days has figures of what was
// reported.
func TestFiguresOfFacts(t *testing.T) {
	in := demo(t)
	in.Now += resources.Tick(50 * hour)
	in.Plan = schedtest.Advance(in.State, in.Plan, in.Now)
	r := of(t, in)
	found := false
	for _, f := range r.Figures {
		if f.Basis == capacity.Reported && f.Station == "TAPE" {
			found = true
			require.Positive(t, f.Times.PQ)
			require.InDelta(t, 1, f.Figures.Effectiveness, 1e-9, "reported as planned, so at the standard time")
			require.Less(t, f.Figures.Availability, 1.0)
			require.Equal(t, 1.0, f.Figures.QualityRatio)
		}
	}
	require.True(t, found)
}

func TestWeeksHaveLimits(t *testing.T) {
	in := demo(t)
	for _, weeks := range []int{-1, 53, 1000} {
		in.Weeks = weeks
		_, err := capacity.Of(in)
		require.ErrorIs(t, err, capacity.ErrWeeks)
	}
	in.Weeks = 52
	require.Len(t, of(t, in).Weeks, 52)
	_, err := capacity.Of(capacity.Input{State: scheduler.NewState(nil)})
	require.Error(t, err)
}

// A shop that stands still, with one order in it: nothing is in the way but
// the routing.
func TestLastDateByHand(t *testing.T) {
	due := schedtest.Monday + resources.Tick(11*24*hour+10*hour)
	l := line("1", "A", 1, due)
	l.Kind, l.Note = resources.Event, "Regatta; the blue one"
	s := schedtest.State(oneBench(0), l)
	r := of(t, capacity.Input{State: s, Now: schedtest.Monday, Weeks: 2})
	require.Len(t, r.Dates, 2)
	d := r.Dates[0]
	require.Equal(t, "Regatta", d.Event)
	require.Equal(t, due-resources.Tick(7*hour), d.Latest, "Friday 9:00, as the week by hand has it")
	require.Less(t, d.Safe, d.Latest)
	require.Greater(t, d.Safe, d.Latest-resources.Tick(24*hour))
	// Too late: the order would have had to begin before now.
	late := of(t, capacity.Input{State: s, Now: due - resources.Tick(6*hour), Weeks: 2})
	require.Zero(t, late.Dates[0].Latest)
	require.Zero(t, late.Dates[0].Safe)
}
