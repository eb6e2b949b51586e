// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// restrict is the problem of some of the activities alone, in their order. What
// ties them to others is gone, so whatever is impossible in it is impossible.
// Everything a limit of it may be lifted in is a copy.
func restrict(p *scheduler.Problem, acts []int32) *scheduler.Problem {
	q := *p
	x := restriction{from: p, to: &q, act: make([]int32, len(p.Acts))}
	for i := range x.act {
		x.act[i] = -1
	}
	q.Acts, q.Modes, q.Needs = nil, nil, nil
	for i, a := range acts {
		x.act[a] = int32(i)
		x.add(a)
	}
	q.Stations, q.Skills, q.Resins = slices.Clone(p.Stations), slices.Clone(p.Skills), slices.Clone(p.Resins)
	q.Pools, q.Stocks = slices.Clone(p.Pools), slices.Clone(p.Stocks)
	q.Lines = slices.Clone(p.Lines)
	for i := range q.Lines {
		q.Lines[i].Acts = x.these(p.Lines[i].Acts)
	}
	x.arcs()
	x.holds()
	x.loads()
	return &q
}

type restriction struct {
	from, to *scheduler.Problem
	act      []int32 // new number by old, -1: left out
}

// add copies an activity with modes and needs of its own.
func (x *restriction) add(a int32) {
	p, q := x.from, x.to
	act := p.Acts[a]
	shift := int32(len(q.Modes)) - act.ModeAt
	for k := act.ModeAt; k < act.ModeTo; k++ {
		md := p.Modes[k]
		at := int32(len(q.Needs))
		q.Needs = append(q.Needs, p.Needs[md.NeedAt:md.NeedTo]...)
		md.NeedAt, md.NeedTo = at, int32(len(q.Needs))
		q.Modes = append(q.Modes, md)
	}
	act.ModeAt, act.ModeTo = act.ModeAt+shift, act.ModeTo+shift
	if act.Was != nil {
		was := *act.Was
		was.Mode += shift
		act.Was = &was
	}
	if act.Fixed != nil {
		fixed := *act.Fixed
		fixed.Mode += shift
		act.Fixed = &fixed
	}
	act.Holds, act.Gives = nil, nil
	q.Acts = append(q.Acts, act)
}

// these are the new numbers of those that are left.
func (x *restriction) these(acts []int32) []int32 {
	var out []int32
	for _, a := range acts {
		if x.act[a] >= 0 {
			out = append(out, x.act[a])
		}
	}
	return out
}

func (x *restriction) arcs() {
	q := x.to
	q.Arcs = nil
	n := len(q.Acts)
	in, out := make([][]int32, n), make([][]int32, n)
	for _, arc := range x.from.Arcs {
		from, to := x.act[arc.From], x.act[arc.To]
		if from < 0 || to < 0 {
			continue
		}
		arc.From, arc.To = from, to
		in[to], out[from] = append(in[to], int32(len(q.Arcs))), append(out[from], int32(len(q.Arcs)))
		q.Arcs = append(q.Arcs, arc)
	}
	q.InAt, q.In = rows(in)
	q.OutAt, q.Out = rows(out)
}

func rows(lists [][]int32) (at, list []int32) {
	at = make([]int32, 1, len(lists)+1)
	for _, l := range lists {
		list = append(list, l...)
		at = append(at, int32(len(list)))
	}
	return at, list
}

// holds keeps those whose ends are both left.
func (x *restriction) holds() {
	q := x.to
	q.Holds = nil
	for _, h := range x.from.Holds {
		give := x.act[h.Give]
		if give < 0 || h.Take >= 0 && x.act[h.Take] < 0 {
			continue
		}
		n := int32(len(q.Holds))
		if h.Take >= 0 {
			h.Take = x.act[h.Take]
			q.Acts[h.Take].Holds = append(q.Acts[h.Take].Holds, n)
		}
		h.Give = give
		q.Acts[give].Gives = append(q.Acts[give].Gives, n)
		q.Holds = append(q.Holds, h)
	}
}

func (x *restriction) loads() {
	q := x.to
	q.Loads = nil
	for i := range x.from.Loads {
		load := x.from.Loads[i]
		if load.Members = x.these(load.Members); len(load.Members) == 0 {
			continue
		}
		for _, a := range load.Members {
			q.Acts[a].Load = int32(len(q.Loads))
		}
		q.Loads = append(q.Loads, load)
	}
}
