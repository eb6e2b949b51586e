// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"

	"towpath/resources"
)

// work adds up makespan, flow and churn.
func (m *measure) work(x *Score) {
	type span struct {
		first, last Tick
		open        bool
	}
	spans := map[string]*span{}
	published := map[Member]*Work{}
	if m.s.Plan != nil {
		for i := range m.s.Plan.Work {
			w := &m.s.Plan.Work[i]
			published[Member{w.Piece, w.Operation}] = w
		}
	}
	for i := range m.p.Work {
		w := &m.p.Work[i]
		x.MakespanSeconds = max(x.MakespanSeconds, Seconds(w.End-m.p.Made))
		z := spans[w.Piece]
		if z == nil {
			z = &span{first: w.Start, last: w.End}
			spans[w.Piece] = z
		}
		z.first, z.last = min(z.first, w.Start), max(z.last, w.End)
		z.open = z.open || w.Status != Done
		if was := published[Member{w.Piece, w.Operation}]; was != nil && w.Status == Planned && m.near(was) &&
			(was.Station != w.Station || was.Start != w.Start) {
			x.Churn++
		}
	}
	for _, z := range spans {
		if z.open {
			x.FlowSeconds += Seconds(z.last - z.first)
		}
	}
}

// near says that somebody on the floor may have prepared for it.
func (m *measure) near(was *Work) bool {
	station := m.stations[was.Station]
	return station != nil && was.Status == Planned && was.Setup < m.p.Made+Tick(NearWindow(freezeOf(m.s.Plant, station)))
}

// loads adds up loads, their fill, and the time batch stations run.
func (m *measure) loads(x *Score) {
	cures := slices.ContainsFunc(m.s.Plant.Stations, func(s resources.Station) bool { return s.Batch != nil && len(s.Recipes) > 0 })
	var fill float64
	for i := range m.p.Loads {
		l := &m.p.Loads[i]
		station := m.stations[l.Station]
		if l.Status == Done || station == nil || station.Batch == nil {
			continue
		}
		x.OvenSeconds += Seconds(l.RunEnd - l.Run)
		if cures && len(station.Recipes) == 0 {
			continue
		}
		x.Loads++
		fill += m.fill(l, station.Batch)
	}
	if x.Loads > 0 {
		x.MeanLoadFill = fill / float64(x.Loads)
	}
}

// fill is how full a load is in its fullest dimension.
func (m *measure) fill(l *Load, batch *resources.Batch) float64 {
	var fullest float64
	for dim, room := range batch.Capacity {
		var size int64
		for _, member := range l.Members {
			if op := m.ops[member]; op != nil {
				size += op.Size[dim]
			}
		}
		if room > 0 {
			fullest = max(fullest, float64(size)/float64(room))
		}
	}
	return fullest
}

// run is one piece or load on a place, for changeovers.
type run struct {
	w  *Work
	op *resources.Operation
}

// changeovers walks along each place. A load counts once, by its first member.
func (m *measure) changeovers(x *Score) {
	first := map[string]Member{}
	for i := range m.p.Loads {
		if l := &m.p.Loads[i]; len(l.Members) > 0 {
			first[l.ID] = l.Members[0]
		}
	}
	var runs []run
	for i := range m.p.Work {
		w := &m.p.Work[i]
		name := Member{w.Piece, w.Operation}
		lead, inLoad := first[w.Load]
		if w.Status != Done && m.ops[name] != nil && (w.Load == "" || !inLoad || lead == name) {
			runs = append(runs, run{w, m.ops[name]})
		}
	}
	slices.SortFunc(runs, func(a, b run) int {
		return cmp.Or(cmp.Compare(a.w.Station, b.w.Station), cmp.Compare(a.w.Place, b.w.Place), cmp.Compare(a.w.Setup, b.w.Setup),
			cmp.Compare(a.w.End, b.w.End), cmp.Compare(a.w.Piece, b.w.Piece), cmp.Compare(a.w.Operation, b.w.Operation))
	})
	for i, r := range runs {
		if r.w.Status != Planned {
			continue
		}
		x.ChangeoverSeconds += Seconds(r.w.Start - r.w.Setup)
		station := m.stations[r.w.Station]
		if station == nil || len(station.Setups) == 0 {
			continue
		}
		var before *resources.Operation
		if i > 0 && runs[i-1].w.Station == r.w.Station && runs[i-1].w.Place == r.w.Place {
			before = runs[i-1].op
		}
		time, cost := station.Changeover(setupBefore(m.s, station, before), r.op.SetupAttributes())
		x.ChangeoverCost += cost
		if time > 0 || cost > 0 {
			x.Changeovers++
		}
	}
}

// resin adds up what will be thrown away.
func (m *measure) resin(x *Score) {
	drawn := map[string]int64{}
	for i := range m.p.Work {
		w := &m.p.Work[i]
		if op := m.ops[Member{w.Piece, w.Operation}]; op != nil && op.Mix != nil && w.Status == Planned {
			drawn[w.Mix] += op.Mix.Grams
		}
	}
	for i := range m.p.Mixes {
		if mix := &m.p.Mixes[i]; mix.Status == Planned && m.s.Mixes[mix.ID] == nil {
			x.DiscardedGrams += max(0, mix.Grams-drawn[mix.ID])
		}
	}
	for id, made := range m.s.Mixes {
		if !made.Discarded {
			x.DiscardedGrams += max(0, made.Grams-made.Drawn-drawn[id])
		}
	}
}
