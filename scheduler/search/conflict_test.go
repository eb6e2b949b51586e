// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// littleShop winds, tapes, cures and pulls one tube a time; it can be planned.
func littleShop() *resources.Plant {
	days := []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}
	calendar := func(id string, from, to resources.Seconds) resources.Calendar {
		return resources.Calendar{ID: id, Shifts: []resources.Shift{{Days: days, Start: from, End: to}}}
	}
	by := func(part resources.Part, skill string) []resources.Need {
		return []resources.Need{{Part: part, Skill: skill, Share: 1000}}
	}
	return schedtest.Plant(resources.Plant{
		ID: "little", Horizon: 28 * resources.Day,
		Calendars: []resources.Calendar{calendar("early", 6*hour, 14*hour), calendar("late", 14*hour, 22*hour)},
		Stations: []resources.Station{
			{ID: "mixroom", Calendar: "early"}, {ID: "W", Calendar: "early"}, {ID: "T", Calendar: "early"}, {ID: "bench", Calendar: "early"},
			{
				ID: "O1", Calendar: "early", Unattended: true, Recipes: []string{"R"}, Limits: map[string]int64{"length_mm": 2000},
				Batch: &resources.Batch{Capacity: map[string]int64{"places": 4, "mass": 100}, Same: []string{"recipe"}},
			},
			{ID: "O2", Calendar: "early", Unattended: true, Recipes: []string{"R"}, Batch: &resources.Batch{Capacity: map[string]int64{"places": 2, "mass": 50}}, Limits: map[string]int64{"length_mm": 1200}},
		},
		Crews: []resources.Crew{
			{ID: "winders", Skills: []string{"wind", "mix"}, Shifts: []resources.CrewShift{{Calendar: "early", Heads: 2}}},
			{ID: "hands", Skills: []string{"tape", "cure"}, Shifts: []resources.CrewShift{{Calendar: "early", Heads: 2}}},
		},
		Tools:     []resources.Tool{{ID: "M", Kind: "mandrel", Units: []string{"M-1", "M-2"}}},
		Materials: []resources.Material{{ID: "tow", Unit: "kg", Stock: 9000}},
		Resins:    []resources.Resin{{ID: "A", Life: 90 * minute, ReferenceC: 20, MaxMass: 1000, HeelMass: 100, Mixing: 15 * minute, Station: "mixroom", Skill: "mix", Share: 1000}},
		Room:      resources.Room{Celsius: 20},
		Recipes:   []resources.Recipe{{ID: "R", Group: "R", Fixed: 4 * hour}},
		Products: []resources.Product{{ID: "P", Dimensions: map[string]int64{"length_mm": 900}, Routing: []resources.Operation{
			{
				ID: "wind", Stations: []string{"W"}, Run: hour, Needs: by(resources.PartRun, "wind"), Mix: &resources.MixDraw{Resin: "A", Grams: 400},
				Takes: []resources.Take{{Tool: "M", Until: "pull"}}, Draws: []resources.Draw{{Material: "tow", Quantity: 3000}},
			},
			{ID: "tape", Stations: []string{"T"}, Run: 20 * minute, Needs: by(resources.PartRun, "tape")},
			{
				ID: "cure", Stations: []string{"O1", "O2"}, Recipe: "R", Load: 10 * minute, Unload: 10 * minute, WaitInside: true, Needs: by(resources.PartLoad, "cure"),
				Size: map[string]int64{"places": 1, "mass": 30}, After: []resources.Link{{Operation: "wind", Max: 2 * hour, HasMax: true}, {Operation: "tape"}},
			},
			{ID: "pull", Stations: []string{"bench"}, Run: 20 * minute},
		}}},
	})
}

func littleState(p *resources.Plant) *scheduler.State {
	return schedtest.State(p, resources.OrderLine{Order: "A", Line: "1", Product: "P", Quantity: 2, Due: schedtest.Monday + resources.Tick(4*resources.Day), Weight: 1})
}

const plenty = 9000 // thousandths, of tow

// planned plans the little shop, or says why not. What lacks a material is left out
// of a compiled problem; here it stays in.
func planned(t *testing.T, p *resources.Plant) error {
	t.Helper()
	s := littleState(p)
	stock := &p.Materials[0].Stock
	there := *stock
	*stock = plenty
	problem, err := scheduler.Compile(s, schedtest.Monday)
	*stock = there
	if err != nil {
		return err
	}
	steps := problem.Stocks[0].Steps
	for i := range steps {
		steps[i].Cap -= plenty - there
	}
	plan, err := search.Construct(problem)
	if err == nil {
		schedtest.RequireOK(t, s, schedtest.Monday, plan)
	}
	return err
}

// Every way to make a shop impossible is told with piece, operation and what
// cannot hold together, and lifting any of that makes it possible again.
func TestInfeasibleNamesWhatCannotHoldTogether(t *testing.T) {
	require.NoError(t, planned(t, littleShop()))
	op := func(p *resources.Plant, i int) *resources.Operation { return &p.Products[0].Routing[i] }
	const wind, tape, cure = 0, 1, 2
	for _, c := range []struct {
		name      string
		spoil     func(p *resources.Plant)
		operation string
		kinds     map[scheduler.LimitKind]string // with a name among those of the kind
		text      string
		mends     map[string]func(p *resources.Plant)
	}{
		{
			"a part longer than any oven", func(p *resources.Plant) { p.Products[0].Dimensions["length_mm"] = 2100 }, "cure",
			map[scheduler.LimitKind]string{scheduler.LimitSize: "O1"}, "O1 takes length_mm up to 2000 and it has 2100",
			map[string]func(*resources.Plant){"a longer oven": func(p *resources.Plant) { p.Stations[4].Limits["length_mm"] = 2100 }},
		},
		{
			"no oven with the recipe", func(p *resources.Plant) { p.Stations[4].Recipes, p.Stations[5].Recipes = nil, nil }, "cure",
			map[scheduler.LimitKind]string{scheduler.LimitStation: "O2"}, "O2 does not run recipe R", nil,
		},
		{
			"heavier than any load", func(p *resources.Plant) { op(p, cure).Size["mass"] = 200 }, "cure",
			map[scheduler.LimitKind]string{scheduler.LimitSize: "O2"}, "a load of O2 holds mass 50 and one piece has 200",
			map[string]func(*resources.Plant){"an oven that takes it": func(p *resources.Plant) { p.Stations[5].Batch.Capacity["mass"] = 200 }},
		},
		{
			"a wet wait shorter than the shortest way to the oven", func(p *resources.Plant) { op(p, cure).After[0].Max = 15 * minute }, "cure",
			map[scheduler.LimitKind]string{scheduler.LimitWait: "cure", scheduler.LimitWork: "tape"}, "cure must start within 15 min after wind ends",
			map[string]func(*resources.Plant){
				"a longer wait":    func(p *resources.Plant) { op(p, cure).After[0].Max = 20 * minute },
				"a shorter taping": func(p *resources.Plant) { op(p, tape).Run = 15 * minute },
			},
		},
		{
			"winding and curing at hours that do not meet", func(p *resources.Plant) {
				p.Crews[1].Shifts[0].Calendar, p.Stations[2].Calendar = "late", ""
				p.Stations[4].Calendar, p.Stations[5].Calendar = "late", "late"
				p.Calendars[0].Shifts[0].End = 10 * hour
				op(p, tape).Needs = nil
			}, "cure",
			map[scheduler.LimitKind]string{scheduler.LimitWait: "cure", scheduler.LimitPeople: "cure"}, "cure must start within 2 h after wind ends",
			map[string]func(*resources.Plant){"a longer wait": func(p *resources.Plant) { op(p, cure).After[0].Max = 4 * hour }},
		},
		{
			"nobody with the skill", func(p *resources.Plant) { op(p, tape).Needs[0].Skill = "juggle" }, "tape",
			map[scheduler.LimitKind]string{scheduler.LimitPeople: "juggle"}, "nobody has skill juggle",
			map[string]func(*resources.Plant){"training": func(p *resources.Plant) { p.Crews[1].Skills = append(p.Crews[1].Skills, "juggle") }},
		},
		{
			"a skilled crew that is never at work", func(p *resources.Plant) { p.Crews[1].Shifts[0].Heads = 0 }, "tape",
			map[scheduler.LimitKind]string{scheduler.LimitPeople: "tape"}, "nobody with skill tape is at work", nil,
		},
		{
			"more people than there are", func(p *resources.Plant) { op(p, tape).Needs[0].Share = 3000 }, "tape",
			map[scheduler.LimitKind]string{scheduler.LimitPeople: "tape"}, "3 with skill tape are wanted and no crew has more than 2 at work",
			map[string]func(*resources.Plant){"one more": func(p *resources.Plant) { p.Crews[1].Shifts[0].Heads = 3 }},
		},
		{
			"people when the station is shut", func(p *resources.Plant) { p.Stations[2].Calendar = "late" }, "tape",
			map[scheduler.LimitKind]string{scheduler.LimitPeople: "tape", scheduler.LimitHours: "T"}, "T is open for at most 8 h at a stretch",
			map[string]func(*resources.Plant){
				"other hours of the station": func(p *resources.Plant) { p.Stations[2].Calendar = "" },
				"other hours of the people": func(p *resources.Plant) {
					op(p, cure).After[0].Max = 30 * hour
					p.Crews[1].Shifts = append(p.Crews[1].Shifts, resources.CrewShift{Calendar: "late", Heads: 1})
				},
			},
		},
		{
			"work longer than any opening", func(p *resources.Plant) { op(p, wind).Run, op(p, wind).Mix, op(p, wind).Needs = 9*hour, nil, nil }, "wind",
			map[scheduler.LimitKind]string{scheduler.LimitHours: "W", scheduler.LimitWork: "wind"}, "wind takes at least 9 h",
			map[string]func(*resources.Plant){"open all day": func(p *resources.Plant) { p.Stations[1].Calendar = "" }},
		},
		{
			"no mandrel at all", func(p *resources.Plant) { p.Tools[0].Units = nil }, "wind",
			map[scheduler.LimitKind]string{scheduler.LimitTool: "M"}, "there is no M",
			map[string]func(*resources.Plant){"one": func(p *resources.Plant) { p.Tools[0].Units = []string{"M-1"} }},
		},
		{
			"material nowhere", func(p *resources.Plant) { p.Materials[0].Stock = 2000 }, "wind",
			map[scheduler.LimitKind]string{scheduler.LimitMaterial: "tow"}, "tow: 2 there or to come, 3 wanted",
			map[string]func(*resources.Plant){"a receipt": func(p *resources.Plant) {
				p.Materials[0].Receipts = []resources.Receipt{{At: schedtest.Monday + 7200, Quantity: 4000}}
			}},
		},
		{
			"material for one of two", func(p *resources.Plant) { p.Materials[0].Stock = 4000 }, "wind",
			map[scheduler.LimitKind]string{scheduler.LimitMaterial: "tow"}, "tow: 4 there or to come, 6 wanted", nil,
		},
		{
			"more resin than a mix holds", func(p *resources.Plant) { op(p, wind).Mix.Grams = 950 }, "wind",
			map[scheduler.LimitKind]string{scheduler.LimitResin: "A"}, "a mix of A gives at most 900 g",
			map[string]func(*resources.Plant){"a larger mix": func(p *resources.Plant) { p.Resins[0].MaxMass = 1050 }},
		},
		{
			"resin that dies before the run ends", func(p *resources.Plant) { p.Resins[0].Life = 50 * minute }, "wind",
			map[scheduler.LimitKind]string{scheduler.LimitResin: "A", scheduler.LimitWork: "wind"}, "lives 50 min at most",
			map[string]func(*resources.Plant){"a shorter run": func(p *resources.Plant) { op(p, wind).Run = 45 * minute }},
		},
		{
			"a run longer than it may be", func(p *resources.Plant) { op(p, cure).MaxRun = 3 * hour }, "cure",
			map[scheduler.LimitKind]string{scheduler.LimitRun: "cure"}, "cure may run at most 3 h",
			map[string]func(*resources.Plant){"a longer run": func(p *resources.Plant) { op(p, cure).MaxRun = 4 * hour }},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := littleShop()
			c.spoil(p)
			err := planned(t, p)
			require.ErrorIs(t, err, scheduler.ErrNothingPossible)
			var x *scheduler.Infeasible
			require.True(t, errors.As(err, &x), "%v", err)
			require.Regexp(t, `^A-1-0[12]$`, x.Piece)
			require.Equal(t, c.operation, x.Operation, "%v", err)
			require.NotEmpty(t, x.Stations)
			require.Contains(t, err.Error(), c.text)
			require.NotEmpty(t, x.Hint())
			found := map[scheduler.LimitKind]string{}
			for _, l := range x.Together {
				if l.Name == c.kinds[l.Kind] || found[l.Kind] == "" {
					found[l.Kind] = l.Name
				}
				require.NotEmpty(t, l.Text)
			}
			for kind, name := range c.kinds {
				require.Equal(t, name, found[kind], "%s in %v", kind, err)
			}
			for kind := range found {
				require.True(t, kind == scheduler.LimitWork || c.kinds[kind] != "", "%s does not belong: %v", kind, err)
			}
			for name, mend := range c.mends {
				p := littleShop()
				c.spoil(p)
				mend(p)
				require.NoError(t, planned(t, p), name)
			}
		})
	}
}

// What is impossible only because the others are there is told as not proven.
func TestInfeasibleTogetherIsNotCalledProven(t *testing.T) {
	p := littleShop()
	p.Materials[0].Stock = 4000
	var x *scheduler.Infeasible
	require.True(t, errors.As(planned(t, p), &x))
	require.False(t, x.Proven)
	p.Materials[0].Stock = 0
	require.True(t, errors.As(planned(t, p), &x))
	require.True(t, x.Proven)
}
