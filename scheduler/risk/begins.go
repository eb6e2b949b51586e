// SPDX-License-Identifier: Apache-2.0

package risk

import "slices"

// opening is what a work begins with: a part that wants people of one skill at
// a station for so long, as stated.
type opening struct {
	station int32
	want
	long Tick
}

// layBegins finds when work that must follow other work in time can begin, by
// way: its station is open, and people for its first part are on shift for as
// long as that takes. Where people may be absent each history has its own such
// times; where more than one skill is wanted they are asked for as they are
// needed.
func (g *Program) layBegins() {
	g.begins = make([]*duty, len(g.ways))
	known := map[opening]*duty{}
	for i := range g.arcs {
		if !g.arcs[i].clocks() {
			continue
		}
		to := &g.acts[g.arcs[i].to]
		for m := to.modeAt; m < to.modeTo; m++ {
			w := &g.ways[m]
			wants := g.wants[w.wants[w.opens]:w.wants[w.opens+1]]
			if len(wants) != 1 || g.begins[m] != nil {
				continue
			}
			o := opening{w.station, want{skill: wants[0].skill, share: wants[0].share}, w.opening()}
			if _, ok := known[o]; !ok {
				known[o] = g.beginsOf(o)
			}
			g.begins[m] = known[o]
		}
	}
}

// beginsOf is when work that begins so can begin; nil: it is not the same in
// all histories.
func (g *Program) beginsOf(o opening) *duty {
	var able []span
	for _, c := range g.able[o.skill] {
		x := &g.crews[c]
		k := slices.IndexFunc(x.duty, func(d duty) bool { return d.share == o.share })
		if k < 0 {
			return nil
		}
		on := make([]span, 0, len(x.duty[k].on))
		for _, s := range x.duty[k].on {
			if last := min(s.end-o.long, s.end-1); last >= s.start {
				on = append(on, span{s.start, last + 1})
			}
		}
		able = either(able, on)
	}
	if st := &g.stations[o.station]; !st.always {
		able = both(able, st.open)
	}
	d := &duty{number: int32(g.duties), on: able}
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

// either is what lies in one or the other of two lists of spans, each in order
// and apart.
func either(a, b []span) []span {
	if len(a) == 0 {
		return b
	}
	out := make([]span, 0, len(a)+len(b))
	for len(a)+len(b) > 0 {
		if len(a) == 0 || len(b) > 0 && b[0].start < a[0].start {
			a, b = b, a
		}
		if last := len(out) - 1; last >= 0 && a[0].start <= out[last].end {
			out[last].end = max(out[last].end, a[0].end)
		} else {
			out = append(out, a[0])
		}
		a = a[1:]
	}
	return out
}

// both is what lies in two lists of spans, each in order and apart.
func both(a, b []span) []span {
	out := make([]span, 0, len(a)+len(b))
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
