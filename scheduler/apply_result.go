// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"errors"
	"slices"
	"strings"

	"towpath/events"
	"towpath/resources"
	"towpath/resources/quality"
)

// resultRecorded takes a result at a gate. Where the plant file has a rule, the
// rule decides from what was measured, unless a person puts a decision of
// their own in its place.
func (t *change) resultRecorded(d events.ResultData) *Refusal {
	if r := t.sender(); r != nil {
		return r
	}
	p, k, r := t.step(d.Piece, d.Operation)
	if r != nil {
		return r
	}
	op := &t.product(p).Routing[p.Ops[k].Index]
	switch {
	case op.Gate == "":
		return refuse(RefusedWrongPlace, "piece "+p.Serial, "check the operation", "%s has no gate", op.ID)
	case d.Gate != op.Gate:
		return refuse(RefusedWrongPlace, "piece "+p.Serial, "record "+op.Gate, "%s records no %q", op.ID, d.Gate)
	}
	result, r := t.judge(p, k, op, d)
	if r != nil {
		return r
	}
	on := events.Kind(onGateFailed)
	if result.Decision == quality.Pass {
		on = onGatePassed
	}
	if m := pieceLife.move(pieceState(p), on, never); m.Refuse != "" {
		return refuse(m.Refuse, "piece "+p.Serial, "have that settled first; if it is wrong, void the report that says so", "it is %s", pieceState(p))
	}
	return t.decided(p, k, op, result)
}

// judge makes a result of a report, or says why it is none.
func (t *change) judge(p *Piece, k int, op *resources.Operation, d events.ResultData) (Result, *Refusal) {
	about := "piece " + p.Serial
	res := Result{
		Operation: op.ID, Gate: op.Gate, Measured: slices.Clone(d.Measured), Why: d.Why,
		Station: t.e.Station, At: t.e.At, By: t.e.By, Event: t.e.ID,
	}
	for _, name := range sortedKeys(d.Values) {
		res.Plain = append(res.Plain, quality.Value{Of: name, Value: d.Values[name]})
	}
	if r := t.judgeable(p, k, op, d); r != nil {
		return res, r
	}
	switch {
	case op.Rule == nil:
		if res.Decision = quality.Hold; d.Pass {
			res.Decision = quality.Pass
		}
	case len(d.Measured) > 0:
		v, err := op.Rule.Judge(d.Measured)
		if err != nil {
			return res, refuse(RefusedMalformed, about, "measure or enter it again", "the %s result cannot be judged: %s", op.Gate, oneLine(err))
		}
		res.Values = v.Values
		switch {
		case v.Passed():
			res.Decision = quality.Pass
		case v.Doubt != "":
			res.Decision, res.Why = quality.Hold, joinWhy(v.Doubt, d.Why)
		default:
			res.Decision, res.Why = t.onFail(p, k, op.Rule), joinWhy(strings.Join(v.Faults, "; "), d.Why)
		}
	default:
		res.Decision = t.onFail(p, k, op.Rule) // failed by eye
	}
	if d.Decision != "" {
		if op.Rule != nil && (len(d.Measured) > 0 || !d.Pass) {
			res.Ruled = res.Decision
		}
		res.Decision = quality.Action(d.Decision)
		res.Why = joinWhy(d.Why, "")
	}
	return res, nil
}

// judgeable looks at what must be there before anything can be judged.
func (t *change) judgeable(p *Piece, k int, op *resources.Operation, d events.ResultData) *Refusal {
	about := "piece " + p.Serial
	if d.Decision != "" {
		switch {
		case !slices.Contains(events.Decisions(), d.Decision):
			return refuse(RefusedMalformed, about, "one of "+list(events.Decisions()), "unknown decision %q", d.Decision)
		case strings.TrimSpace(d.Why) == "" || t.e.By == "":
			return refuse(RefusedMalformed, about, "say who decides, and why", "a decision in place of the rule needs a name and a reason")
		case d.Decision == string(quality.Rework) && (op.Rule == nil || op.Rule.To == ""):
			return refuse(RefusedWrongPlace, about, "hold it, or scrap it", "the plant file does not say where %s goes back to from %s", p.Serial, op.ID)
		}
	} else if op.Rule != nil && len(d.Measured) == 0 && (d.Pass || strings.TrimSpace(d.Why) == "") {
		var names []string
		for _, a := range op.Rule.Asks() {
			names = append(names, a.Of+" in "+a.Unit)
		}
		if !d.Pass { // also what a form left empty says
			return refuse(RefusedMalformed, about, "measure "+list(names)+"; or say why it fails without", "nothing is measured, and no reason given")
		}
		return refuse(RefusedMalformed, about, "measure "+list(names)+"; or decide by name, with a reason", "%s passes by what was measured, and nothing is", op.Gate)
	}
	for i := range p.Results {
		if old := &p.Results[i]; op.Rule != nil && old.Operation == op.ID && old.At > t.e.At {
			return refuse(RefusedSuperseded, about, "if the later one is wrong, void it", "there is a later result of %s, of %s", op.Gate, t.s.clock(old.At))
		}
	}
	return nil
}

// onFail is what the rule does with a piece out of limits: another rework as
// long as there are any left.
func (t *change) onFail(p *Piece, k int, rule *quality.Rule) quality.Action {
	if rule.Fail == quality.Rework && p.Ops[k].Reworks >= rule.Times {
		return rule.Then
	}
	return rule.Fail
}

// decided does what was decided.
func (t *change) decided(p *Piece, k int, op *resources.Operation, res Result) *Refusal {
	cause := p.Serial + "/" + op.ID
	if res.Decision == quality.Rework {
		if why := t.cannotRedo(p, k, op.Rule); why != "" {
			if res.Ruled == "" {
				res.Ruled = quality.Rework
			}
			res.Decision, res.Why = quality.Hold, joinWhy(res.Why, why)
		}
	}
	p = t.editPiece(p.Serial)
	p.Results = append(slices.Clone(p.Results), res)
	p.Ops[k].Passed, p.Ops[k].Failed = res.Decision == quality.Pass, res.Decision != quality.Pass
	t.absolveGate(p, cause, res.Decision)
	what := op.Gate + " " + verdictWord(res.Decision) + because(res.Why)
	switch res.Decision {
	case quality.Pass:
		t.finished(p)
		if op.Rule != nil && res.Ruled == "" {
			t.note(p.Serial, "%s passed%s", op.Gate, because(valuesText(res.Values)))
		}
		if res.Ruled != "" && res.Ruled != quality.Pass {
			t.note(p.Serial, "%s passed by decision%s; the rule said %s", op.Gate, by(res.By), res.Ruled)
		}
	case quality.Rework:
		t.redo(p, k, op)
		t.note(p.Serial, "%s, back to %s (%d of %d)", what, op.Rule.To, p.Ops[k].Reworks, op.Rule.Times)
	case quality.Remake:
		t.note(p.Serial, "%s, scrapped to be made again", what)
		return t.lose(p, what)
	default:
		if slices.ContainsFunc(p.Detained, func(c Detention) bool { return c.By == cause }) {
			t.note(p.Serial, "%s failed again%s", op.Gate, because(res.Why))
			return nil
		}
		t.detain(p, Detention{By: cause, Why: op.Gate + " failed" + because(res.Why), At: t.e.At})
	}
	return nil
}

// absolveGate ends the hold for an earlier failure of a gate, unless it fails
// again.
func (t *change) absolveGate(p *Piece, cause string, d quality.Action) {
	if d != quality.Hold {
		t.absolve(p, func(c Detention) bool { return c.By == cause })
	}
}

func verdictWord(d quality.Action) string {
	if d == quality.Pass {
		return "passed"
	}
	return "failed"
}

// cannotRedo says why a piece cannot go back from a gate; empty when it can.
func (t *change) cannotRedo(p *Piece, k int, rule *quality.Rule) string {
	product := t.product(p)
	again := product.Between(product.OperationIndex(rule.To), p.Ops[k].Index)
	for j := range p.Ops {
		o := &p.Ops[j]
		switch {
		case !again[o.Index] || o.Status == Done || j == k && o.Status != Planned && o.Load == "":
		case j == k && o.Load != "":
			return "it cannot go back while load " + o.Load + " runs"
		default:
			return "it cannot go back: " + o.Operation + " is not reported finished"
		}
	}
	late := product.After(again)
	why := ""
	t.siblings(p, func(q *Piece) {
		if q != p && q.Serial != p.Parent && q.Parent != p.Serial && !p.Sample {
			return
		}
		for j := range q.Ops {
			o := &q.Ops[j]
			if late[o.Index] && (q != p || !again[o.Index]) && (o.Status != Planned || o.Load != "") && why == "" {
				why = "it cannot go back: " + o.Operation + " of " + q.Serial + " has begun"
			}
		}
	})
	return why
}

// redo sets a piece back: everything from the operation the rule names to the
// gate is to be done again.
func (t *change) redo(p *Piece, k int, op *resources.Operation) {
	product := t.product(p)
	again := product.Between(product.OperationIndex(op.Rule.To), p.Ops[k].Index)
	if p.Ops[k].Status != Done {
		t.end(p, k, t.e.At, true)
	}
	p.Earlier = slices.Clone(p.Earlier)
	for j := range p.Ops {
		o := &p.Ops[j]
		if !again[o.Index] {
			continue
		}
		p.Earlier = append(p.Earlier, *o)
		fresh := OpState{Operation: o.Operation, Index: o.Index, Reworks: o.Reworks, Redo: t.e.At}
		if j == k {
			fresh.Reworks++
		}
		*o = fresh
	}
}

// again refuses a report of an operation's first time when it is to be done
// again.
func (t *change) again(p *Piece, o *OpState, at Tick) *Refusal {
	return refuse(RefusedSuperseded, "piece "+p.Serial, "nothing to do, or check the time",
		"%s is to be done again since %s; this report is of %s", o.Operation, t.s.clock(o.Redo), t.s.clock(at))
}

func joinWhy(a, b string) string {
	if a != "" && b != "" {
		return a + "; " + b
	}
	return a + b
}

// valuesText lists what was worked out: "length 400.2 mm, runout 0.1 mm".
func valuesText(list []quality.Value) string {
	out := ""
	for i, v := range list {
		if i > 0 {
			out += ", "
		}
		out += v.Of + " " + v.Text()
	}
	return out
}

// oneLine writes joined errors on one line.
func oneLine(err error) string {
	var joined interface{ Unwrap() []error }
	if !errors.As(err, &joined) {
		return err.Error()
	}
	var all []string
	for _, e := range joined.Unwrap() {
		all = append(all, e.Error())
	}
	return strings.Join(all, "; ")
}
