// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Corruption is a good plan with one thing made wrong, and the kind of
// violation that must be found, perhaps among others that follow from it.
type Corruption struct {
	Name string
	Kind scheduler.ViolationKind
	Plan *scheduler.Plan
}

// Corruptions damages a good plan in every way that is wrong in any plant:
// each way at up to each places of the plan, chosen with rng. Ways that a plan
// has no place for are left out.
func Corruptions(s *scheduler.State, now resources.Tick, p *scheduler.Plan, rng *rand.Rand, each int) []Corruption {
	c := &corrupter{s: s, now: now, p: p, rng: rng, each: each}
	c.indexes()
	c.ofWork()
	c.ofTimes()
	c.ofResources()
	c.ofPlaces()
	c.ofWaits()
	c.ofLoads()
	c.ofMixes()
	return c.found
}

type corrupter struct {
	s     *scheduler.State
	now   resources.Tick
	p     *scheduler.Plan
	rng   *rand.Rand
	each  int
	at    map[scheduler.Member]int // into p.Work
	found []Corruption
}

func (c *corrupter) indexes() {
	c.at = map[scheduler.Member]int{}
	for i := range c.p.Work {
		c.at[scheduler.Member{Piece: c.p.Work[i].Piece, Operation: c.p.Work[i].Operation}] = i
	}
}

// sites picks up to each of the n places where fits says that damage is
// possible.
func (c *corrupter) sites(n int, fits func(i int) bool) []int {
	var all []int
	for i := range n {
		if fits(i) {
			all = append(all, i)
		}
	}
	c.rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	return all[:min(len(all), c.each)]
}

func (c *corrupter) add(name string, kind scheduler.ViolationKind, where string, do func(p *scheduler.Plan)) {
	damaged := Clone(c.p)
	do(damaged)
	c.found = append(c.found, Corruption{fmt.Sprintf("%s: %s", name, where), kind, damaged})
}

// work damages single pieces of work that fit.
func (c *corrupter) work(name string, kind scheduler.ViolationKind, fits func(w *scheduler.Work, op *resources.Operation) bool, do func(w *scheduler.Work)) {
	for _, i := range c.sites(len(c.p.Work), func(i int) bool { return fits(&c.p.Work[i], c.op(&c.p.Work[i])) }) {
		w := &c.p.Work[i]
		c.add(name, kind, w.Piece+" at "+w.Operation, func(p *scheduler.Plan) { do(&p.Work[i]) })
	}
}

func (c *corrupter) op(w *scheduler.Work) *resources.Operation {
	return c.s.Plant.Product(c.s.Pieces[w.Piece].Product).Operation(w.Operation)
}

func (c *corrupter) station(w *scheduler.Work) *resources.Station {
	return c.s.Plant.Station(w.Station)
}

func planned(w *scheduler.Work, _ *resources.Operation) bool { return w.Status == scheduler.Planned }

// single is planned work that is in no load.
func single(w *scheduler.Work, _ *resources.Operation) bool {
	return w.Status == scheduler.Planned && w.Load == ""
}

func fact(w *scheduler.Work, _ *resources.Operation) bool { return w.Status != scheduler.Planned }

func (c *corrupter) ofWork() {
	c.work("unknown operation", scheduler.BreaksCoverage, planned, func(w *scheduler.Work) { w.Operation += "?" })
	c.work("unknown piece", scheduler.BreaksCoverage, planned, func(w *scheduler.Work) { w.Piece += "?" })
	c.work("wrong order", scheduler.BreaksIdentity, planned, func(w *scheduler.Work) { w.Order += "?" })
	for _, i := range c.sites(len(c.p.Work), func(i int) bool { return planned(&c.p.Work[i], nil) }) {
		where := c.p.Work[i].Piece + " at " + c.p.Work[i].Operation
		c.add("dropped", scheduler.BreaksCoverage, where, func(p *scheduler.Plan) { p.Work = slices.Delete(p.Work, i, i+1) })
		c.add("there twice", scheduler.BreaksCoverage, where, func(p *scheduler.Plan) { p.Work = append(p.Work, p.Work[i]) })
	}
	c.work("fact moved", scheduler.BreaksFacts, fact, func(w *scheduler.Work) { w.Setup, w.Start = w.Setup-1, w.Start-1 })
	c.work("fact elsewhere", scheduler.BreaksFacts, fact, func(w *scheduler.Work) { w.Station += "?" })
	c.work("fact forgotten", scheduler.BreaksFacts, fact, func(w *scheduler.Work) { w.Status = scheduler.Planned })
	c.work("fact invented", scheduler.BreaksFacts, planned, func(w *scheduler.Work) { w.Status = scheduler.Done })
}

func (c *corrupter) ofTimes() {
	c.work("loads later", scheduler.BreaksLoading, func(w *scheduler.Work, _ *resources.Operation) bool {
		return single(w, nil) && w.Start < w.Run
	}, func(w *scheduler.Work) { w.Start++ })
	c.work("starts before its changeover", scheduler.BreaksTimes, single, func(w *scheduler.Work) { w.Start = w.Setup - 1 })
	c.work("runs a second longer", scheduler.BreaksRun, single, func(w *scheduler.Work) { w.RunEnd, w.Unload, w.End = w.RunEnd+1, w.Unload+1, w.End+1 })
	c.work("runs a second shorter", scheduler.BreaksRun, func(w *scheduler.Work, _ *resources.Operation) bool {
		return single(w, nil) && w.Run < w.RunEnd
	}, func(w *scheduler.Work) { w.RunEnd, w.Unload, w.End = w.RunEnd-1, w.Unload-1, w.End-1 })
	c.work("waits inside", scheduler.BreaksWaitInside, func(w *scheduler.Work, op *resources.Operation) bool {
		return single(w, op) && !op.WaitInside
	}, func(w *scheduler.Work) { w.Unload, w.End = w.Unload+1, w.End+1 })
	c.work("unloads a second longer", scheduler.BreaksUnloading, single, func(w *scheduler.Work) { w.End++ })
	c.work("in the past", scheduler.BreaksNow, single, func(w *scheduler.Work) { moveTo(w, c.now-1) })
	for _, i := range c.sites(len(c.p.Work), func(i int) bool { return single(&c.p.Work[i], nil) && c.closedAt(&c.p.Work[i]) > 0 }) {
		c.add("while closed", scheduler.BreaksOpening, c.p.Work[i].Piece+" at "+c.p.Work[i].Operation, func(p *scheduler.Plan) {
			moveTo(&p.Work[i], c.closedAt(&c.p.Work[i]))
		})
	}
}

// moveTo moves work so that its changeover begins at t.
func moveTo(w *scheduler.Work, t resources.Tick) {
	by := t - w.Setup
	for _, at := range []*resources.Tick{&w.Setup, &w.Start, &w.Run, &w.RunEnd, &w.Unload, &w.End} {
		*at += by
	}
}

// closedAt is an instant soon after now at which the work's station is closed
// for more than a second, 0 if there is none or the work does not care.
func (c *corrupter) closedAt(w *scheduler.Work) resources.Tick {
	st := c.station(w)
	if st.Calendar == "" || st.Unattended || w.Setup == w.Run {
		return 0
	}
	open, err := c.s.Plant.Calendar(st.Calendar).Windows(c.s.Plant.Zone, c.now, c.now+resources.Tick(7*resources.Day))
	if err != nil || len(open) < 2 {
		return 0
	}
	return open[0].End
}

func (c *corrupter) ofResources() {
	c.work("a station nobody has", scheduler.BreaksEligibility, single, func(w *scheduler.Work) { w.Station += "?" })
	c.work("place 0", scheduler.BreaksPlace, single, func(w *scheduler.Work) { w.Place = 0 })
	c.work("place 1000000", scheduler.BreaksPlace, single, func(w *scheduler.Work) { w.Place = 1_000_000 })
	attended := func(w *scheduler.Work, _ *resources.Operation) bool {
		return w.Status == scheduler.Planned && len(w.People) > 0
	}
	c.work("nobody there", scheduler.BreaksNeeds, attended, func(w *scheduler.Work) { w.People = nil })
	c.work("too small a share", scheduler.BreaksNeeds, attended, func(w *scheduler.Work) { w.People[0].Share-- })
	c.work("an unknown crew", scheduler.BreaksSkill, attended, func(w *scheduler.Work) { w.People[0].Crew += "?" })
	tooled := func(w *scheduler.Work, _ *resources.Operation) bool {
		return w.Status == scheduler.Planned && len(w.Tools) > 0
	}
	c.work("no tool", scheduler.BreaksTool, tooled, func(w *scheduler.Work) { w.Tools = nil })
	c.work("an unknown tool", scheduler.BreaksTool, tooled, func(w *scheduler.Work) { w.Tools[0] += "?" })
	for _, i := range c.sites(len(c.p.Work), func(i int) bool { return c.rival(i) >= 0 }) {
		c.add("a tool another has", scheduler.BreaksToolHold, c.p.Work[i].Piece+" at "+c.p.Work[i].Operation, func(p *scheduler.Plan) {
			p.Work[i].Tools[0] = p.Work[c.rival(i)].Tools[0]
		})
	}
}

// rival is other work that takes a tool of the same pool while work i does, -1
// if there is none.
func (c *corrupter) rival(i int) int {
	w := &c.p.Work[i]
	if w.Status != scheduler.Planned || len(w.Tools) == 0 || w.Setup == w.End {
		return -1
	}
	pool := c.s.Plant.ToolOfUnit(w.Tools[0])
	return slices.IndexFunc(c.p.Work, func(x scheduler.Work) bool {
		return len(x.Tools) > 0 && x.Tools[0] != w.Tools[0] && x.Setup <= w.Setup && w.Setup < x.End && c.s.Plant.ToolOfUnit(x.Tools[0]) == pool
	})
}

// ofPlaces moves work onto what runs on the same place before it.
func (c *corrupter) ofPlaces() {
	before := map[string]int{}
	prior := make([]int, len(c.p.Work))
	for i := range c.p.Work { // by start
		w := &c.p.Work[i]
		key := fmt.Sprint(w.Station, "/", w.Place)
		prior[i] = -1
		if j, ok := before[key]; ok {
			prior[i] = j
		}
		if w.Setup < w.End {
			before[key] = i
		}
	}
	fits := func(i int) bool {
		w := &c.p.Work[i]
		return single(w, nil) && prior[i] >= 0 && w.Setup < w.End && c.p.Work[prior[i]].Status == scheduler.Planned
	}
	for _, i := range c.sites(len(c.p.Work), fits) {
		c.add("on top of another", scheduler.BreaksOccupancy, c.p.Work[i].Piece+" at "+c.p.Work[i].Operation, func(p *scheduler.Plan) {
			moveTo(&p.Work[i], p.Work[prior[i]].Setup)
		})
	}
}

// ofWaits breaks links between operations of one piece.
func (c *corrupter) ofWaits() {
	for _, i := range c.sites(len(c.p.Work), func(i int) bool { return single(&c.p.Work[i], nil) && len(c.op(&c.p.Work[i]).After) > 0 }) {
		w := &c.p.Work[i]
		for _, link := range c.op(w).After {
			j, ok := c.at[scheduler.Member{Piece: w.Piece, Operation: link.Operation}]
			if !ok {
				continue
			}
			from := c.p.Work[j].End
			if link.FromStart {
				from = c.p.Work[j].Start
			}
			where := w.Piece + " at " + w.Operation
			changeover := w.Start - w.Setup
			c.add("too early", scheduler.BreaksMinWait, where, func(p *scheduler.Plan) {
				moveTo(&p.Work[i], from+resources.Tick(link.Min)-1-changeover)
			})
			if link.HasMax {
				c.add("too late", scheduler.BreaksMaxWait, where, func(p *scheduler.Plan) {
					moveTo(&p.Work[i], from+resources.Tick(link.Max)+1-changeover)
				})
			}
		}
	}
}

func (c *corrupter) ofLoads() {
	open := func(i int) bool { return c.p.Loads[i].Status == scheduler.Planned }
	for _, i := range c.sites(len(c.p.Loads), open) {
		l := &c.p.Loads[i]
		c.add("a member too few", scheduler.BreaksMembership, l.ID, func(p *scheduler.Plan) { p.Loads[i].Members = p.Loads[i].Members[1:] })
		c.add("a load dropped", scheduler.BreaksMembership, l.ID, func(p *scheduler.Plan) { p.Loads = slices.Delete(p.Loads, i, i+1) })
		c.add("a load at another time", scheduler.BreaksMembership, l.ID, func(p *scheduler.Plan) { p.Loads[i].End++ })
		c.add("a load runs shorter", scheduler.BreaksRun, l.ID, func(p *scheduler.Plan) {
			x := &p.Loads[i]
			x.RunEnd, x.Unload, x.End = x.RunEnd-1, x.Unload-1, x.End-1
			for _, m := range x.Members {
				w := &p.Work[c.at[m]]
				w.RunEnd, w.Unload, w.End = x.RunEnd, x.Unload, x.End
			}
		})
		if c.crowd(i) != nil {
			c.add("an overfull load", scheduler.BreaksCapacity, l.ID, func(p *scheduler.Plan) {
				for _, m := range c.crowd(i) {
					w, x := &p.Work[c.at[m]], &p.Loads[i]
					w.Load, w.Station, w.People = x.ID, x.Station, nil
					w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End = x.Setup, x.Start, x.Run, x.RunEnd, x.Unload, x.End
					x.Members = append(x.Members, m)
				}
			})
		}
	}
}

// crowd is members of other planned loads that do not fit into load i any
// more; nil when even all of them would.
func (c *corrupter) crowd(i int) []scheduler.Member {
	batch := c.s.Plant.Station(c.p.Loads[i].Station).Batch
	total := map[string]int64{}
	full := func(m scheduler.Member) bool {
		over := false
		for dim, size := range c.op(&c.p.Work[c.at[m]]).Size {
			total[dim] += size
			room, limited := batch.Capacity[dim]
			over = over || limited && total[dim] > room
		}
		return over
	}
	for _, m := range c.p.Loads[i].Members {
		full(m)
	}
	var crowd []scheduler.Member
	for j := range c.p.Loads {
		if j == i || c.p.Loads[j].Status != scheduler.Planned || c.p.Loads[j].Station != c.p.Loads[i].Station {
			continue
		}
		for _, m := range c.p.Loads[j].Members {
			crowd = append(crowd, m)
			if full(m) {
				return crowd
			}
		}
	}
	return nil
}

func (c *corrupter) ofMixes() {
	wet := func(w *scheduler.Work, _ *resources.Operation) bool {
		return w.Status == scheduler.Planned && w.Mix != ""
	}
	c.work("no mix", scheduler.BreaksMixUsers, wet, func(w *scheduler.Work) { w.Mix = "" })
	c.work("an unknown mix", scheduler.BreaksMixUsers, wet, func(w *scheduler.Work) { w.Mix += "?" })
	for _, i := range c.sites(len(c.p.Mixes), func(i int) bool { return c.p.Mixes[i].Status == scheduler.Planned }) {
		id := c.p.Mixes[i].ID
		c.add("another mass", scheduler.BreaksMixMass, id, func(p *scheduler.Plan) { p.Mixes[i].Grams++ })
		c.add("lives longer", scheduler.BreaksMixLife, id, func(p *scheduler.Plan) { p.Mixes[i].Expiry++ })
		c.add("mixed faster", scheduler.BreaksMix, id, func(p *scheduler.Plan) { p.Mixes[i].Start++ })
		c.add("a user too few", scheduler.BreaksMixUsers, id, func(p *scheduler.Plan) { p.Mixes[i].Users = p.Mixes[i].Users[1:] })
		c.add("a mix dropped", scheduler.BreaksMixUsers, id, func(p *scheduler.Plan) { p.Mixes = slices.Delete(p.Mixes, i, i+1) })
	}
}
