// SPDX-License-Identifier: Apache-2.0

package search

import (
	"errors"
	"slices"

	"towpath/scheduler"
)

// How much is tried to find what cannot hold together. Beyond that the error
// names only what the piece asks for.
const (
	alone  = 60  // activities of a piece and its kin
	crowd  = 300 // activities of a whole problem
	lifted = 40  // limits lifted one after the other
)

// conflict finds what cannot hold together where an activity could not be
// placed: first the fewest activities that cannot be planned even in an empty
// shop, then, one limit lifted after the other, the limits that matter (the
// deletion filter of Chinneck and Dravnieks 1991, ORSA Journal on Computing 3,
// from memory). Lifting any one of them would help.
func conflict(p *scheduler.Problem, f failure) *scheduler.Infeasible {
	x := f.infeasible(p)
	core := f.core(p)
	switch {
	case core == nil && f.told:
		return x
	case core == nil:
		// In an empty shop it can be done: the others are in its way.
		x.Together = texts(limits(p, []int32{f.act}))
		if len(p.Acts) <= crowd {
			x.Together = texts(narrow(p, limits(p, of(p, f.act))))
		}
		return x
	}
	q := restrict(p, core)
	x.Together = texts(narrow(q, limits(q, everyone(q))))
	x.Reason, x.Proven = "these cannot hold together", f.sure || len(core) == 1
	if f.sure {
		x.Reason += ", proven"
	}
	if len(x.Together) == 1 {
		x.Reason = "it cannot be done, whatever else is planned"
	}
	wait := slices.ContainsFunc(x.Together, func(l scheduler.Limit) bool { return l.Kind == scheduler.LimitWait })
	if wait || !slices.Contains(core, f.act) {
		x.Piece, x.Operation, x.Stations = where(p, core[len(core)-1]) // the one that comes too late
	}
	return x
}

// everyone is every activity.
func everyone(p *scheduler.Problem) []int32 {
	all := make([]int32, len(p.Acts))
	for i := range all {
		all[i] = int32(i)
	}
	return all
}

// core is the least set of activities around the failed one that cannot be
// planned in an empty shop; nil when there is none.
func (f failure) core(p *scheduler.Problem) []int32 {
	for _, acts := range [][]int32{{f.act}, of(p, f.act), kin(p, f.act)} {
		if len(acts) > alone {
			return nil
		}
		if feasible(restrict(p, acts)) {
			continue
		}
		for i := 0; i < len(acts) && len(acts) > 1; {
			less := slices.Delete(slices.Clone(acts), i, i+1)
			if feasible(restrict(p, less)) {
				i++
			} else {
				acts = less
			}
		}
		return acts
	}
	return nil
}

// of is every activity of the piece.
func of(p *scheduler.Problem, act int32) []int32 {
	var out []int32
	for a := range p.Acts {
		if p.Acts[a].PieceIx == p.Acts[act].PieceIx {
			out = append(out, int32(a))
		}
	}
	return out
}

// kin is every activity that waits, tools or settled loads join to this one,
// directly or by way of others; cut short when they are too many.
func kin(p *scheduler.Problem, act int32) []int32 {
	seen := map[int32]bool{act: true}
	out := []int32{act}
	add := func(a int32) {
		if a >= 0 && !seen[a] {
			seen[a] = true
			out = append(out, a)
		}
	}
	for i := 0; i < len(out) && len(out) <= alone; i++ {
		a := out[i]
		for _, j := range p.In[p.InAt[a]:p.InAt[a+1]] {
			add(p.Arcs[j].From)
		}
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			add(p.Arcs[j].To)
		}
		for _, h := range p.Acts[a].Holds {
			add(p.Holds[h].Give)
		}
		for _, h := range p.Acts[a].Gives {
			add(p.Holds[h].Take)
		}
		if load := p.Acts[a].Load; load >= 0 {
			for _, m := range p.Loads[load].Members {
				add(m)
			}
		}
	}
	slices.Sort(out)
	return out
}

// feasible tells whether a plan of a small problem is found: surely, where the
// exact method applies; else by some rules, which miss little when nobody else
// is in the way.
func feasible(p *scheduler.Problem) bool {
	d, err := newDecoder(p)
	if err != nil {
		return false
	}
	switch said, _, _ := prove(d.m); said {
	case impossible:
		return false
	case proven:
		return true
	}
	for _, r := range []Rule{LatestStart, DueDate, LongestTail} {
		g, err := d.byRule(r, groupings[0])
		if err == nil && d.decode(g) {
			return true
		}
	}
	return false
}

// narrow lifts limits one after the other, those that people mind least first,
// and keeps the ones without which a plan is found. Limits that would not help
// even together are all kept.
func narrow(p *scheduler.Problem, all []limit) []limit {
	whole := everyone(p)
	without := func(skip []bool) bool {
		q := restrict(p, whole)
		for i := range all {
			if skip[i] && all[i].lift != nil {
				all[i].lift(q)
			}
		}
		return feasible(q)
	}
	skip := make([]bool, len(all))
	for i := range all {
		skip[i] = true
	}
	if len(all) > lifted || !without(skip) {
		return all
	}
	clear(skip)
	for i := range all {
		if all[i].lift == nil {
			continue
		}
		skip[i] = true
		if without(skip) {
			skip[i] = false // it matters
		}
	}
	var kept []limit
	for i := range all {
		if !skip[i] {
			kept = append(kept, all[i])
		}
	}
	return kept
}

// texts gives the limits as people mind them, most first; how long work takes
// comes last, and only where something is about time.
func texts(list []limit) []scheduler.Limit {
	out, work := []scheduler.Limit{}, []scheduler.Limit{}
	timed := !slices.ContainsFunc(list, func(l limit) bool { return l.Kind != scheduler.LimitWork })
	for i := len(list) - 1; i >= 0; i-- {
		timed = timed || list[i].timed
		if list[i].Kind != scheduler.LimitWork {
			out = append(out, list[i].Limit)
		}
	}
	for i := range list {
		if timed && list[i].Kind == scheduler.LimitWork {
			work = append(work, list[i].Limit)
		}
	}
	return append(out, work...)
}

// explained makes a failure an error for others: with what cannot hold together
// where the failure does not say so itself.
func explained(p *scheduler.Problem, err error) error {
	var f failure
	if !errors.As(err, &f) {
		return err
	}
	return conflict(p, f)
}

// Error is the reason alone.
func (f failure) Error() string { return f.reason }

// infeasible says where it failed, and why as far as it knows.
func (f failure) infeasible(p *scheduler.Problem) *scheduler.Infeasible {
	x := &scheduler.Infeasible{Reason: f.reason, Proven: f.sure, Together: []scheduler.Limit{}}
	if f.sure {
		x.Reason += "; whatever comes first, the waits and the capacities cannot all be kept"
	}
	x.Piece, x.Operation, x.Stations = where(p, f.act)
	return x
}

// err is the failure as an error for others, without looking further.
func (f failure) err(p *scheduler.Problem) error { return f.infeasible(p) }

func where(p *scheduler.Problem, act int32) (piece, operation string, stations []string) {
	a := &p.Acts[act]
	for k := a.ModeAt; k < a.ModeTo; k++ {
		stations = append(stations, p.Stations[p.Modes[k].Station].ID)
	}
	return a.Piece, a.Operation, stations
}
