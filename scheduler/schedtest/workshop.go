// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"fmt"
	"time"

	"towpath/resources"
	"towpath/scheduler"
)

const (
	minute = resources.Minute
	hour   = resources.Hour
)

var weekdays = []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}

// Workshop is a small invented plant in which every rule of the verifier has
// something to bite on. WorkshopPlan goes with it.
func Workshop() *resources.Plant {
	return Plant(resources.Plant{
		ID: "workshop",
		Calendars: []resources.Calendar{{ID: "day", Shifts: []resources.Shift{{
			Days: weekdays, Start: 6 * hour, End: 22 * hour,
			Breaks: []resources.ShiftBreak{{Start: 12 * hour, End: 12*hour + 30*minute}, {Start: 14*hour + 20*minute, End: 14*hour + 30*minute}},
		}}}},
		Freeze:   2 * hour,
		Stations: workshopStations(),
		Crews: []resources.Crew{
			{ID: "winders", Skills: []string{"wind", "mix"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 2}}},
			{ID: "hands", Skills: []string{"cure", "finish", "bond", "pack"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 2}}},
			{ID: "lab", Skills: []string{"test"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 1}}},
		},
		Tools: []resources.Tool{
			{ID: "M", Kind: "mandrel", Units: []string{"M-1", "M-2", "M-3", "M-4"}, Turnaround: hour},
			{ID: "F", Kind: "fixture", Units: []string{"F-1", "F-2"}, Turnaround: 10 * minute},
		},
		Resins: []resources.Resin{{
			ID: "A", Life: 90 * minute, ReferenceC: 20, MaxMass: 1000, HeelMass: 100,
			Mixing: 15 * minute, Station: "mixroom", Skill: "mix", Share: 1000,
		}},
		Room: resources.Room{Celsius: 20},
		Recipes: []resources.Recipe{
			{ID: "R1", Group: "warm", Fixed: 4 * hour},
			{ID: "R2", Group: "R2", Fixed: 3 * hour},
			{ID: "R3", Group: "warm", Fixed: 5 * hour},
		},
		Materials: []resources.Material{{
			ID: "box", Unit: "pcs", Stock: 3000,
			Receipts: []resources.Receipt{{At: Monday + resources.Tick(25*hour), Quantity: 5000}},
		}},
		Products: []resources.Product{workshopSplit(), workshopPlain()},
	})
}

func workshopStations() []resources.Station {
	return []resources.Station{
		{ID: "mixroom", Kind: "mix room", Calendar: "day"},
		{
			ID: "W1", Kind: "winder", Calendar: "day",
			Batch:  &resources.Batch{Capacity: map[string]int64{"spindles": 2}, Same: []string{"resin"}},
			Setups: []resources.SetupRule{{Attribute: "bore", From: "*", To: "*", Time: 20 * minute, Cost: 7}},
			Limits: map[string]int64{"length_mm": 1500}, Initial: map[string]string{"bore": "40"},
			SetupSkill: "wind", SetupShare: 1000,
		},
		{ID: "W2", Kind: "winder", Calendar: "day", Limits: map[string]int64{"length_mm": 800}},
		{
			ID: "O1", Kind: "oven", Calendar: "day", Unattended: true, Recipes: []string{"R1", "R3"},
			Batch: &resources.Batch{Capacity: map[string]int64{"places": 4, "mass": 100}, Same: []string{"recipe"}},
		},
		{
			ID: "O2", Kind: "oven", Calendar: "day", Unattended: true, Recipes: []string{"R2"},
			Batch: &resources.Batch{Capacity: map[string]int64{"places": 4, "mass": 100}, Same: []string{"recipe"}},
		},
		{ID: "bench", Kind: "bench", Calendar: "day", Places: 2},
		{ID: "cell", Kind: "bond cell", Calendar: "day", Places: 2, Unattended: true},
		{ID: "rig", Kind: "tester", Calendar: "day"},
		{ID: "packing", Kind: "packing", Calendar: "day"},
	}
}

func need(part resources.Part, skill string, share int64) resources.Need {
	return resources.Need{Part: part, Skill: skill, Share: share}
}

// workshopSplit is a tube cut into two shafts, with a ring verdict for both and
// a sample to be destroyed.
func workshopSplit() resources.Product {
	return resources.Product{
		ID: "HS", Dimensions: map[string]int64{"length_mm": 900}, Samples: 1,
		Routing: []resources.Operation{
			{
				ID: "wind", Stations: []string{"W1"}, Load: 10 * minute, LoadEach: 5 * minute, Run: hour, UnloadEach: 5 * minute,
				Needs: []resources.Need{need(resources.PartLoad, "wind", 1000), need(resources.PartRun, "wind", 500), need(resources.PartUnload, "wind", 1000)},
				Mix:   &resources.MixDraw{Resin: "A", Grams: 400}, Takes: []resources.Take{{Tool: "M", Until: "extract"}},
				Attributes: map[string]string{"bore": "40", "resin": "A"}, Size: map[string]int64{"spindles": 1},
			},
			{
				ID: "cure", Stations: []string{"O1", "O2"}, Recipe: "R1", Load: 10 * minute, Unload: 10 * minute, WaitInside: true, MaxRun: 5 * hour,
				Needs: []resources.Need{need(resources.PartLoad, "cure", 1000), need(resources.PartUnload, "cure", 1000)},
				Size:  map[string]int64{"places": 1, "mass": 30},
				After: []resources.Link{{Operation: "wind", Max: 2 * hour, HasMax: true}},
			},
			{
				ID: "extract", Stations: []string{"bench"}, Run: 20 * minute, Needs: []resources.Need{need(resources.PartRun, "finish", 1000)},
				After: []resources.Link{{Operation: "cure", Min: hour}},
			},
			{
				ID: "cut", Stations: []string{"bench"}, Run: 40 * minute, MayPause: true, Split: 2,
				Needs: []resources.Need{need(resources.PartRun, "finish", 1000)},
			},
			{ID: "ring", Stations: []string{"rig"}, Run: 30 * minute, Gate: "ring", Needs: []resources.Need{need(resources.PartRun, "test", 1000)}},
			{
				ID: "bond", Per: resources.PerShaft, Stations: []string{"cell"}, Load: 20 * minute, Run: 2 * hour, Unload: 5 * minute, WaitInside: true,
				Needs: []resources.Need{need(resources.PartLoad, "bond", 1000), need(resources.PartUnload, "bond", 1000)},
				Takes: []resources.Take{{Tool: "F", Until: "proof"}},
				After: []resources.Link{{Operation: "cut", Max: 24 * hour, HasMax: true}, {Operation: "ring"}},
			},
			{
				ID: "proof", Per: resources.PerShaft, Stations: []string{"rig"}, Load: 5 * minute, Run: 10 * minute,
				Needs: []resources.Need{need(resources.PartLoad, "test", 1000), need(resources.PartRun, "test", 1000)},
				After: []resources.Link{{Operation: "bond", Min: 30 * minute}},
			},
			{ID: "ultimate", Per: resources.PerSample, Stations: []string{"rig"}, Run: hour, Needs: []resources.Need{need(resources.PartRun, "test", 1000)}},
			{
				ID: "pack", Per: resources.PerShaft, SkipSample: true, Stations: []string{"packing"}, Run: 10 * minute,
				Needs: []resources.Need{need(resources.PartRun, "pack", 1000)}, Draws: []resources.Draw{{Material: "box", Quantity: 1000}},
				After: []resources.Link{{Operation: "proof"}, {Operation: "ultimate"}},
			},
		},
	}
}

// workshopPlain is a thicker tube that is not cut.
func workshopPlain() resources.Product {
	return resources.Product{
		ID: "PX", Dimensions: map[string]int64{"length_mm": 1200},
		Routing: []resources.Operation{
			{
				ID: "wind", Stations: []string{"W1", "W2"}, Load: 10 * minute, LoadEach: 5 * minute, Run: hour, UnloadEach: 5 * minute,
				Needs: []resources.Need{need(resources.PartLoad, "wind", 1000), need(resources.PartRun, "wind", 500), need(resources.PartUnload, "wind", 1000)},
				Mix:   &resources.MixDraw{Resin: "A", Grams: 600}, Takes: []resources.Take{{Tool: "M", Until: "cure"}},
				Attributes: map[string]string{"bore": "60", "resin": "A"}, Size: map[string]int64{"spindles": 1},
			},
			{
				ID: "cure", Stations: []string{"O1"}, Recipe: "R3", Load: 10 * minute, Unload: 10 * minute, WaitInside: true,
				Needs: []resources.Need{need(resources.PartLoad, "cure", 1000), need(resources.PartUnload, "cure", 1000)},
				Size:  map[string]int64{"places": 1, "mass": 50},
				After: []resources.Link{{Operation: "wind", Max: 4 * hour, HasMax: true}},
			},
			{
				ID: "pack", Stations: []string{"packing"}, Run: 10 * minute, Needs: []resources.Need{need(resources.PartRun, "pack", 1000)},
				Draws: []resources.Draw{{Material: "box", Quantity: 1000}},
				After: []resources.Link{{Operation: "cure", Min: hour}},
			},
		},
	}
}

// WorkshopPlan is two orders, A of three shafts and a sample from two tubes,
// firm, and B of one tube for an event, and a feasible plan for them, thought
// out by hand.
func WorkshopPlan() (*scheduler.State, *scheduler.Plan) { return WorkshopWeeks(1) }

// WorkshopWeeks is the same again every week, with enough boxes; from the
// second week on the orders are A2, B2, A3, … Each week has 30 operations.
func WorkshopWeeks(weeks int) (*scheduler.State, *scheduler.Plan) {
	plant := Workshop()
	plant.Materials[0].Stock += int64(weeks-1) * 4000
	var lines []resources.OrderLine
	for week := range weeks {
		from := Monday + resources.Tick(week)*resources.Tick(7*resources.Day)
		lines = append(lines,
			resources.OrderLine{
				Order: "A" + weekName(week), Line: "1", Product: "HS", Quantity: 3,
				Due: from + resources.Tick(30*hour), Weight: 10, Kind: resources.Firm,
			},
			resources.OrderLine{
				Order: "B" + weekName(week), Line: "1", Product: "PX", Quantity: 1,
				Due: from + resources.Tick(24*hour), Weight: 50, Kind: resources.Event,
			})
	}
	s := State(plant, lines...)
	b := NewPlan(s, Monday)
	for week := range weeks {
		b.workshopWeek(week)
	}
	return s, b.Plan()
}

func weekName(week int) string {
	if week == 0 {
		return ""
	}
	return fmt.Sprint(week + 1)
}

func (b *Planner) workshopWeek(week int) {
	at := func(h, m resources.Seconds) resources.Tick {
		return Monday + resources.Tick(resources.Seconds(week)*7*resources.Day+(h-6)*hour+m*minute)
	}
	name := weekName(week)
	a1, a2, b1 := "A"+name+"-1-01", "A"+name+"-1-02", "B"+name+"-1-01"
	both := func(op string) []scheduler.Member {
		return []scheduler.Member{{Piece: a1, Operation: op}, {Piece: a2, Operation: op}}
	}
	one := func(piece, op string) []scheduler.Member { return []scheduler.Member{{Piece: piece, Operation: op}} }
	change := Setup(20 * minute)
	first := Setup(0)
	if week > 0 {
		first = change // B's bore is still on from the week before
	}
	b.Mix("MX-1"+name, "A", at(6, 0)).
		Load("WL-1"+name, "W1", at(6, 20), both("wind"), first, From("MX-1"+name), Tools("M-1", "M-2")).
		Load("OL-1"+name, "O1", at(7, 55), both("cure"), Inside(25*minute)).
		Mix("MX-2"+name, "A", at(7, 50)).
		Load("WL-2"+name, "W1", at(8, 10), one(b1, "wind"), change, From("MX-2"+name), Tools("M-3")).
		Load("OL-2"+name, "O1", at(12, 40), one(b1, "cure")).
		Put(a1, "extract", "bench", at(13, 40)).
		Put(a2, "extract", "bench", at(13, 40), Place(2)).
		Put(a1, "cut", "bench", at(14, 0), Pause(10*minute)).
		Put(a2, "cut", "bench", at(14, 0), Place(2), Pause(10*minute)).
		Put(a1, "ring", "rig", at(14, 50)).
		Put(a2, "ring", "rig", at(15, 20)).
		Put(a1+".1", "bond", "cell", at(15, 20), Tools("F-1")).
		Put(a1+".2", "bond", "cell", at(15, 20), Place(2), Tools("F-2")).
		Put(a1+".1", "proof", "rig", at(18, 15)).
		Put(a1+".2", "proof", "rig", at(18, 30)).
		Put(a2+".1", "bond", "cell", at(18, 40), Tools("F-1")).
		Put(a2+".2", "bond", "cell", at(18, 55), Place(2), Tools("F-2")).
		Put(a2+".1", "proof", "rig", at(21, 35)).
		Put(a2+".2", "proof", "rig", at(30, 0)).
		Put(a2+".2", "ultimate", "rig", at(30, 15)).
		Put(a1+".1", "pack", "packing", at(31, 15)).
		Put(a1+".2", "pack", "packing", at(31, 25)).
		Put(a2+".1", "pack", "packing", at(31, 35)).
		Put(b1, "pack", "packing", at(19, 0))
}
