// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// damage is one corruption of the workshop's good plan and the kind it must be
// caught as.
type damage struct {
	name string
	kind scheduler.ViolationKind
	at   resources.Tick // how long the plan has been happening; 0: just made
	do   func(s *scheduler.State, p *scheduler.Plan)
}

func work(p *scheduler.Plan, piece, op string) *scheduler.Work {
	i := slices.IndexFunc(p.Work, func(w scheduler.Work) bool { return w.Piece == piece && w.Operation == op })
	return &p.Work[i]
}

func load(p *scheduler.Plan, id string) *scheduler.Load {
	return &p.Loads[slices.IndexFunc(p.Loads, func(l scheduler.Load) bool { return l.ID == id })]
}

func mix(p *scheduler.Plan, id string) *scheduler.Mix {
	return &p.Mixes[slices.IndexFunc(p.Mixes, func(m scheduler.Mix) bool { return m.ID == id })]
}

// shift moves all times of a piece of work.
func shift(w *scheduler.Work, by resources.Tick) {
	for _, t := range []*resources.Tick{&w.Setup, &w.Start, &w.Run, &w.RunEnd, &w.Unload, &w.End} {
		*t += by
	}
}

// shiftLoad moves a load with its members.
func shiftLoad(p *scheduler.Plan, id string, by resources.Tick) {
	l := load(p, id)
	for _, t := range []*resources.Tick{&l.Setup, &l.Start, &l.Run, &l.RunEnd, &l.Unload, &l.End} {
		*t += by
	}
	for i := range p.Work {
		if p.Work[i].Load == id {
			shift(&p.Work[i], by)
		}
	}
}

// eachOf changes a load and its members alike.
func eachOf(p *scheduler.Plan, id string, change func(setup, start, run, runEnd, unload, end *resources.Tick)) {
	l := load(p, id)
	change(&l.Setup, &l.Start, &l.Run, &l.RunEnd, &l.Unload, &l.End)
	for i := range p.Work {
		if w := &p.Work[i]; w.Load == id {
			change(&w.Setup, &w.Start, &w.Run, &w.RunEnd, &w.Unload, &w.End)
		}
	}
}

func drop(p *scheduler.Plan, piece, op string) {
	p.Work = slices.DeleteFunc(p.Work, func(w scheduler.Work) bool { return w.Piece == piece && w.Operation == op })
}

func TestCheckCatchesEachDamage(t *testing.T) {
	caught := map[scheduler.ViolationKind]bool{}
	for _, list := range [][]damage{damagedCoverage, damagedTimes, damagedStations, damagedPeople, damagedWaits, damagedLoads, damagedSupply, damagedFacts} {
		for _, d := range list {
			caught[d.kind] = true
			t.Run(string(d.kind)+"/"+d.name, func(t *testing.T) {
				s, p := schedtest.WorkshopPlan()
				now := schedtest.Monday + d.at
				if d.at > 0 {
					p = schedtest.Advance(s, p, now)
				}
				schedtest.RequireOK(t, s, now, p)
				d.do(s, p)
				schedtest.RequireKind(t, s, now, p, d.kind)
				require.Equal(t, scheduler.Check(s, now, p), scheduler.Check(s, now, p), "the same twice")
			})
		}
	}
	for _, k := range scheduler.ViolationKinds() {
		require.True(t, caught[k.Kind], "no damage is to be caught as %s", k.Kind)
	}
}

var damagedCoverage = []damage{
	{"an operation is missing", scheduler.BreaksCoverage, 0, func(_ *scheduler.State, p *scheduler.Plan) { drop(p, "B-1-01", "pack") }},
	{"a done operation of an open piece is missing", scheduler.BreaksCoverage, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) { drop(p, "A-1-01", "wind") }},
	{"an operation is there twice", scheduler.BreaksCoverage, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := *work(p, "B-1-01", "pack")
		shift(&w, 48*hour)
		p.Work = append(p.Work, w)
	}},
	{"an operation nobody asked for", scheduler.BreaksCoverage, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := *work(p, "B-1-01", "pack")
		w.Operation = "polish"
		p.Work = append(p.Work, w)
	}},
	{"a piece nobody knows", scheduler.BreaksCoverage, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Piece = "B-1-02" }},
	{"the product is gone from the plant", scheduler.BreaksCoverage, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Products[1].Routing = s.Plant.Products[1].Routing[:2]
	}},
	{"a piece is missing from its line", scheduler.BreaksQuantity, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		l := s.Lines["A/1"]
		l.Pieces = slices.DeleteFunc(l.Pieces, func(x string) bool { return x == "A-1-01.2" })
	}},
	{"more was ordered", scheduler.BreaksQuantity, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Lines["B/1"].Quantity = 2 }},
	{"a sample too few", scheduler.BreaksQuantity, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Products[0].Samples = 2 }},
	{"three shafts from a tube of two", scheduler.BreaksQuantity, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Pieces["A-1-02.1"].Parent = "A-1-01" }},
	{"a line names a piece that is not there", scheduler.BreaksQuantity, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Lines["B/1"].Pieces = append(s.Lines["B/1"].Pieces, "B-1-09")
	}},
	{"the product is unknown", scheduler.BreaksQuantity, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Lines["B/1"].Product = "QQ" }},
	{"work for another order", scheduler.BreaksIdentity, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Order = "A" }},
	{"work for another line", scheduler.BreaksIdentity, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Line = "2" }},
	{"planned on a piece that is held", scheduler.BreaksHold, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Pieces["A-1-01.1"].Held = true }},
	{"planned on a piece that is scrapped", scheduler.BreaksHold, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Pieces["B-1-01"].Scrapped = true }},
	{"planned for a line that is cancelled", scheduler.BreaksHold, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Lines["B/1"].Cancelled = true }},
	{"shafts planned while their tube is held", scheduler.BreaksPredecessor, 0, func(s *scheduler.State, p *scheduler.Plan) {
		s.Pieces["A-1-01"].Held = true
		p.Work = slices.DeleteFunc(p.Work, func(w scheduler.Work) bool { return w.Piece == "A-1-01" })
	}},
	{"packed though the lot's sample is held", scheduler.BreaksPredecessor, 0, func(s *scheduler.State, p *scheduler.Plan) {
		s.Pieces["A-1-02.2"].Held = true
		p.Work = slices.DeleteFunc(p.Work, func(w scheduler.Work) bool { return w.Piece == "A-1-02.2" })
	}},
	{"what it waits for is not planned", scheduler.BreaksPredecessor, 0, func(_ *scheduler.State, p *scheduler.Plan) { drop(p, "A-1-02", "ring") }},
}

var damagedTimes = []damage{
	{"start before changeover", scheduler.BreaksTimes, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Setup += 2 * hour }},
	{"ends before it starts", scheduler.BreaksTimes, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").End = 0 }},
	{"a century away", scheduler.BreaksTimes, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		shift(work(p, "B-1-01", "pack"), resources.Tick(100*365*resources.Day))
	}},
	{"a load out of order", scheduler.BreaksTimes, 0, func(_ *scheduler.State, p *scheduler.Plan) { load(p, "OL-2").Run = 5 }},
	{"a mix out of order", scheduler.BreaksTimes, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-2").Expiry = 5 }},
	{"loading too short", scheduler.BreaksLoading, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "A-1-01.1", "proof")
		w.Setup, w.Start = w.Setup+minute, w.Start+minute
	}},
	{"loading forgets the second member", scheduler.BreaksLoading, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "WL-1", func(setup, start, _, _, _, _ *resources.Tick) { *setup += 5 * minute; *start += 5 * minute })
	}},
	{"run too short", scheduler.BreaksRun, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "B-1-01", "pack")
		w.RunEnd, w.Unload, w.End = w.RunEnd-minute, w.Unload-minute, w.End-minute
	}},
	{"run too long", scheduler.BreaksRun, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "B-1-01", "pack")
		w.RunEnd, w.Unload, w.End = w.RunEnd+1, w.Unload+1, w.End+1
	}},
	{"a slower station", scheduler.BreaksRun, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Stations[8].Speed = 0.5 }},
	{"a longer recipe", scheduler.BreaksRun, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Recipes[0].Fixed += 60 }},
	{"works through the break", scheduler.BreaksRun, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "A-1-02", "cut")
		w.RunEnd, w.Unload, w.End = w.RunEnd-10*minute, w.Unload-10*minute, w.End-10*minute
	}},
	{"pauses while all are there", scheduler.BreaksRun, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "A-1-02", "cut")
		w.Setup, w.Start, w.Run = w.Setup-minute, w.Start-minute, w.Run-minute
	}},
	{"the crew has a pause of its own", scheduler.BreaksRun, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		c := s.Plant.Calendars[0]
		c.ID = "hands"
		c.Shifts = slices.Clone(c.Shifts)
		c.Shifts[0].Breaks = append(slices.Clone(c.Shifts[0].Breaks), resources.ShiftBreak{
			Start: 14*resources.Hour + 30*resources.Minute, End: 14*resources.Hour + 35*resources.Minute,
		})
		s.Plant.Calendars = append(s.Plant.Calendars, c)
		s.Plant.Crews[1].Shifts[0].Calendar = "hands"
	}},
	{"waits inside where it may not", scheduler.BreaksWaitInside, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Products[0].Routing[1].WaitInside = false
	}},
	{"unloading too long", scheduler.BreaksUnloading, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01.1", "bond").End += 60 }},
	{"unloading forgets the second member", scheduler.BreaksUnloading, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "WL-1", func(_, _, _, _, _, end *resources.Tick) { *end -= 5 * minute })
	}},
	{"longer in the oven than it may", scheduler.BreaksMaxRun, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Products[0].Routing[1].MaxRun = 4*resources.Hour - 1
	}},
}

var damagedStations = []damage{
	{"a station that cannot do it", scheduler.BreaksEligibility, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Station = "bench" }},
	{"a station nobody has", scheduler.BreaksEligibility, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Station = "moon" }},
	{"place 0", scheduler.BreaksPlace, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Place = 0 }},
	{"a third place of two", scheduler.BreaksPlace, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "extract").Place = 3 }},
	{"too long for the winder", scheduler.BreaksLimits, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Products[0].Dimensions["length_mm"] = 1501 }},
	{"the oven does not run the recipe", scheduler.BreaksRecipe, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Stations[3].Recipes = []string{"R1"} }},
	{"two pieces in one place", scheduler.BreaksOccupancy, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "extract").Place = 1 }},
	{"a minute's overlap", scheduler.BreaksOccupancy, 0, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "A-1-02.2", "ultimate"), -minute) }},
	{"two loads in one oven", scheduler.BreaksOccupancy, 0, func(_ *scheduler.State, p *scheduler.Plan) { shiftLoad(p, "OL-2", -hour) }},
	{"the changeover begins before the last load is out", scheduler.BreaksOccupancy, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "WL-2", func(setup, _, _, _, _, _ *resources.Tick) { *setup -= minute })
	}},
	{"a mix in the way of a mix", scheduler.BreaksOccupancy, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		m := mix(p, "MX-2")
		m.Start, m.End, m.Expiry = mix(p, "MX-1").Start+minute, mix(p, "MX-1").End+minute, mix(p, "MX-1").Expiry+minute
	}},
	{"planned where started work still is", scheduler.BreaksOccupancy, 3 * hour, func(s *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "OL-1", func(_, _, _, _, _, end *resources.Tick) { *end += hour })
	}},
	{"no changeover", scheduler.BreaksChangeover, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "WL-2", func(setup, start, _, _, _, _ *resources.Tick) { *setup = *start })
	}},
	{"a changeover a second short", scheduler.BreaksChangeover, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "WL-2", func(setup, _, _, _, _, _ *resources.Tick) { *setup++ })
	}},
	{"another initial state", scheduler.BreaksChangeover, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Stations[1].Initial = map[string]string{"bore": "60"}
	}},
	{"set up for something else by now", scheduler.BreaksChangeover, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Stations["W1"].Setup = map[string]string{"bore": "60"}
	}},
	{"closed at night", scheduler.BreaksOpening, 0, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "B-1-01", "pack"), 4*hour) }},
	{"across the break", scheduler.BreaksOpening, 0, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "A-1-01", "extract"), 30*minute) }},
	{"an attended part while closed", scheduler.BreaksOpening, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "OL-1", func(_, _, _, _, unload, end *resources.Tick) { *unload -= minute; *end -= minute })
	}},
	{"the oven may not run alone", scheduler.BreaksOpening, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Stations[3].Unattended = false }},
	{"mixing while the room is closed", scheduler.BreaksOpening, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Calendars = append(s.Plant.Calendars, resources.Calendar{ID: "never"})
		s.Plant.Stations[0].Calendar = "never"
	}},
	{"the station is down", scheduler.BreaksStop, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		*s.Stations["packing"] = scheduler.StationState{Down: true, Since: schedtest.Monday, Until: schedtest.Monday + 13*hour + minute}
	}},
	{"down, and nobody knows how long", scheduler.BreaksStop, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		*s.Stations["bench"] = scheduler.StationState{Down: true, Since: schedtest.Monday}
	}},
	{"the mix room is down", scheduler.BreaksStop, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		*s.Stations["mixroom"] = scheduler.StationState{Down: true, Since: schedtest.Monday, Until: schedtest.Monday + minute}
	}},
}

var damagedPeople = []damage{
	{"nobody for an attended part", scheduler.BreaksNeeds, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").People = nil }},
	{"half of what is asked", scheduler.BreaksNeeds, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").People[0].Share = 500 }},
	{"two crews for one need", scheduler.BreaksNeeds, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "B-1-01", "pack")
		w.People = append(w.People, w.People[0])
	}},
	{"people nobody asked for", scheduler.BreaksNeeds, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "B-1-01", "pack")
		w.People = append(w.People, scheduler.PeopleUse{Part: resources.PartRun, Skill: "test", Crew: "lab", Share: 100})
	}},
	{"people on the second member", scheduler.BreaksNeeds, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		work(p, "A-1-02", "wind").People = work(p, "A-1-01", "wind").People
	}},
	{"nobody for the changeover", scheduler.BreaksNeeds, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "B-1-01", "wind")
		w.People = slices.DeleteFunc(w.People, func(u scheduler.PeopleUse) bool { return u.Part == resources.PartSetup })
	}},
	{"nobody for what is left of started work", scheduler.BreaksNeeds, 2 * hour, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "cure").People = nil }},
	{"a crew for a mix that needs none", scheduler.BreaksNeeds, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Resins[0].Skill = "" }},
	{"a crew without the skill", scheduler.BreaksSkill, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").People[0].Crew = "lab" }},
	{"no such crew", scheduler.BreaksSkill, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").People[0].Crew = "ghosts" }},
	{"a mix by those who cannot", scheduler.BreaksSkill, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Crew = "lab" }},
	{"a mix by nobody", scheduler.BreaksSkill, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Crew = "" }},
	{"after the shift", scheduler.BreaksShift, 0, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "B-1-01", "pack"), 4*hour) }},
	{"over the end of the shift", scheduler.BreaksShift, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		shift(work(p, "B-1-01", "pack"), 3*hour-5*minute)
	}},
	{"two things at once for one person", scheduler.BreaksCrew, 0, func(s *scheduler.State, p *scheduler.Plan) {
		s.Plant.Stations[7].Places = 2
		w := work(p, "A-1-01.2", "proof")
		shift(w, -15*minute)
		w.Place = 2
	}},
	{"one person is missing", scheduler.BreaksCrew, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Crews[1].Shifts[0].Heads = 1 }},
	{"the mixer changes over too", scheduler.BreaksCrew, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Resins[0].Share = 1001 }},
	{"planned on people who are busy with started work", scheduler.BreaksCrew, 9 * hour, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Crews[1].Shifts[0].Heads = 1
	}},
}

var damagedWaits = []damage{
	{"too early after what comes before", scheduler.BreaksMinWait, 0, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "A-1-01", "extract"), -minute) }},
	{"a shaft before its tube is cut", scheduler.BreaksMinWait, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Products[0].Routing[5].After[0].Min = hour1 }},
	{"packed before the lot's sample is tested", scheduler.BreaksMinWait, 0, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "A-1-01.1", "pack"), -10*minute) }},
	{"a tube before all its shafts", scheduler.BreaksMinWait, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Products[0].Routing[4].After = []resources.Link{{Operation: "bond"}}
	}},
	{"from the start of loading", scheduler.BreaksMinWait, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		// 10 min of loading and 4 h 30 min of run and wait lie between.
		s.Plant.Products[0].Routing[2].After = []resources.Link{{Operation: "cure", FromStart: true, Min: 5*resources.Hour + 51*resources.Minute}}
	}},
	{"not even as early as a negative wait allows", scheduler.BreaksMinWait, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		// Ring of the first tube starts 16 h 15 min before its shaft is packed.
		s.Plant.Products[0].Routing[4].After = []resources.Link{{Operation: "cut"}, {Operation: "bond", Min: -resources.Hour}}
	}},
	{"wet too long", scheduler.BreaksMaxWait, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Products[0].Routing[1].After[0].Max = 5*resources.Minute - 1
	}},
	{"from the start of loading, too long", scheduler.BreaksMaxWait, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Products[0].Routing[2].After = []resources.Link{{Operation: "cure", FromStart: true, Max: 5 * resources.Hour, HasMax: true}}
	}},
	{"prepared too long before", scheduler.BreaksMaxWait, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		for _, op := range []string{"bond", "proof", "ultimate"} {
			shift(work(p, "A-1-02.2", op), 24*hour)
		}
	}},
	{"a breach that is none", scheduler.BreaksBreach, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		p.Breaches = []scheduler.Breach{{From: scheduler.Member{Piece: "B-1-01", Operation: "wind"}, To: scheduler.Member{Piece: "B-1-01", Operation: "cure"}, By: 60}}
	}},
	{"a breach of what can still be planned", scheduler.BreaksBreach, 0, func(s *scheduler.State, p *scheduler.Plan) {
		s.Plant.Products[1].Routing[1].After[0].Max = resources.Hour
		p.Breaches = []scheduler.Breach{wetBreach(p)}
	}},
	{"a breach of another length", scheduler.BreaksBreach, 4 * hour, func(s *scheduler.State, p *scheduler.Plan) {
		s.Plant.Products[1].Routing[1].After[0].Max = resources.Hour
		p.Breaches = []scheduler.Breach{wetBreach(p)}
		p.Breaches[0].By--
	}},
	{"a breach recorded twice", scheduler.BreaksBreach, 4 * hour, func(s *scheduler.State, p *scheduler.Plan) {
		s.Plant.Products[1].Routing[1].After[0].Max = resources.Hour
		p.Breaches = []scheduler.Breach{wetBreach(p), wetBreach(p)}
	}},
	{"before the order may start", scheduler.BreaksRelease, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Lines["B/1"].EarliestStart = schedtest.Monday + 3*hour }},
	{"in the past", scheduler.BreaksNow, 0, func(_ *scheduler.State, p *scheduler.Plan) { shiftLoad(p, "WL-1", -21*minute) }},
	{"a mix in the past", scheduler.BreaksNow, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		m := mix(p, "MX-1")
		m.Start, m.End, m.Expiry = m.Start-1, m.End-1, m.Expiry-1
	}},
	{"a changeover under way that was published otherwise", scheduler.BreaksNow, 115 * minute, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "WL-2", func(setup, _, _, _, _, _ *resources.Tick) { *setup++ })
	}},
}

const hour1 = resources.Hour

// wetBreach owns up to a wet hold of an hour that became 3 h 15 min.
func wetBreach(p *scheduler.Plan) scheduler.Breach {
	by := work(p, "B-1-01", "cure").Start - work(p, "B-1-01", "wind").End - hour
	return scheduler.Breach{
		From: scheduler.Member{Piece: "B-1-01", Operation: "wind"},
		To:   scheduler.Member{Piece: "B-1-01", Operation: "cure"}, By: resources.Seconds(by),
	}
}

func TestCheckAcceptsABreachThatFactsForced(t *testing.T) {
	s, p := schedtest.WorkshopPlan()
	now := schedtest.Monday + 4*hour
	p = schedtest.Advance(s, p, now)
	s.Plant.Products[1].Routing[1].After[0].Max = resources.Hour
	schedtest.RequireKind(t, s, now, p, scheduler.BreaksMaxWait)
	p.Breaches = []scheduler.Breach{wetBreach(p)}
	schedtest.RequireOK(t, s, now, p)
}
