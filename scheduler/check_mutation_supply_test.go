// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// takeOut moves a member out of a load, to stand alone.
func takeOut(p *scheduler.Plan, id, piece string) {
	l := load(p, id)
	l.Members = slices.DeleteFunc(l.Members, func(m scheduler.Member) bool { return m.Piece == piece })
}

var damagedLoads = []damage{
	{"a member the load does not list", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { takeOut(p, "OL-1", "A-1-02") }},
	{"a load nobody lists", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "cure").Load = "OL-9" }},
	{"a member of another load", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "cure").Load = "OL-2" }},
	{"no load on a batch station", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "cure").Load = "" }},
	{"a member at another time", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "A-1-02", "cure"), 1) }},
	{"a member at another station", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "cure").Station = "O2" }},
	{"a member in place 2", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "cure").Place = 2 }},
	{"a member nobody knows", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { load(p, "OL-1").Members[1].Piece = "A-1-07" }},
	{"a member without work", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { drop(p, "A-1-02", "cure") }},
	{"a member twice", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		l := load(p, "OL-1")
		l.Members = append(l.Members, l.Members[0])
	}},
	{"an empty load", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		l := *load(p, "OL-1")
		l.ID, l.Members = "OL-3", nil
		p.Loads = append(p.Loads, l)
	}},
	{"two loads of one name", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { load(p, "OL-2").ID = "OL-1" }},
	{"a load without a name", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { load(p, "OL-2").ID = "" }},
	{"a load on a bench", scheduler.BreaksMembership, 0, func(_ *scheduler.State, p *scheduler.Plan) { load(p, "OL-2").Station = "bench" }},
	{"a closed load that is not in the plan", scheduler.BreaksClosedLoad, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Loads["L-7"] = &scheduler.LoadRun{ID: "L-7", Station: "O1", Members: []scheduler.Member{{Piece: "B-1-01", Operation: "cure"}}}
	}},
	{"a closed load on another oven", scheduler.BreaksClosedLoad, 0, func(s *scheduler.State, p *scheduler.Plan) {
		s.Loads["OL-2"] = &scheduler.LoadRun{ID: "OL-2", Station: "O2", Members: load(p, "OL-2").Members}
	}},
	{"a closed load with one piece less", scheduler.BreaksClosedLoad, 0, func(s *scheduler.State, p *scheduler.Plan) {
		s.Loads["OL-1"] = &scheduler.LoadRun{ID: "OL-1", Station: "O1", Members: load(p, "OL-1").Members[:1]}
	}},
	{"two resins on one winder", scheduler.BreaksSame, 0, func(s *scheduler.State, p *scheduler.Plan) {
		joinWinding(p)
		s.Plant.Products[1].Routing[0].Attributes["resin"] = "B"
	}},
	{"two recipes in one load", scheduler.BreaksRecipe, 0, func(s *scheduler.State, p *scheduler.Plan) {
		joinCure(p)
		s.Plant.Recipes[2].Group = "hot"
	}},
	{"two recipes in one load of a station that does not ask", scheduler.BreaksRecipe, 0, func(s *scheduler.State, p *scheduler.Plan) {
		joinCure(p)
		s.Plant.Recipes[2].Group = "hot"
		s.Plant.Stations[3].Batch.Same = nil
	}},
	{"a load of a recipe none of its members has", scheduler.BreaksRecipe, 0, func(_ *scheduler.State, p *scheduler.Plan) { load(p, "OL-1").Recipe = "R3" }},
	{"three on two spindles", scheduler.BreaksCapacity, 0, func(_ *scheduler.State, p *scheduler.Plan) { joinWinding(p) }},
	{"too heavy in the second dimension", scheduler.BreaksCapacity, 0, func(_ *scheduler.State, p *scheduler.Plan) { joinCure(p) }},
	{"a member that may not stay as long as the others", scheduler.BreaksMaxRun, 0, func(s *scheduler.State, p *scheduler.Plan) {
		joinCure(p)
		s.Plant.Products[0].Routing[1].MaxRun = 5*resources.Hour - 1
	}},
	{"the slowest member sets the time", scheduler.BreaksRun, 0, func(_ *scheduler.State, p *scheduler.Plan) { joinCure(p) }},
}

// joinCure puts B's tube into A's oven load; joinWinding onto A's winder load.
func joinCure(p *scheduler.Plan)    { join(p, "OL-1", "OL-2", "cure") }
func joinWinding(p *scheduler.Plan) { join(p, "WL-1", "WL-2", "wind") }

func join(p *scheduler.Plan, into, from, op string) {
	l := load(p, into)
	w := work(p, "B-1-01", op)
	w.Load, w.Station, w.People = into, l.Station, nil
	w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End = l.Setup, l.Start, l.Run, l.RunEnd, l.Unload, l.End
	l.Members = append(l.Members, scheduler.Member{Piece: "B-1-01", Operation: op})
	p.Loads = slices.DeleteFunc(p.Loads, func(x scheduler.Load) bool { return x.ID == from })
}

var damagedSupply = []damage{
	{"no mandrel", scheduler.BreaksTool, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "wind").Tools = nil }},
	{"a fixture for a mandrel", scheduler.BreaksTool, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "wind").Tools[0] = "F-1" }},
	{"a unit nobody has", scheduler.BreaksTool, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "wind").Tools[0] = "M-9" }},
	{"two mandrels for one", scheduler.BreaksTool, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "wind").Tools = []string{"M-1", "M-4"} }},
	{"a tool where none is needed", scheduler.BreaksTool, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Tools = []string{"F-2"} }},
	{"one unit for two needs", scheduler.BreaksTool, 0, func(s *scheduler.State, p *scheduler.Plan) {
		op := &s.Plant.Products[1].Routing[0]
		op.Takes = append(op.Takes, op.Takes[0])
		work(p, "B-1-01", "wind").Tools = []string{"M-3", "M-3"}
	}},
	{"a unit that is out of use", scheduler.BreaksToolState, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Tools["F-2"].Out = true }},
	{"a unit that is out until later", scheduler.BreaksToolState, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Tools["F-2"].Out, s.Tools["F-2"].Until = true, schedtest.Monday+9*hour+21*minute
	}},
	{"a unit that is not free yet", scheduler.BreaksToolState, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Tools["M-2"].Free = schedtest.Monday + 20*minute + 1
	}},
	{"one mandrel for two tubes", scheduler.BreaksToolHold, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "wind").Tools[0] = "M-1" }},
	{"a mandrel before it is coated again", scheduler.BreaksToolHold, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Tools[1].Turnaround += 1
	}},
	{"taken while the changeover holds it", scheduler.BreaksToolHold, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02.1", "bond").Setup -= 1 }},
	{"in the hands of a piece that is held", scheduler.BreaksToolHold, 5 * hour, func(s *scheduler.State, p *scheduler.Plan) {
		// A tube that is held keeps its mandrel; another of its pool takes it.
		s.Pieces["A-1-01"].Held = true
		p.Work = slices.DeleteFunc(p.Work, func(w scheduler.Work) bool { return w.Piece == "A-1-01" && w.Status == scheduler.Planned })
		op := &s.Plant.Products[1].Routing[2]
		op.Takes = []resources.Take{{Tool: "M", Until: "pack"}}
		work(p, "B-1-01", "pack").Tools = []string{"M-1"}
	}},
	{"mixed for too short", scheduler.BreaksMix, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Start += 60 }},
	{"a resin nobody has", scheduler.BreaksMix, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Resin = "Z" }},
	{"mixed on the bench", scheduler.BreaksMix, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Station = "bench" }},
	{"mixed in place 2", scheduler.BreaksMix, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Place = 2 }},
	{"made, says only the plan", scheduler.BreaksMix, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Status = scheduler.Done }},
	{"begun, says only the plan", scheduler.BreaksMix, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Status = scheduler.Started }},
	{"two mixes of one name", scheduler.BreaksMix, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-2").ID = "MX-1" }},
	{"a mix made otherwise than reported", scheduler.BreaksMix, 20 * minute, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Expiry += 60 }},
	{"a made mix still planned", scheduler.BreaksMix, 20 * minute, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Status = scheduler.Planned }},
	{"said to live longer", scheduler.BreaksMixLife, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Expiry++ }},
	{"a hot day", scheduler.BreaksMixLife, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Resins[0].HalvingC = 10
		s.Plant.Room.Celsius = 35
	}},
	{"used before it is made", scheduler.BreaksMixLife, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		m := mix(p, "MX-1")
		m.Start, m.End, m.Expiry = m.Start+5*minute+1, m.End+5*minute+1, m.Expiry+5*minute+1
	}},
	{"used when it is dead", scheduler.BreaksMixLife, 0, func(s *scheduler.State, p *scheduler.Plan) {
		s.Plant.Resins[0].Life = 79 * resources.Minute
		for i := range p.Mixes {
			p.Mixes[i].Expiry = p.Mixes[i].End + 79*minute
		}
	}},
	{"more in the pot than is drawn", scheduler.BreaksMixMass, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-1").Grams++ }},
	{"more drawn than is in the pot", scheduler.BreaksMixMass, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Products[0].Routing[0].Mix.Grams++ }},
	{"more than may be mixed", scheduler.BreaksMixMass, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Resins[0].MaxMass = 899 }},
	{"more drawn than is left", scheduler.BreaksMixMass, 111 * minute, func(s *scheduler.State, p *scheduler.Plan) {
		// B's tube is to be wound from what A's left over: not enough.
		work(p, "B-1-01", "wind").Mix = "MX-1"
		s.Mixes["MX-1"].Expiry += resources.Tick(resources.Day)
	}},
	{"no mix for resin", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "wind").Mix = "" }},
	{"a mix where no resin is needed", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Mix = "MX-1" }},
	{"a mix nobody makes", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "wind").Mix = "MX-9" }},
	{"another resin", scheduler.BreaksMixUsers, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Products[1].Routing[0].Mix.Resin = "B" }},
	{"two mixes in one load", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-02", "wind").Mix = "MX-2" }},
	{"a user the mix does not list", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) { m := mix(p, "MX-1"); m.Users = m.Users[:1] }},
	{"a user who does not draw", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		m := mix(p, "MX-2")
		m.Users = append(m.Users, scheduler.Member{Piece: "A-1-01", Operation: "wind"})
	}},
	{"a user listed twice", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) {
		m := mix(p, "MX-2")
		m.Users = append(m.Users, m.Users[0])
	}},
	{"a mix for nobody", scheduler.BreaksMixUsers, 0, func(_ *scheduler.State, p *scheduler.Plan) { mix(p, "MX-2").Users = nil }},
	{"a mix that was thrown away", scheduler.BreaksMixUsers, 5 * minute, func(s *scheduler.State, p *scheduler.Plan) {
		m := mix(p, "MX-1")
		s.Mixes["MX-1"] = &scheduler.MixRun{ID: "MX-1", Resin: "A", Grams: m.Grams, Made: m.End, Expiry: m.Expiry, Discarded: true}
	}},
	{"a box too few", scheduler.BreaksStock, 0, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Materials[0].Receipts[0].Quantity = 999 }},
	{"before the boxes come", scheduler.BreaksStock, 0, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Plant.Materials[0].Receipts[0].At = schedtest.Monday + 25*hour + 35*minute + 1
	}},
	{"what was drawn is gone", scheduler.BreaksStock, 14 * hour, func(s *scheduler.State, _ *scheduler.Plan) { s.Plant.Materials[0].Receipts = nil }},
}

var damagedFacts = []damage{
	{"done work forgotten", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "wind").Status = scheduler.Planned }},
	{"done work with another end", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "A-1-01", "wind").End++ }},
	{"done work with another start", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) {
		w := work(p, "A-1-01", "wind")
		w.Setup, w.Start = w.Setup-1, w.Start-1
	}},
	{"done work elsewhere", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "wind").Station = "W2" }},
	{"done work with another mandrel", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "wind").Tools[0] = "M-4" }},
	{"done work from another mix", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "wind").Mix = "MX-1" }},
	{"done work in another load", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "wind").Load = "WL-1" }},
	{"started work moved", scheduler.BreaksFacts, 8*hour + minute, func(_ *scheduler.State, p *scheduler.Plan) { shift(work(p, "A-1-01", "cut"), minute) }},
	{"started work in another place", scheduler.BreaksFacts, 10 * hour, func(_ *scheduler.State, p *scheduler.Plan) {
		work(p, "A-1-01.1", "bond").Place, work(p, "A-1-01.2", "bond").Place = 2, 1
	}},
	{"started work that ended before now", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "OL-1", func(_, _, run, runEnd, unload, end *resources.Tick) {
			*run, *runEnd, *unload, *end = *run-4*minute, *run, *run, *run+minute
		})
	}},
	{"started work that hurries", scheduler.BreaksFacts, 4 * hour, func(_ *scheduler.State, p *scheduler.Plan) {
		eachOf(p, "OL-1", func(_, _, _, runEnd, unload, end *resources.Tick) {
			*runEnd, *unload, *end = *runEnd-hour, *unload-hour, *end-hour
		})
	}},
	{"planned work said to be started", scheduler.BreaksFacts, 0, func(_ *scheduler.State, p *scheduler.Plan) { work(p, "B-1-01", "pack").Status = scheduler.Started }},
	{"paused work said to run", scheduler.BreaksFacts, 8*hour + 25*minute, func(s *scheduler.State, _ *scheduler.Plan) {
		s.Pieces["A-1-01"].Ops[3].Status = scheduler.Paused
	}},
	{"moved to another winder at the last minute", scheduler.BreaksFreeze, 11 * minute, func(s *scheduler.State, p *scheduler.Plan) {
		moveToW2(s, p)
	}},
	{"moved forward at the last minute", scheduler.BreaksFreeze, 5 * minute, func(_ *scheduler.State, p *scheduler.Plan) { shiftLoad(p, "WL-1", -1) }},
}

// moveToW2 winds B's tube on the single-spindle winder instead.
func moveToW2(s *scheduler.State, p *scheduler.Plan) {
	s.Plant.Stations[2].Limits = nil
	w := work(p, "B-1-01", "wind")
	w.Load, w.Station, w.Setup = "", "W2", w.Start
	w.People = slices.DeleteFunc(w.People, func(u scheduler.PeopleUse) bool { return u.Part == resources.PartSetup })
	p.Loads = slices.DeleteFunc(p.Loads, func(l scheduler.Load) bool { return l.ID == "WL-2" })
}
