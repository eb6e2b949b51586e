// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// works lists all operations in order.
func (e *emitter) works(plan *scheduler.Plan) {
	p := e.d.m.p
	start := make([]Tick, len(p.Acts)+len(p.Past))
	for a := range p.Acts {
		start[a] = e.d.b.at[a].start
	}
	for i := range p.Past {
		start[len(p.Acts)+i] = p.Past[i].Start
	}
	// An activity, or, beyond those, a piece of the past.
	who := func(n int32) (piece, operation string) {
		if int(n) < len(p.Acts) {
			return p.Acts[n].Piece, p.Acts[n].Operation
		}
		w := &p.Past[int(n)-len(p.Acts)]
		return w.Piece, w.Operation
	}
	order := inOrder(start)
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && start[order[to]] == start[order[from]] {
			to++
		}
		slices.SortFunc(order[from:to], func(a, b int32) int {
			piece, operation := who(a)
			otherPiece, otherOperation := who(b)
			return cmp.Or(cmp.Compare(piece, otherPiece), cmp.Compare(operation, otherOperation))
		})
		from = to
	}
	// Written as the activities come: to read them in turn is faster than to write in turn.
	works, row := make([]scheduler.Work, len(order)), make([]int32, len(order))
	for i, n := range order {
		row[n] = int32(i)
	}
	for a := range p.Acts {
		e.work(&works[row[a]], int32(a))
	}
	for i := range p.Past {
		works[row[len(p.Acts)+i]] = p.Past[i]
		order[row[len(p.Acts)+i]] = -1
	}
	plan.Work = works
	if names := e.d.m.named; names != nil {
		names.plan, names.acts = plan, order
	}
}

// digit is how many bits of an instant inOrder looks at at once.
const digit = 11

// inOrder numbers instants in their order, equal ones as they come. It sorts digit by
// digit, the lowest first: there are many, and they are whole numbers.
func inOrder(list []Tick) []int32 {
	order, next := make([]int32, len(list)), make([]int32, len(list))
	for i := range order {
		order[i] = int32(i)
	}
	if len(list) == 0 {
		return order
	}
	low, high := slices.Min(list), slices.Max(list)
	for shift := 0; (high-low)>>shift > 0; shift += digit {
		var at [1 << digit]int32
		of := func(t Tick) int { return int((t-low)>>shift) & (len(at) - 1) }
		for _, t := range list {
			at[of(t)]++
		}
		sum := int32(0)
		for d, count := range at {
			at[d] = sum
			sum += count
		}
		for _, i := range order {
			d := of(list[i])
			next[at[d]] = i
			at[d]++
		}
		order, next = next, order
	}
	return order
}

// work writes an activity as it is on the board.
func (e *emitter) work(w *scheduler.Work, a int32) {
	p := e.d.m.p
	act, t := &p.Acts[a], &e.d.b.at[a]
	o := &t.node.options[t.option]
	line := &p.Lines[act.Line]
	*w = scheduler.Work{
		Order: p.Orders[line.Order].ID, Line: line.ID, Piece: act.Piece, Operation: act.Operation,
		Station: p.Stations[o.station].ID, Place: int(t.place) + 1,
		Setup: t.setup, Start: t.start, Run: t.run, RunEnd: t.runEnd, Unload: t.unload, End: t.end,
		Status: e.status(a),
	}
	if o.batch {
		w.Load = e.loadOf[t.node]
	}
	if act.Fixed != nil {
		w.Mix, w.Tools = act.Fixed.Mix, act.Fixed.Tools
	} else {
		if t.mix >= 0 && act.Resin >= 0 {
			w.Mix = e.mixID[[2]int32{act.Resin, t.mix}]
		}
		w.Tools = e.tools.take(len(act.Holds))
		for i, h := range act.Holds {
			w.Tools[i] = p.Pools[p.Holds[h].Pool].Units[e.d.b.unitOf[h]]
		}
	}
	if t.node.acts[0] == a {
		w.People = e.peopleOf(t, o)
	}
}

func (e *emitter) peopleOf(t *placed, o *option) []scheduler.PeopleUse {
	p := e.d.m.p
	e.uses = e.uses[:0]
	use := func(part resources.Part, skill, crew int32, share int64) {
		if crew >= 0 {
			e.uses = append(e.uses, scheduler.PeopleUse{Part: part, Skill: p.Skills[skill].Name, Crew: p.Crews[crew].ID, Share: share})
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
	out := e.people.take(len(e.uses))
	copy(out, e.uses)
	return out
}

// chunks hands out short lists cut from pieces of memory: large enough to be few, small
// enough that a list which outlives the others keeps little.
type chunks[T any] struct{ rest []T }

// take is a list of so many zero values; none for none.
func (c *chunks[T]) take(count int) []T {
	if count == 0 {
		return nil
	}
	if len(c.rest) < count {
		c.rest = make([]T, max(count, 64))
	}
	list := c.rest[:count:count]
	c.rest = c.rest[count:]
	return list
}
