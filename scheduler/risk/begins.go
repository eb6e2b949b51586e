// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"cmp"
	"math"
	"slices"
)

// layBegins finds when work that must follow other work in time can begin, by
// way: its station is open, and people for its first part are on shift for as
// long as that is stated to take. Where people may be absent each history has
// its own such times.
func (g *Program) layBegins() {
	g.begins = make([]*duty, len(g.ways))
	for i := range g.arcs {
		if !g.arcs[i].hasMax {
			continue
		}
		to := &g.acts[g.arcs[i].to]
		for m := to.modeAt; m < to.modeTo; m++ {
			if g.begins[m] == nil {
				g.begins[m] = g.beginsOf(&g.ways[m])
			}
		}
	}
}

// beginsOf is when work by a way can begin; nil: it is not the same in all
// histories.
func (g *Program) beginsOf(w *way) *duty {
	times := []span{{-never, math.MaxInt64}}
	if st := &g.stations[w.station]; !st.always {
		times = st.open
	}
	long := w.opening()
	for _, want := range g.wants[w.wants[w.opens]:w.wants[w.opens+1]] {
		var able []span
		for _, c := range g.able[want.skill] {
			x := &g.crews[c]
			k := slices.IndexFunc(x.duty, func(d duty) bool { return d.share == want.share })
			if k < 0 {
				return nil
			}
			for _, on := range x.duty[k].on {
				if last := min(on.end-long, on.end-1); last >= on.start {
					able = append(able, span{on.start, last + 1})
				}
			}
		}
		times = both(times, either(able))
	}
	d := &duty{number: int32(g.duties), on: times}
	g.duties++
	return d
}

// opening is how long the part that a way begins with is stated to take.
func (w *way) opening() Tick {
	if w.opens == phaseLoad {
		return Tick(w.load + w.loadEach)
	}
	return Tick(w.run)
}

// either is what lies in any of some spans, in order and apart.
func either(list []span) []span {
	slices.SortFunc(list, func(a, b span) int { return cmp.Compare(a.start, b.start) })
	var out []span
	for _, s := range list {
		if last := len(out) - 1; last >= 0 && s.start <= out[last].end {
			out[last].end = max(out[last].end, s.end)
		} else {
			out = append(out, s)
		}
	}
	return out
}

// both is what lies in two lists of spans, each in order and apart.
func both(a, b []span) []span {
	var out []span
	for len(a) > 0 && len(b) > 0 {
		if s := (span{max(a[0].start, b[0].start), min(a[0].end, b[0].end)}); s.start < s.end {
			out = append(out, s)
		}
		if a[0].end < b[0].end {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
	return out
}
