// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/web/view"
)

// The fixture is a shop small enough to know by heart: a mix room, a winder,
// an oven and a tester, two orders, a plan written by hand. Monday 2 March
// 2026, 10:00 in London.

const minute = resources.Tick(60)

var ten = resources.Tick(time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC).Unix())

func at(minutes int) resources.Tick { return ten + resources.Tick(minutes)*minute }

func smallPlant() *resources.Plant {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		panic(err)
	}
	winding := []resources.Need{{Part: resources.PartRun, Skill: "winding", Share: 500}}
	return &resources.Plant{
		ID: "small", Name: "Small shop", Zone: london, Horizon: 14 * resources.Day,
		Calendars: []resources.Calendar{{ID: "day", Shifts: []resources.Shift{{
			Days:  []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday},
			Start: 6 * resources.Hour, End: 18 * resources.Hour,
		}}}},
		Stations: []resources.Station{
			{ID: "MIX", Name: "Mix room", Kind: "mix room", Places: 1},
			{ID: "W1", Name: "Winder 1", Kind: "winder", Places: 1, Calendar: "day",
				Setups: []resources.SetupRule{{Attribute: "program", From: "*", To: "*", Time: 600}}, Initial: map[string]string{"program": "old"}},
			{ID: "O1", Name: "Oven 1", Kind: "oven", Places: 1, Unattended: true, Recipes: []string{"A"},
				Batch: &resources.Batch{Capacity: map[string]int64{"places": 4, "mass_g": 20000}, Same: []string{"recipe"}}},
			{ID: "T1", Name: "Torsion tester", Kind: "tester", Places: 2, Calendar: "day"},
		},
		Crews:   []resources.Crew{{ID: "early", Skills: []string{"winding"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 2}}}},
		Tools:   []resources.Tool{{ID: "M60", Kind: "mandrel", Units: []string{"M60-1", "M60-2", "M60-3"}, Turnaround: 7200, Dimensions: map[string]int64{"bore_mm": 60}}},
		Resins:  []resources.Resin{{ID: "R", Name: "Amine system", Life: 5400, ReferenceC: 25, MaxMass: 2000, HeelMass: 100, Mixing: 900, Station: "MIX", Ingredients: []resources.Ingredient{{Name: "resin", Parts: 100}, {Name: "hardener", Parts: 25}}}},
		Recipes: []resources.Recipe{{ID: "A", Name: "Recipe A", Group: "A", Fixed: 8 * resources.Hour, Steps: []resources.CureStep{{Rate: 1.5, ToC: 80, Dwell: 7200}}, CoolRate: 1, OpenC: 60}},
		Products: []resources.Product{{ID: "TT", Name: "Torque tube", Routing: []resources.Operation{
			{ID: "wind", Name: "Wind", Stations: []string{"W1"}, Load: 600, Run: 3000, Needs: winding,
				Attributes: map[string]string{"program": "TT"}, Takes: []resources.Take{{Tool: "M60", Until: "cure"}},
				Mix: &resources.MixDraw{Resin: "R", Grams: 400}, Cautions: []string{"Keep the bath covered."}},
			{ID: "cure", Name: "Cure", Stations: []string{"O1"}, Recipe: "A", Size: map[string]int64{"places": 1, "mass_g": 5000},
				After: []resources.Link{{Operation: "wind", Max: 2 * resources.Hour, HasMax: true}}},
			{ID: "proof", Name: "Proof", Stations: []string{"T1"}, Run: 1800, Gate: "proof", After: []resources.Link{{Operation: "cure"}}},
		}}},
	}
}

func smallLines() []resources.OrderLine {
	return []resources.OrderLine{
		{Order: "A1", Line: "1", Customer: "Pellbrook", Product: "TT", Quantity: 2, ShipBy: at(24 * 60), Due: at(24 * 60), Weight: 1, Note: "blue band"},
		{Order: "B2", Line: "1", Customer: "Ravensike", Product: "TT", Quantity: 1, ShipBy: at(600), Due: at(600), Weight: 5, Kind: resources.Event},
	}
}

// smallPlan winds A1's tubes and B2's one after another, cures all three
// together and proves them.
func smallPlan() *scheduler.Plan {
	p := &scheduler.Plan{Version: 3, Made: ten}
	add := func(order, piece, op, station string, place int, setup, start, run, runEnd, end int) *scheduler.Work {
		p.Work = append(p.Work, scheduler.Work{
			Order: order, Line: "1", Piece: piece, Operation: op, Station: station, Place: place,
			Setup: at(setup), Start: at(start), Run: at(run), RunEnd: at(runEnd), Unload: at(runEnd), End: at(end),
		})
		return &p.Work[len(p.Work)-1]
	}
	for i, piece := range []string{"A1-1-01", "A1-1-02", "B2-1-01"} {
		from := -30 + i*60
		w := add(piece[:2], piece, "wind", "W1", 1, from-10*boolInt(i == 0), from, from+10, from+60, from+60)
		w.Mix, w.Tools = "X1", []string{[]string{"M60-1", "M60-2", "M60-3"}[i]}
		w.People = []scheduler.PeopleUse{{Part: resources.PartRun, Skill: "winding", Crew: "early", Share: 500}}
		if i == 2 {
			w.Mix = "X2"
		}
	}
	load := scheduler.Load{ID: "L1", Station: "O1", Recipe: "A", Setup: at(150), Start: at(150), Run: at(150), RunEnd: at(630), Unload: at(630), End: at(630)}
	for _, piece := range []string{"A1-1-01", "A1-1-02", "B2-1-01"} {
		add(piece[:2], piece, "cure", "O1", 1, 150, 150, 150, 630, 630).Load = "L1"
		load.Members = append(load.Members, scheduler.Member{Piece: piece, Operation: "cure"})
	}
	add("A1", "A1-1-01", "proof", "T1", 1, 1200, 1200, 1200, 1230, 1230)
	add("A1", "A1-1-02", "proof", "T1", 2, 1200, 1200, 1200, 1230, 1230)
	add("B2", "B2-1-01", "proof", "T1", 1, 1230, 1230, 1230, 1260, 1260)
	p.Loads = []scheduler.Load{load}
	p.Mixes = []scheduler.Mix{
		{ID: "X1", Resin: "R", Station: "MIX", Place: 1, Start: at(-50), End: at(-35), Expiry: at(55), Grams: 900, Users: []scheduler.Member{{Piece: "A1-1-01", Operation: "wind"}, {Piece: "A1-1-02", Operation: "wind"}}},
		{ID: "X2", Resin: "R", Station: "MIX", Place: 1, Start: at(60), End: at(75), Expiry: at(165), Grams: 500, Users: []scheduler.Member{{Piece: "B2-1-01", Operation: "wind"}}},
	}
	return p
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// small is the fixture's picture with facts applied to its state.
func small(facts ...events.Event) *view.Picture {
	state, err := scheduler.StateOf(smallPlant(), smallLines())
	if err != nil {
		panic(err)
	}
	p := &view.Picture{Version: 5, Now: ten, Planning: "idle"}
	for i, e := range append(begun(), facts...) {
		e.Plant, e.Seq, e.ID, e.By = "small", uint64(i+1), string(rune('a'+i)), "KM"
		notes, err := state.Apply(e)
		if err != nil {
			p.Rejects = append(p.Rejects, view.Reject{Seq: e.Seq, ID: e.ID, Kind: e.Kind, At: e.At, About: events.About(e), By: e.By, Reason: err.Error()})
			continue
		}
		p.Recent = append(p.Recent, view.Recent{Event: e, Believed: true})
		for _, n := range notes {
			p.Notes = append(p.Notes, view.Noted{Seq: e.Seq, At: e.At, Note: n})
		}
	}
	p.State, p.Plan = state, smallPlan()
	return p
}

// begun is what the fixture's shop has reported by ten: a mix, and the first
// tube on the winder.
func begun() []events.Event {
	return []events.Event{
		{Kind: events.MixMade, Station: "MIX", At: at(-35), Data: events.MixData{Mix: "X1", Resin: "R", Grams: 900}},
		{Kind: events.OperationStarted, Station: "W1", At: at(-28), Data: events.OperationData{Piece: "A1-1-01", Operation: "wind", Mix: "X1", Tools: []string{"M60-1"}}},
	}
}

func started(station, piece, op string, minutes int) events.Event {
	return events.Event{Kind: events.OperationStarted, Station: station, At: at(minutes), Data: events.OperationData{Piece: piece, Operation: op}}
}

func finished(station, piece, op string, minutes int) events.Event {
	return events.Event{Kind: events.OperationFinished, Station: station, At: at(minutes), Data: events.OperationData{Piece: piece, Operation: op}}
}
