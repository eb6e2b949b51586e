// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"fmt"
	"math"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// evidence is what a finite plan shows about how the shop works: figures that
// no routing states.
type evidence struct {
	fill   map[string]float64 // by batch station: how full a load can be
	grams  map[string]float64 // by resin: what one mix can serve
	rounds map[string]float64 // by station: how often a week comes back to one set-up
}

// reachable is the share of a plan's loads (and mixes) that are at most as full
// as what is taken for reachable: four in five.
const reachable = 0.8

// fewest is how many loads or mixes must be there to judge by.
const fewest = 5

func evidenceOf(plant *resources.Plant, s *scheduler.State, plan *scheduler.Plan) evidence {
	e := evidence{fill: map[string]float64{}, grams: map[string]float64{}, rounds: map[string]float64{}}
	if plan == nil {
		return e
	}
	ops := operations(plant, s)
	fills := map[string][]float64{}
	for i := range plan.Loads {
		l := &plan.Loads[i]
		st := plant.Station(l.Station)
		if st == nil || st.Batch == nil {
			continue
		}
		fills[l.Station] = append(fills[l.Station], fillOf(l, st.Batch, ops))
	}
	for id, list := range fills {
		if len(list) >= fewest {
			e.fill[id] = quantile(list)
		}
	}
	e.mixes(plan, ops)
	e.turns(plant, plan, ops)
	return e
}

func (e *evidence) mixes(plan *scheduler.Plan, ops func(piece, operation string) *resources.Operation) {
	drawn := map[string]float64{}
	for i := range plan.Work {
		w := &plan.Work[i]
		if op := ops(w.Piece, w.Operation); w.Mix != "" && op != nil && op.Mix != nil {
			drawn[w.Mix] += float64(op.Mix.Grams)
		}
	}
	grams := map[string][]float64{}
	for i := range plan.Mixes {
		if m := &plan.Mixes[i]; drawn[m.ID] > 0 {
			grams[m.Resin] = append(grams[m.Resin], drawn[m.ID])
		}
	}
	for id, list := range grams {
		if len(list) >= fewest {
			e.grams[id] = quantile(list)
		}
	}
}

// turns counts the changeovers of each station against the set-ups it has in
// each week.
func (e *evidence) turns(plant *resources.Plant, plan *scheduler.Plan, ops func(piece, operation string) *resources.Operation) {
	changes, pairs := map[string]float64{}, map[string]map[string]bool{}
	counted := map[string]bool{}
	for i := range plan.Work {
		w := &plan.Work[i]
		op := ops(w.Piece, w.Operation)
		if op == nil || w.Load != "" && counted[w.Load] {
			continue
		}
		counted[w.Load] = true
		if w.Start > w.Setup {
			changes[w.Station]++
		}
		if pairs[w.Station] == nil {
			pairs[w.Station] = map[string]bool{}
		}
		pairs[w.Station][fmt.Sprint(resources.WeekOf(plant.Zone, w.Start), op.SetupAttributes())] = true
	}
	for id, n := range changes {
		e.rounds[id] = max(1, n/float64(len(pairs[id])))
	}
}

// quantile is the value that reachable of a list does not pass.
func quantile(list []float64) float64 {
	slices.Sort(list)
	return list[max(0, int(math.Ceil(reachable*float64(len(list))))-1)]
}

// fillOf is how full a load is in its fullest dimension.
func fillOf(l *scheduler.Load, batch *resources.Batch, ops func(piece, operation string) *resources.Operation) float64 {
	fullest := 0.0
	for dim, room := range batch.Capacity {
		sum := int64(0)
		for _, m := range l.Members {
			if op := ops(m.Piece, m.Operation); op != nil {
				sum += op.Size[dim]
			}
		}
		if room > 0 {
			fullest = max(fullest, float64(sum)/float64(room))
		}
	}
	return fullest
}

// operations finds the operation of a piece.
func operations(plant *resources.Plant, s *scheduler.State) func(piece, operation string) *resources.Operation {
	type key struct{ product, operation string }
	known := map[key]*resources.Operation{}
	for i := range plant.Products {
		p := &plant.Products[i]
		for j := range p.Routing {
			known[key{p.ID, p.Routing[j].ID}] = &p.Routing[j]
		}
	}
	return func(piece, operation string) *resources.Operation {
		p := s.Pieces[piece]
		if p == nil {
			return nil
		}
		return known[key{p.Product, operation}]
	}
}
