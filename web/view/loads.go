// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
)

// LoadsQuery is which loads to show.
type LoadsQuery struct {
	Station string // only this one; empty: all
	Cure    bool   // only stations that run cure recipes
	Done    bool   // the finished ones of the last day too
}

// Loads is who is in which load, when to load and how full.
type Loads struct {
	Cure     bool           `json:"cure" doc:"true: only stations that run cure recipes"`
	Done     bool           `json:"done" doc:"true: finished loads of the last 24 hours too"`
	Stations []LoadsStation `json:"stations" doc:"batch stations in the order of the plant file"`
}

// LoadsStation is a batch station with its loads.
type LoadsStation struct {
	ID    string     `json:"id" doc:"station's ID"`
	Name  string     `json:"name" doc:"station's name"`
	Loads []LoadCard `json:"loads" doc:"by start"`
}

// LoadCard is one load.
type LoadCard struct {
	Job        *Job         `json:"job" doc:"the load with its times"`
	RecipeName string       `json:"recipe_name" doc:"name of the cure recipe; empty: none"`
	Cycle      string       `json:"cycle" doc:"the recipe's ramps and dwells in words"`
	Fill       []Fill       `json:"fill" doc:"how full, by dimension"`
	By         *Limit       `json:"by" doc:"the tightest maximum wait of its members; null: none"`
	Ready      int          `json:"ready" doc:"members whose work before is done"`
	Members    []LoadMember `json:"members" doc:"pieces in it"`
}

// Fill is how much of one dimension is used.
type Fill struct {
	Dimension string `json:"dimension" doc:"name of the dimension"`
	Used      int64  `json:"used" doc:"sum of the members' sizes"`
	Capacity  int64  `json:"capacity" doc:"what the station takes"`
}

// Percent is Used of Capacity.
func (f Fill) Percent() int64 {
	if f.Capacity <= 0 {
		return 0
	}
	return f.Used * 100 / f.Capacity
}

// Words is the fill as pages say it: "4 of 12 places", "36.8 of 120 kg mandrel
// mass".
func (f Fill) Words() string {
	name, unit := f.Dimension, ""
	for _, u := range []string{"_g", "_mm"} {
		if cut, ok := strings.CutSuffix(name, u); ok {
			name, unit = cut, " "+u[1:]
		}
	}
	name = strings.ReplaceAll(name, "_", " ")
	if unit == " g" && f.Capacity >= 1000 {
		return fmt.Sprintf("%g of %g kg %s", tenths(float64(f.Used)/1000), tenths(float64(f.Capacity)/1000), name)
	}
	return fmt.Sprintf("%d of %d%s %s", f.Used, f.Capacity, unit, name)
}

// LoadMember is a piece in a load.
type LoadMember struct {
	JobPiece
	Name    string         `json:"name" doc:"product's name"`
	Ready   bool           `json:"ready" doc:"true: everything before is done"`
	ReadyAt resources.Tick `json:"ready_at" doc:"when the last work before ends or ended; empty: nothing before"`
	Before  string         `json:"before" doc:"that work's name"`
	By      resources.Tick `json:"by" doc:"latest start of loading for this piece; empty: no maximum wait"`
}

// Loads computes the loads page.
func (v *View) Loads(q LoadsQuery) Loads {
	out := Loads{Cure: q.Cure, Done: q.Done, Stations: []LoadsStation{}}
	for i := range v.plant.Stations {
		st := &v.plant.Stations[i]
		if st.Batch == nil || q.Station != "" && q.Station != st.ID || q.Cure && len(st.Recipes) == 0 {
			continue
		}
		s := LoadsStation{ID: st.ID, Name: cmp.Or(st.Name, st.ID), Loads: []LoadCard{}}
		for _, j := range v.station[st.ID] {
			if j.Kind == LoadJob && (j.Status != JobDone || q.Done && j.End > v.zone.Now-resources.Tick(resources.Day)) {
				s.Loads = append(s.Loads, v.loadCard(st, j))
			}
		}
		out.Stations = append(out.Stations, s)
	}
	return out
}

func (v *View) loadCard(st *resources.Station, j *Job) LoadCard {
	c := LoadCard{Job: j, Fill: []Fill{}, Members: []LoadMember{}}
	if r := v.plant.Recipe(j.Recipe); r != nil {
		c.RecipeName, c.Cycle = cmp.Or(r.Name, r.ID), cycle(r)
	}
	used := map[string]int64{}
	for i := range j.Pieces {
		p := &j.Pieces[i]
		m := v.loadMember(p)
		if op := v.operation(p.Piece, p.Operation); op != nil {
			for dim, n := range op.Size {
				used[dim] += n
			}
		}
		if m.Ready {
			c.Ready++
		}
		c.Members = append(c.Members, m)
		if l := v.limitsOn(p.Piece, p.Operation); len(l) > 0 && (c.By == nil || l[0].By < c.By.By) {
			c.By = &l[0]
		}
	}
	if j.Status != JobPlanned && j.Status != JobClosed {
		c.By = nil
	}
	for _, dim := range slices.Sorted(maps.Keys(st.Batch.Capacity)) {
		c.Fill = append(c.Fill, Fill{Dimension: dim, Used: used[dim], Capacity: st.Batch.Capacity[dim]})
	}
	slices.SortStableFunc(c.Members, func(a, b LoadMember) int {
		return cmp.Or(compareKnown(a.By, b.By), compareNatural(a.Piece, b.Piece))
	})
	return c
}

func (v *View) loadMember(p *JobPiece) LoadMember {
	m := LoadMember{JobPiece: *p, Name: p.Product, Ready: true}
	if product := v.product[p.Product]; product != nil {
		m.Name = cmp.Or(product.Name, product.ID)
	}
	op := v.operation(p.Piece, p.Operation)
	if op == nil {
		return m
	}
	for i := range op.After {
		for _, from := range v.sources(p.Piece, op.After[i].Operation) {
			_, end := v.span(from, op.After[i].Operation)
			state := opState(v.piece(from), op.After[i].Operation)
			if state == nil || state.Status != scheduler.Done {
				m.Ready = false
			}
			if end >= m.ReadyAt {
				m.ReadyAt, m.Before = end, op.After[i].Operation
				if source := v.operation(from, m.Before); source != nil {
					m.Before = cmp.Or(source.Name, source.ID)
				}
			}
		}
	}
	if l := v.limitsOn(p.Piece, p.Operation); len(l) > 0 {
		m.By = l[0].By
	}
	return m
}

// cycle says a recipe in words: "1.5 °C/min to 80 °C, hold 2 h; …".
func cycle(r *resources.Recipe) string {
	parts := make([]string, 0, len(r.Steps)+1)
	for _, s := range r.Steps {
		parts = append(parts, fmt.Sprintf("%g °C/min to %g °C, hold %s", s.Rate, s.ToC, Span(s.Dwell)))
	}
	if r.CoolRate > 0 {
		parts = append(parts, fmt.Sprintf("cool %g °C/min, open at %g °C", r.CoolRate, r.OpenC))
	}
	return strings.Join(parts, "; ")
}
