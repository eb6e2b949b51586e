// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/scheduler"
)

// emit writes the solution on the board as a plan.
func (d *decoder) emit() *scheduler.Plan {
	p := d.m.p
	e := &emitter{d: d, used: map[string]bool{}, loadOf: map[*node]string{}, mixID: map[[2]int32]string{}}
	for _, id := range p.Used {
		e.used[id] = true
	}
	for i := range p.Mixes {
		e.used[p.Mixes[i].ID] = true
	}
	plan := &scheduler.Plan{Version: p.Version, Made: p.Now, Base: p.Base}
	e.mixes(plan)
	e.loads(plan)
	e.works(plan)
	plan.Breaches = e.breaches()
	return plan
}

type emitter struct {
	d      *decoder
	used   map[string]bool
	loadOf map[*node]string
	mixID  map[[2]int32]string
	uses   []scheduler.PeopleUse // working space
	people chunks[scheduler.PeopleUse]
	tools  chunks[string]
}

func (e *emitter) member(a int32) scheduler.Member {
	act := &e.d.m.p.Acts[a]
	return scheduler.Member{Piece: act.Piece, Operation: act.Operation}
}

// name makes an identity that stays the same from plan to plan as long as its
// first member does.
func (e *emitter) name(prefix string, first scheduler.Member) string {
	id := named(prefix, first, func(id string) bool { return e.used[id] })
	e.used[id] = true
	return id
}

// named is a name for a load or a mix, after the first of its members, that is
// not taken.
func named(prefix string, first scheduler.Member, taken func(id string) bool) string {
	id := prefix + "-" + first.Piece
	if taken(id) {
		id += "-" + first.Operation
	}
	for base, n := id, 2; taken(id); n++ {
		id = fmt.Sprintf("%s-%d", base, n)
	}
	return id
}

// The orders in which a plan lists its work, its loads and its mixes.

func workOrder(a, b *scheduler.Work) int {
	return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Piece, b.Piece), cmp.Compare(a.Operation, b.Operation))
}

func loadOrder(a, b *scheduler.Load) int {
	return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.ID, b.ID))
}

func mixOrder(a, b *scheduler.Mix) int {
	return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.ID, b.ID))
}

func (e *emitter) status(a int32) scheduler.Status {
	switch f := e.d.m.p.Acts[a].Fixed; {
	case f == nil:
		return scheduler.Planned
	case f.Paused:
		return scheduler.Paused
	}
	return scheduler.Started
}

func (e *emitter) loads(plan *scheduler.Plan) {
	p := e.d.m.p
	for i := range p.Loads {
		e.used[p.Loads[i].ID] = true
	}
	for a := range p.Acts {
		t := &e.d.b.at[a]
		n := t.node
		o := &n.options[t.option]
		if n.acts[0] != int32(a) || !o.batch {
			continue
		}
		station := p.Stations[o.station].ID
		load := scheduler.Load{
			Station: station,
			Setup:   t.setup, Start: t.start, Run: t.run, RunEnd: t.runEnd, Unload: t.unload, End: t.end,
			Status: e.status(int32(a)),
		}
		if n.load >= 0 {
			load.ID = p.Loads[n.load].ID
		} else {
			load.ID = e.name(station, e.member(int32(a)))
		}
		for _, other := range n.acts {
			load.Members = append(load.Members, e.member(other))
		}
		load.Recipe = p.Acts[a].Recipe
		e.loadOf[n] = load.ID
		plan.Loads = append(plan.Loads, load)
	}
	slices.SortFunc(plan.Loads, func(a, b scheduler.Load) int { return loadOrder(&a, &b) })
}

// mixes lists the mixes to be made, and those that are there and drawn from.
func (e *emitter) mixes(plan *scheduler.Plan) {
	p := e.d.m.p
	users := map[[2]int32][]int32{}
	for a := range p.Acts {
		if t := &e.d.b.at[a]; t.mix >= 0 && p.Acts[a].Resin >= 0 {
			k := [2]int32{p.Acts[a].Resin, t.mix}
			users[k] = append(users[k], int32(a))
		}
	}
	for r := range e.d.b.mixes {
		resin := &p.Resins[r]
		for i := range e.d.b.mixes[r] {
			x := &e.d.b.mixes[r][i]
			k := [2]int32{int32(r), int32(i)}
			list := users[k]
			if len(list) == 0 {
				continue
			}
			first := list[0]
			for _, a := range list {
				if e.d.b.at[a].start < e.d.b.at[first].start {
					first = a
				}
			}
			out := scheduler.Mix{
				Resin: resin.ID, Place: int(x.place) + 1, Start: x.start, End: x.end, Expiry: x.expiry,
				Grams: x.grams + resin.Heel,
			}
			if resin.Station >= 0 {
				out.Station = p.Stations[resin.Station].ID
			}
			if x.crew >= 0 {
				out.Crew = p.Crews[x.crew].ID
			}
			for _, a := range list {
				out.Users = append(out.Users, e.member(a))
			}
			if x.fact >= 0 {
				out.ID = p.Mixes[x.fact].ID
				if !p.Mixes[x.fact].Hand {
					out.Status = scheduler.Done
				}
			} else {
				out.ID = e.name("MX-"+resin.ID, e.member(first))
			}
			e.mixID[k] = out.ID
			plan.Mixes = append(plan.Mixes, out)
		}
	}
	slices.SortFunc(plan.Mixes, func(a, b scheduler.Mix) int { return mixOrder(&a, &b) })
}

// breaches lists the maximum waits after work that has begun or is done which
// can no longer be kept, one for each pair of operations: the worst.
func (e *emitter) breaches() []scheduler.Breach {
	p := e.d.m.p
	var out []scheduler.Breach
	at := map[[2]scheduler.Member]int{}
	add := func(from scheduler.Member, to int32, by Tick) {
		if by <= 0 {
			return
		}
		pair := [2]scheduler.Member{from, e.member(to)}
		i, known := at[pair]
		if !known {
			i = len(out)
			at[pair] = i
			out = append(out, scheduler.Breach{From: pair[0], To: pair[1]})
		}
		out[i].By = max(out[i].By, Seconds(by))
	}
	for i := range p.Arcs {
		arc := &p.Arcs[i]
		if from := &e.d.b.at[arc.From]; arc.HasMax && p.Acts[arc.From].Fixed != nil {
			add(e.member(arc.From), arc.To, e.d.b.at[arc.To].start-anchor(arc, from)-Tick(arc.Max))
		}
	}
	for a := range p.Acts {
		for _, w := range p.Acts[a].After {
			add(w.From, int32(a), e.d.b.at[a].start-w.By)
		}
	}
	return out
}
