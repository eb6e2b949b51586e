// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
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
	plan.Work = e.works()
	plan.Breaches = e.breaches()
	return plan
}

// works lists all operations in order. Only numbers are sorted: the rows are
// large.
func (e *emitter) works() []scheduler.Work {
	p := e.d.m.p
	type row struct {
		start Tick
		n     int // an activity, or, beyond those, a piece of the past
	}
	rows := make([]row, 0, len(p.Acts)+len(p.Past))
	for a := range p.Acts {
		rows = append(rows, row{e.d.b.at[a].start, a})
	}
	for i := range p.Past {
		rows = append(rows, row{p.Past[i].Start, len(p.Acts) + i})
	}
	who := func(n int) (piece, operation string) {
		if n < len(p.Acts) {
			return p.Acts[n].Piece, p.Acts[n].Operation
		}
		w := &p.Past[n-len(p.Acts)]
		return w.Piece, w.Operation
	}
	slices.SortFunc(rows, func(a, b row) int {
		if a.start != b.start {
			return cmp.Compare(a.start, b.start)
		}
		piece, operation := who(a.n)
		otherPiece, otherOperation := who(b.n)
		return cmp.Or(cmp.Compare(piece, otherPiece), cmp.Compare(operation, otherOperation))
	})
	works := make([]scheduler.Work, len(rows))
	for i, r := range rows {
		if r.n < len(p.Acts) {
			works[i] = e.work(int32(r.n))
		} else {
			works[i] = p.Past[r.n-len(p.Acts)]
		}
	}
	return works
}

type emitter struct {
	d      *decoder
	used   map[string]bool
	loadOf map[*node]string
	mixID  map[[2]int32]string
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

func (e *emitter) work(a int32) scheduler.Work {
	p := e.d.m.p
	act, t := &p.Acts[a], &e.d.b.at[a]
	o := &t.node.options[t.option]
	line := &p.Lines[act.Line]
	w := scheduler.Work{
		Order: p.Orders[line.Order].ID, Line: line.ID, Piece: act.Piece, Operation: act.Operation,
		Station: p.Stations[o.station].ID, Place: int(t.place) + 1,
		Setup: t.setup, Start: t.start, Run: t.run, RunEnd: t.runEnd, Unload: t.unload, End: t.end,
		Load: e.loadOf[t.node], Status: e.status(a),
	}
	if act.Fixed != nil {
		w.Mix, w.Tools = act.Fixed.Mix, act.Fixed.Tools
	} else {
		if t.mix >= 0 && act.Resin >= 0 {
			w.Mix = e.mixID[[2]int32{act.Resin, t.mix}]
		}
		for _, h := range act.Holds {
			w.Tools = append(w.Tools, p.Pools[p.Holds[h].Pool].Units[e.d.b.unitOf[h]])
		}
	}
	if t.node.acts[0] == a {
		w.People = e.people(t, o)
	}
	return w
}

func (e *emitter) people(t *placed, o *option) []scheduler.PeopleUse {
	p := e.d.m.p
	var out []scheduler.PeopleUse
	use := func(part resources.Part, skill, crew int32, share int64) {
		if crew >= 0 {
			out = append(out, scheduler.PeopleUse{Part: part, Skill: p.Skills[skill].Name, Crew: p.Crews[crew].ID, Share: share})
		}
	}
	if st := &p.Stations[o.station]; t.crew[0] >= 0 && t.setup < t.start {
		use(resources.PartSetup, st.SetupSkill, t.crew[0], st.SetupShare)
	}
	k := 1
	for part := resources.PartLoad; part < resources.NumParts; part++ {
		for _, nd := range o.needs[part] {
			if from, to := t.part(part); from < to {
				use(part, nd.skill, t.crew[k], nd.share)
			}
			k++
		}
	}
	return out
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
