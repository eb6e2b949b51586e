// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Limit is an instant by which an operation must start because of a maximum
// wait: a wet tube's way to the oven, a prepared end's way to the bond.
type Limit struct {
	Piece     string         `json:"piece" doc:"serial"`
	Operation string         `json:"operation" doc:"operation that must start"`
	Title     string         `json:"title" doc:"its name"`
	Station   string         `json:"station" doc:"where it is planned"`
	Planned   resources.Tick `json:"planned" doc:"when it is planned; empty: not planned"`
	By        resources.Tick `json:"by" doc:"latest start"`
	After     string         `json:"after" doc:"name of the operation the wait counts from"`
	Real      bool           `json:"real" doc:"true: the wait is already running; false: from the planned time"`
	Cure      bool           `json:"cure" doc:"true: the operation is a cure"`
}

// limitsOn lists the maximum waits that end at an operation of a piece,
// tightest first.
func (v *View) limitsOn(serial, operation string) []Limit {
	op := v.operation(serial, operation)
	if op == nil {
		return nil
	}
	var out []Limit
	for i := range op.After {
		link := &op.After[i]
		if !link.HasMax {
			continue
		}
		for _, from := range v.sources(serial, link.Operation) {
			if l, ok := v.limit(from, serial, op, link); ok {
				out = append(out, l)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Limit) int { return cmp.Compare(a.By, b.By) })
	return out
}

// limit is one maximum wait, from a source piece to an operation.
func (v *View) limit(from, serial string, op *resources.Operation, link *resources.Link) (Limit, bool) {
	start, end := v.span(from, link.Operation)
	if j := v.jobOf[member{Piece: from, Operation: link.Operation}]; j != nil {
		start, end = j.Start, j.End // moved with a start the plan has not taken in yet
	}
	anchor := end
	if link.FromStart {
		anchor = start
	}
	if anchor == 0 {
		return Limit{}, false
	}
	l := Limit{
		Piece: serial, Operation: op.ID, Title: cmp.Or(op.Name, op.ID), By: anchor + resources.Tick(link.Max),
		After: link.Operation, Cure: op.Recipe != "",
	}
	if source := v.operation(from, link.Operation); source != nil {
		l.After = cmp.Or(source.Name, source.ID)
	}
	if piece := v.piece(from); piece != nil {
		if s := opState(piece, link.Operation); s != nil {
			l.Real = s.Status == scheduler.Done || link.FromStart && s.Started != 0
		}
	}
	if j := v.jobOf[member{Piece: serial, Operation: op.ID}]; j != nil {
		l.Station, l.Planned = j.Station, j.Start
	}
	return l, true
}

// sources are the pieces whose operation a link to this piece comes from: the
// piece itself, else its tube, its shafts, or the samples of its line.
func (v *View) sources(serial, operation string) []string {
	piece := v.piece(serial)
	if piece == nil {
		return nil
	}
	if opState(piece, operation) != nil {
		return []string{serial}
	}
	if parent := v.piece(piece.Parent); parent != nil && opState(parent, operation) != nil {
		return []string{piece.Parent}
	}
	var out []string
	for _, child := range v.children[serial] {
		if opState(v.piece(child), operation) != nil {
			out = append(out, child)
		}
	}
	return out
}

// limitsFrom lists the maximum waits that an operation of a piece begins.
func (v *View) limitsFrom(serial, operation string) []Limit {
	piece := v.piece(serial)
	if piece == nil || v.product[piece.Product] == nil {
		return nil
	}
	var out []Limit
	family := append([]string{serial}, v.children[serial]...)
	if piece.Parent != "" {
		family = append(family, piece.Parent)
	}
	routing := v.product[piece.Product].Routing
	for i := range routing {
		for k := range routing[i].After {
			link := &routing[i].After[k]
			if link.Operation != operation || !link.HasMax {
				continue
			}
			for _, to := range family {
				if p := v.piece(to); p == nil || opState(p, routing[i].ID) == nil {
					continue
				}
				if l, ok := v.limit(serial, to, &routing[i], link); ok {
					out = append(out, l)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Limit) int { return cmp.Compare(a.By, b.By) })
	return out
}
