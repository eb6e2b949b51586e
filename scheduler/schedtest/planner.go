// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Planner writes down a plan that the test's author has thought out: he says
// where and when each piece of work starts, it fills in how long the parts take
// and who serves them (the first crew with the skill). It decides nothing and
// checks nothing. Unknown names panic.
type Planner struct {
	s    *scheduler.State
	plan *scheduler.Plan
}

// NewPlan begins an empty plan made at now.
func NewPlan(s *scheduler.State, now resources.Tick) *Planner {
	return &Planner{s: s, plan: &scheduler.Plan{Version: 1, Made: now, Base: s.Seq}}
}

// Option changes what Put and Load fill in.
type Option func(*scheduler.Work)

// Place puts the work in another place than 1.
func Place(n int) Option { return func(w *scheduler.Work) { w.Place = n } }

// Setup puts a changeover before the start.
func Setup(d resources.Seconds) Option {
	return func(w *scheduler.Work) { w.Setup = w.Start - resources.Tick(d) }
}

// Pause makes the run longer by its pauses.
func Pause(d resources.Seconds) Option {
	return func(w *scheduler.Work) {
		w.RunEnd += resources.Tick(d)
		w.Unload += resources.Tick(d)
		w.End += resources.Tick(d)
	}
}

// Inside lets the work wait inside after its run.
func Inside(d resources.Seconds) Option {
	return func(w *scheduler.Work) {
		w.Unload += resources.Tick(d)
		w.End += resources.Tick(d)
	}
}

// From names the mix resin is drawn from.
func From(mix string) Option { return func(w *scheduler.Work) { w.Mix = mix } }

// Tools names the units taken, in the order of the operation's takes; for a
// load, one unit a member.
func Tools(units ...string) Option { return func(w *scheduler.Work) { w.Tools = units } }

// Put plans one piece at one operation, loading from start on.
func (b *Planner) Put(piece, operation, station string, start resources.Tick, options ...Option) *Planner {
	b.plan.Work = append(b.plan.Work, b.work(station, start, []scheduler.Member{{Piece: piece, Operation: operation}}, options)...)
	return b
}

// Load plans a load of pieces at one operation each.
func (b *Planner) Load(id, station string, start resources.Tick, members []scheduler.Member, options ...Option) *Planner {
	works := b.work(station, start, members, options)
	first := works[0]
	load := scheduler.Load{
		ID: id, Station: station, Members: members,
		Setup: first.Setup, Start: first.Start, Run: first.Run, RunEnd: first.RunEnd, Unload: first.Unload, End: first.End,
	}
	load.Recipe = b.op(members[0]).Recipe
	for i := range works {
		works[i].Load = id
	}
	b.plan.Work = append(b.plan.Work, works...)
	b.plan.Loads = append(b.plan.Loads, load)
	return b
}

// Mix plans a mix; who draws from it is filled in by Plan.
func (b *Planner) Mix(id, resin string, start resources.Tick) *Planner {
	r := b.s.Plant.Resin(resin)
	end := start + resources.Tick(r.Mixing)
	b.plan.Mixes = append(b.plan.Mixes, scheduler.Mix{
		ID: id, Resin: resin, Station: r.Station, Place: 1, Start: start, End: end,
		Expiry: end + resources.Tick(b.s.Plant.MixLife(r, end)), Grams: r.HeelMass, Crew: b.crew(r.Skill),
	})
	return b
}

// Plan is the plan, in its order, with the users and mass of its mixes.
func (b *Planner) Plan() *scheduler.Plan {
	p := b.plan
	slices.SortFunc(p.Work, func(x, y scheduler.Work) int {
		return cmp.Or(cmp.Compare(x.Start, y.Start), cmp.Compare(x.Piece, y.Piece), cmp.Compare(x.Operation, y.Operation))
	})
	for i := range p.Work {
		w := &p.Work[i]
		m := slices.IndexFunc(p.Mixes, func(m scheduler.Mix) bool { return m.ID == w.Mix })
		if m < 0 {
			continue
		}
		name := scheduler.Member{Piece: w.Piece, Operation: w.Operation}
		p.Mixes[m].Users = append(p.Mixes[m].Users, name)
		p.Mixes[m].Grams += b.op(name).Mix.Grams
	}
	return p
}

func (b *Planner) op(m scheduler.Member) *resources.Operation {
	piece := b.s.Pieces[m.Piece]
	if piece == nil {
		panic(fmt.Sprintf("no piece %s", m.Piece))
	}
	return b.s.Plant.Product(piece.Product).Operation(m.Operation)
}

// work lays out one stay on a station, the same times for each member.
func (b *Planner) work(station string, start resources.Tick, members []scheduler.Member, options []Option) []scheduler.Work {
	st := b.s.Plant.Station(station)
	var load, loadEach, run, unload, unloadEach resources.Seconds
	for _, m := range members {
		op := b.op(m)
		load, loadEach = max(load, op.Load), loadEach+op.LoadEach
		run = max(run, b.s.Plant.RunTime(op, st))
		unload, unloadEach = max(unload, op.Unload), unloadEach+op.UnloadEach
	}
	w := scheduler.Work{Station: station, Place: 1, Setup: start, Start: start}
	w.Run = start + resources.Tick(load+loadEach)
	w.RunEnd = w.Run + resources.Tick(run)
	w.Unload = w.RunEnd
	w.End = w.Unload + resources.Tick(unload+unloadEach)
	for _, o := range options {
		o(&w)
	}
	var works []scheduler.Work
	for i, m := range members {
		x := w
		piece := b.s.Pieces[m.Piece]
		x.Order, x.Line, x.Piece, x.Operation = piece.Order, piece.Line, m.Piece, m.Operation
		if len(members) > 1 && len(w.Tools) > 0 {
			x.Tools = w.Tools[i : i+1]
		}
		if i == 0 {
			x.People = b.people(st, &w, members)
		}
		works = append(works, x)
	}
	return works
}

func (b *Planner) people(st *resources.Station, w *scheduler.Work, members []scheduler.Member) []scheduler.PeopleUse {
	var people []scheduler.PeopleUse
	if st.SetupSkill != "" && w.Setup < w.Start {
		people = append(people, scheduler.PeopleUse{Part: resources.PartSetup, Skill: st.SetupSkill, Crew: b.crew(st.SetupSkill), Share: st.SetupShare})
	}
	for _, m := range members {
		for _, n := range b.op(m).Needs {
			i := slices.IndexFunc(people, func(u scheduler.PeopleUse) bool { return u.Part == n.Part && u.Skill == n.Skill })
			if i < 0 {
				people = append(people, scheduler.PeopleUse{Part: n.Part, Skill: n.Skill, Crew: b.crew(n.Skill), Share: n.Share})
			} else {
				people[i].Share = max(people[i].Share, n.Share)
			}
		}
	}
	return people
}

func (b *Planner) crew(skill string) string {
	for i := range b.s.Plant.Crews {
		if b.s.Plant.Crews[i].HasSkill(skill) {
			return b.s.Plant.Crews[i].ID
		}
	}
	return ""
}
