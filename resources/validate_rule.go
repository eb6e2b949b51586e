// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"

	"towpath/resources/quality"
)

// gateRule checks how a gate is judged: the rule by itself, and where a rework
// leads.
func (v *validator) gateRule(p *Product, i int, follows [][]bool) {
	op := &p.Routing[i]
	if op.Rule == nil {
		return
	}
	path := opPath(p, op) + ".rule"
	if op.Gate == "" {
		v.fail(opPath(p, op)+".gate", "", "a name for the result, like "+string(op.Rule.Kind), "", "is missing, though there is a rule to judge it by")
	}
	if v.isBroken(path) {
		return
	}
	for _, problem := range op.Rule.Problems() {
		v.fail(path+"."+problem.Field, problem.Found, problem.Allowed, "", "%s", problem.Text)
	}
	if op.Rule.Fail != quality.Rework || op.Rule.To == "" {
		return
	}
	to := p.OperationIndex(op.Rule.To)
	switch ids := p.operationIDs(); {
	case to < 0:
		v.fail(path+".rework_to", op.Rule.To, list(ids), hint(op.Rule.To, ids), "there is no operation of this name in the routing")
	case to != i && !follows[to][i]:
		v.fail(path+".rework_to", op.Rule.To, "", "", "%s does not come before %s", op.Rule.To, op.ID)
	case op.Per == PerSample:
		v.fail(path+".on_fail", string(quality.Rework), "hold, remake", "", "a sample that was destroyed cannot be done again")
	default:
		v.rework(p, path+".rework_to", to, i)
	}
}

// rework checks that everything from an operation to the gate can be done
// again: on one piece, with tools of its own, and without a wait that is over.
func (v *validator) rework(p *Product, path string, to, gate int) {
	again := p.Between(to, gate)
	gateOn := p.Routing[gate].Per != PerTube
	for j := range p.Routing {
		op := &p.Routing[j]
		for _, take := range op.Takes {
			if end := p.OperationIndex(take.Until); end >= 0 && again[end] != again[j] {
				v.fail(path, op.ID, "", "", "%s takes %s until %s, and only one of the two would be done again", op.ID, take.Tool, take.Until)
			}
		}
		if !again[j] {
			continue
		}
		if op.Split > 0 || (op.Per != PerTube) != gateOn && p.cut() {
			v.fail(path, p.Routing[to].ID, "", "", "%s is between it and the gate, and cannot be done again on one piece", op.ID)
		}
		for _, link := range op.After {
			if from := p.OperationIndex(link.Operation); link.HasMax && from >= 0 && !again[from] {
				v.fail(path, p.Routing[to].ID, "", "", "%s must come at most %s after %s, which is not done again", op.ID, spanText(link.Max), link.Operation)
			}
		}
	}
}

func (p *Product) cut() bool {
	return slices.ContainsFunc(p.Routing, func(op Operation) bool { return op.Split > 0 })
}

// Between tells of each operation of the routing whether it lies on a way from
// one operation to another, both included: what is done again when a piece
// goes back from a gate.
func (p *Product) Between(from, to int) []bool {
	follows := p.followers()
	on := make([]bool, len(p.Routing))
	for i := range on {
		on[i] = (i == from || follows[from][i]) && (i == to || follows[i][to])
	}
	return on
}

// After tells of each operation whether it comes after any of those given,
// directly or through others.
func (p *Product) After(any []bool) []bool {
	follows := p.followers()
	out := make([]bool, len(p.Routing))
	for i := range out {
		for j, is := range any {
			out[i] = out[i] || is && follows[j][i]
		}
	}
	return out
}

// RuleText says in words how a rule judges, for pages.
func RuleText(r *quality.Rule) string {
	switch r.Fail {
	case quality.Rework:
		return fmt.Sprintf("out of limits: back to %s, at most %d times, then %s", r.To, r.Times, r.Then)
	case quality.Remake:
		return "out of limits: scrap, another is made"
	}
	return "out of limits: on hold for a qualified person"
}
