// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"slices"
	"strings"

	"towpath/events"
	"towpath/resources"
	"towpath/resources/quality"
	"towpath/scheduler"
)

// rule is how the gate of a result is judged; nil: by whoever reports.
func (v *View) rule(d *events.ResultData) *quality.Rule {
	if op := v.operation(d.Piece, d.Operation); op != nil {
		return op.Rule
	}
	return nil
}

// measureActions finish a job at a gate with a rule: enter what was measured,
// and the rule decides; or say that it has failed plainly.
func (v *View) measureActions(j *Job, finish Action, d *events.ResultData) []Action {
	rule := v.rule(d)
	enter := v.enterResult(rule, d, j.Station)
	enter.Word = "Finish: enter " + d.Gate
	enter.Ask = "Finish " + j.Title + " of " + j.Subject() + ": what was measured?"
	enter.Reports = append(slices.Clone(finish.Reports), enter.Reports...)
	fail := finish
	fail.Key, fail.Word = "failed", "Finish: failed"
	fail.Ask = "Finish " + j.Title + " of " + j.Subject() + " as FAILED without measuring? " + ruleSentence(rule)
	fail.Reasons = []string{"Visible damage", "Burst or slipped under load", "Cannot be measured"}
	fail.Reports = append(slices.Clone(finish.Reports), Report{Kind: events.ResultRecorded, Station: j.Station, Data: *d})
	return []Action{enter, fail}
}

// enterResult asks for what a gate's rule is judged by.
func (v *View) enterResult(rule *quality.Rule, d *events.ResultData, station string) Action {
	a := Action{
		Key: "passed", Word: "Enter " + d.Gate + " of " + d.Piece, Ask: "What was measured at " + d.Gate + " of " + d.Piece + "?",
		Detail: []Attribute{{Name: "rule", Value: ruleSentence(rule)}}, Reasons: []string{}, Fields: Fields(rule),
		Reports: []Report{{Kind: events.ResultRecorded, Station: station, Data: *d}},
	}
	for _, l := range rule.Limits {
		a.Detail = append(a.Detail, Attribute{Name: words(l.Of), Value: limitText(l)})
	}
	if rule.Kind == quality.Balancing {
		left, right := quality.TwoPlanes(quality.PermissibleUnbalance(rule.Grade, rule.Mass, rule.Speed), rule.PlaneA, rule.PlaneB)
		a.Detail = append(a.Detail, Attribute{
			Name:  "residual unbalance",
			Value: fmt.Sprintf("at most %.1f g·mm in plane a, %.1f in plane b (G %g, %g kg, %g r/min)", left, right, rule.Grade, rule.Mass, rule.Speed),
		})
	}
	return a
}

func ruleSentence(r *quality.Rule) string { return resources.RuleText(r) }

// Fields lists the inputs of a gate's form.
func Fields(r *quality.Rule) []Field {
	out := []Field{}
	for _, a := range r.Asks() {
		f := Field{Of: a.Of, Label: words(a.Of), Unit: a.Unit, Units: quality.UnitsLike(a.Unit), Many: a.Many}
		if r.Kind == quality.Ring && r.ByImage {
			f.Label += ", one value for each image"
			f.Units = append(f.Units, "px")
		} else if a.Of == "dial" {
			f.Label = "readings of the dial over one turn"
		} else if r.Kind == quality.Torsion {
			f.Label += " at each point, three or more"
		} else if a.Many {
			f.Label += ", one or more readings"
		}
		for _, l := range r.Limits {
			if l.Of == a.Of {
				f.Limit = limitText(l)
			}
		}
		out = append(out, f)
	}
	return out
}

func words(name string) string { return strings.ReplaceAll(name, "_", " ") }

func limitText(l quality.Limit) string {
	switch {
	case l.HasMin && l.HasMax:
		return fmt.Sprintf("%g to %g %s", l.Min, l.Max, l.Unit)
	case l.HasMin:
		return fmt.Sprintf("at least %g %s", l.Min, l.Unit)
	}
	return fmt.Sprintf("at most %g %s", l.Max, l.Unit)
}

// How long a gate that is done without a result is asked for.
const askResultFor = 3 * resources.Day

// openResults asks for results of gates that were finished at a station and
// have none.
func (v *View) openResults(st *resources.Station) []Action {
	out := []Action{}
	for _, j := range v.station[st.ID] {
		if j.Kind == MixJob || j.Status != JobDone || j.End+resources.Tick(askResultFor) < v.zone.Now {
			continue
		}
		for i := range j.Pieces {
			p := v.piece(j.Pieces[i].Piece)
			op := v.operation(j.Pieces[i].Piece, j.Pieces[i].Operation)
			if p == nil || op == nil || op.Rule == nil || p.Scrapped {
				continue
			}
			if o := opState(p, op.ID); o == nil || o.Status != scheduler.Done || o.Passed || o.Failed {
				continue
			}
			d := events.ResultData{Piece: p.Serial, Operation: op.ID, Gate: op.Gate}
			out = append(out, v.enterResult(op.Rule, &d, st.ID))
		}
	}
	return out
}

// weighings are the weights that a mix is checked by.
func (v *View) weighings(j *Job) []Field {
	out := []Field{}
	r := v.plant.Resin(j.Resin)
	if r == nil || r.IngredientsTol <= 0 {
		return out
	}
	var parts float64
	for _, in := range r.Ingredients {
		parts += in.Parts
	}
	for _, in := range r.Ingredients {
		grams := float64(j.Grams) * in.Parts / parts
		out = append(out, Field{
			Of: in.Name, Label: in.Name, Unit: "g", Units: []string{"g"},
			Limit: fmt.Sprintf("%.1f to %.1f g for %s", grams*(1-r.IngredientsTol), grams*(1+r.IngredientsTol), Grams(j.Grams)),
		})
	}
	return out
}
