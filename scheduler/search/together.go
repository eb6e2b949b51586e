// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/scheduler"
)

// together is a plan of what was looked at again joined with the others as the
// old plan has them.
func (w *window) together(near *scheduler.Plan, others []int32) *scheduler.Plan {
	plan := *near
	stay := make([]*scheduler.Work, len(others))
	for i, a := range others {
		stay[i] = &w.old.Work[w.was[a]]
	}
	plan.Work = merged(near.Work, stay, workOrder)
	var loads []*scheduler.Load
	for i := range w.loads {
		if w.stays(w.loads[i]) {
			loads = append(loads, &w.old.Loads[i])
		}
	}
	plan.Loads = merged(near.Loads, loads, loadOrder)
	plan.Mixes = w.mixed(near.Mixes)
	return &plan
}

// mixed joins the mixes. One that is there already may be drawn from on both
// sides.
func (w *window) mixed(near []scheduler.Mix) []scheduler.Mix {
	at := make(map[string]int, len(near))
	for i := range near {
		at[near[i].ID] = i
	}
	var stay []*scheduler.Mix
	for i := range w.mixes {
		x := &w.old.Mixes[i]
		if !w.made(x) {
			if w.stays(w.mixes[i]) {
				stay = append(stay, x)
			}
			continue
		}
		// It is a fact: only its users can differ.
		var users []scheduler.Member
		for _, a := range w.mixes[i].acts {
			if !w.in[a] {
				users = append(users, scheduler.Member{Piece: w.p.Acts[a].Piece, Operation: w.p.Acts[a].Operation})
			}
		}
		if k, both := at[x.ID]; both {
			near[k].Users = append(near[k].Users, users...)
		} else if len(users) > 0 {
			y := *x
			y.Users = users
			stay = append(stay, &y)
		}
	}
	return merged(near, stay, mixOrder)
}

// merged is two sorted lists in one.
func merged[T any](a []T, b []*T, compare func(x, y *T) int) []T {
	out := make([]T, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if compare(&a[0], b[0]) <= 0 {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, *b[0]), b[1:]
		}
	}
	out = append(out, a...)
	for _, x := range b {
		out = append(out, *x)
	}
	return out
}
