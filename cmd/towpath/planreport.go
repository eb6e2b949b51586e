// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"towpath/scheduler"
)

// planReport is the JSON of towpath plan. Keys are stable: programs read them.
type planReport struct {
	Orders      int                  `json:"orders"`                   // not cancelled
	OnTime      int                  `json:"on_time"`                  // orders complete by their due instant
	Late        int                  `json:"late"`                     // firm orders that are not
	Lost        int                  `json:"lost"`                     // event orders that are not
	Waiting     int                  `json:"waiting"`                  // orders nobody can date: a piece is held or lacks a material
	Tardiness   float64              `json:"weighted_tardiness_hours"` // sum over orders of weight × hours late
	Makespan    float64              `json:"makespan_hours"`           // from now to the last end
	Loads       int                  `json:"loads"`                    // oven runs
	Fill        float64              `json:"mean_load_fill"`           // 0..1, in the fullest dimension
	Changeovers int                  `json:"changeovers"`
	Discarded   float64              `json:"resin_discarded_kg"`
	LowerBound  float64              `json:"lower_bound"` // no plan has less weighted tardiness, in hours
	Verified    bool                 `json:"verified"`    // the separate verifier found nothing
	ElapsedMS   int64                `json:"elapsed_ms"`
	Pieces      int                  `json:"pieces"`
	Operations  int                  `json:"operations"`
	Now         string               `json:"now"` // RFC 3339, in the plant's zone
	Seed        uint64               `json:"seed"`
	Iterations  int64                `json:"iterations"`   // of all searches
	Levels      [4]int64             `json:"levels"`       // the plant's objective, level by level
	BoundLevels [4]int64             `json:"bound_levels"` // the lower bound, likewise
	Optimal     bool                 `json:"optimal"`      // no plan is better: levels and bound meet
	Parts       []gapJSON            `json:"parts"`        // the objective part by part
	Churn       *scheduler.Churn     `json:"churn"`        // against --previous; null: there was none
	Breaches    int                  `json:"breaches"`     // maximum waits that facts have broken
	Short       []scheduler.Shortage `json:"short"`        // materials that pieces wait for
	Baseline    plainRule            `json:"baseline"`
}

// gapJSON is a part of the objective with what lies between plan and bound.
type gapJSON struct {
	scheduler.Gap
	Between int64 `json:"gap"`
}

// plainRule is what a plain rule makes of the same snapshot.
type plainRule struct {
	Rule       string  `json:"rule"`
	OnTime     int     `json:"on_time"`
	Late       int     `json:"late"`
	Lost       int     `json:"lost"`
	Tardiness  float64 `json:"weighted_tardiness_hours"`
	Verified   bool    `json:"verified"`
	Impossible string  `json:"impossible,omitempty"` // why the rule finds no plan
}

func (s *session) report(took time.Duration) planReport {
	x := &s.score
	r := planReport{
		Orders: x.Orders, OnTime: x.OnTime, Late: x.Late, Lost: x.Lost, Waiting: x.Waiting,
		Tardiness: x.WeightedTardinessHours(), Makespan: float64(x.MakespanSeconds) / 3600,
		Loads: x.Loads, Fill: x.MeanLoadFill, Changeovers: x.Changeovers,
		Discarded: float64(x.DiscardedGrams) / 1000, Verified: len(s.violations) == 0,
		ElapsedMS: took.Milliseconds(), Pieces: len(s.state.Pieces), Operations: len(s.plan.Work),
		Now: time.Unix(int64(s.now), 0).In(s.plant.Zone).Format(time.RFC3339), Seed: s.plan.Seed, Iterations: s.found.Iterations,
		Levels: x.Levels, BoundLevels: s.found.Bound, Optimal: s.plan.Optimal, Breaches: x.Breaches,
		Parts: []gapJSON{}, Churn: s.plan.Churn, Short: scheduler.Shortages(s.state),
	}
	if r.Short == nil {
		r.Short = []scheduler.Shortage{}
	}
	for _, g := range s.plan.Gaps {
		r.Parts = append(r.Parts, gapJSON{Gap: g, Between: g.Open()})
	}
	if t := s.plant.Objective.Tardiness; t.Weight > 0 && t.Level >= 0 && t.Level < len(s.found.Bound) {
		r.LowerBound = float64(s.found.Bound[t.Level]) / float64(t.Weight) / 3600
	}
	return r
}

// print writes the summary for people.
func (s *session) print(out io.Writer, r *planReport, o *planOptions) error {
	w := &lines{out: out}
	w.add("%s, planned for %s", s.plant.Name, moment(s.now, s.plant.Zone))
	w.add("%s, %s, %s", plural(r.Orders, "order"), plural(r.Pieces, "piece"), plural(r.Operations, "operation"))
	w.add("")
	w.add("  on time             %6d", r.OnTime)
	w.add("  late                %6d   weighted tardiness %.1f h (no plan has less than %.1f h)", r.Late, r.Tardiness, r.LowerBound)
	w.add("  event orders lost   %6d", r.Lost)
	if r.Waiting > 0 {
		w.add("  waiting             %6d   a piece is held, or lacks a material", r.Waiting)
	}
	for i := range r.Short {
		w.add("  material            %s", r.Short[i].Words(s.plant))
	}
	w.add("  oven loads          %6d   mean fill %.0f %%", r.Loads, 100*r.Fill)
	w.add("  changeovers         %6d", r.Changeovers)
	w.add("  resin discarded     %6.1f kg", r.Discarded)
	w.add("  last work ends      %s", moment(s.plan.Made+scheduler.Tick(s.score.MakespanSeconds), s.plant.Zone))
	w.add("")
	w.gaps(r.Parts, r.Optimal)
	w.churn(r.Churn)
	w.add("")
	verdict := "verified"
	if !r.Verified {
		verdict = "NOT VERIFIED"
	}
	w.add("%s; %.1f s, %d iterations, seed %d", verdict, float64(r.ElapsedMS)/1000, r.Iterations, r.Seed)
	b := &r.Baseline
	if b.Impossible != "" {
		w.add("plain due-date order, same snapshot: no plan at all (%s)", b.Impossible)
	} else {
		w.add("plain due-date order, same snapshot: %d on time, %d late, %d lost, weighted tardiness %.1f h", b.OnTime, b.Late, b.Lost, b.Tardiness)
	}
	if o.out != "" {
		w.add("plan written to %s", o.out)
	}
	return w.err
}

// lines writes lines until the first error.
type lines struct {
	out io.Writer
	err error
}

func (w *lines) add(format string, args ...any) {
	if w.err == nil {
		_, w.err = fmt.Fprintln(w.out, strings.TrimRight(fmt.Sprintf(format, args...), " "))
	}
}

// gaps writes the parts of the objective that cost something, each with its
// bound.
func (w *lines) gaps(parts []gapJSON, optimal bool) {
	w.add("  objective        level       this plan    no plan below             gap")
	for i := range parts {
		g := &parts[i]
		if g.Weight == 0 {
			continue
		}
		by := ""
		switch {
		case g.By != "" && g.Bound == 0:
			by = "tightest: " + g.By
		case g.By != "":
			by = "by " + g.By
		}
		unit := g.Unit
		if unit == "s" {
			unit = "h"
		}
		w.add("  %-16s %5d %15s %16s %15s %-6s  %s", g.Part, g.Level, amount(g.Value, g.Unit), amount(g.Bound, g.Unit), amount(g.Open(), g.Unit), unit, by)
	}
	if optimal {
		w.add("  optimal: proven, no plan is better")
	}
}

// churn writes what the plan changes against the one before.
func (w *lines) churn(x *scheduler.Churn) {
	if x == nil {
		return
	}
	w.add("")
	w.add("  against plan %-5d  %d of %s not begun moved, %d to another station, %d near now", x.Against, x.Moved, plural(x.Compared, "operation"), x.Station, x.Near)
	w.add("  frozen window       %s, %d pushed by facts", plural(x.Frozen, "operation"), x.Slipped)
	if len(x.Next) == 0 {
		w.add("  next jobs           the same at every station")
	}
	for _, n := range x.Next {
		is := "nothing"
		if n.Is.Piece != "" {
			is = n.Is.Piece + " " + n.Is.Operation
		}
		w.add("  next at %-10s  %s, was %s %s", n.Station, is, n.Was.Piece, n.Was.Operation)
	}
}

// amount writes a value of the objective; seconds as hours.
func amount(v int64, unit string) string {
	if unit == "s" {
		return fmt.Sprintf("%.1f", float64(v)/3600)
	}
	return fmt.Sprint(v)
}
