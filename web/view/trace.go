// SPDX-License-Identifier: Apache-2.0

package view

import (
	"slices"
	"strings"

	"towpath/events"
	"towpath/scheduler"
)

// TraceSheet answers what went into a piece, or where a mix, a load or a lot
// went.
type TraceSheet struct {
	Text    string           `json:"text" doc:"what was asked"`
	Kinds   []string         `json:"kinds" doc:"what it is the name of: piece, mix, load, lot"`
	Kind    string           `json:"kind" doc:"which of these is shown; empty: nothing has that name"`
	Piece   *scheduler.Trace `json:"piece" doc:"the piece; null: none is shown"`
	Used    *scheduler.Used  `json:"used" doc:"the mix, load or lot; null: none is shown"`
	Lots    []string         `json:"lots" doc:"lots that are known, as MATERIAL/LOT, when nothing is shown"`
	Actions []Action         `json:"actions" doc:"what can be reported of it"`
}

// TraceKinds are the kinds of things that can be traced.
func TraceKinds() []string { return []string{"piece", "mix", "load", "lot"} }

// TraceSheet looks a name up: a serial, a mix, a load, or MATERIAL/LOT. kind
// chooses when it is the name of several; empty: the first.
func (v *View) TraceSheet(text, kind string) TraceSheet {
	s := v.Picture.State
	t := TraceSheet{Text: text, Kinds: []string{}, Lots: []string{}, Actions: []Action{}}
	text = strings.TrimSpace(text)
	piece, isPiece := s.Trace(text)
	if isPiece {
		t.Kinds = append(t.Kinds, "piece")
	}
	used := map[string]scheduler.Used{}
	for _, k := range TraceKinds()[1:] {
		if u, ok := s.Used(k + "/" + text); ok && text != "" {
			t.Kinds = append(t.Kinds, k)
			used[k] = u
		}
	}
	if t.Kind = kind; !slices.Contains(t.Kinds, kind) {
		t.Kind = ""
		if kind == "" && len(t.Kinds) > 0 {
			t.Kind = t.Kinds[0]
		}
	}
	switch u, ok := used[t.Kind]; {
	case t.Kind == "piece":
		t.Piece, t.Actions = &piece, v.traceActions(text)
	case ok:
		t.Used, t.Actions = &u, batchActions(&u)
	default:
		for _, key := range s.Lots() {
			t.Lots = append(t.Lots, strings.TrimPrefix(key, "lot/"))
		}
	}
	return t
}

// traceActions hold, release or scrap a piece, and enter results it lacks.
func (v *View) traceActions(serial string) []Action {
	p := v.piece(serial)
	out := []Action{}
	if p == nil || p.Scrapped {
		return out
	}
	data := events.PieceData{Piece: serial}
	for i := range p.Ops {
		o := &p.Ops[i]
		if op := v.operation(serial, o.Operation); op != nil && op.Rule != nil && o.Status == scheduler.Done && !o.Passed {
			d := events.ResultData{Piece: serial, Operation: op.ID, Gate: op.Gate}
			out = append(out, v.enterResult(op.Rule, &d, o.Station))
			if o.Failed {
				d.Decision, d.Pass = "pass", true
				out = append(out, Action{
					Key: "passed", Word: "Let " + op.Gate + " pass by decision", Ask: "Let " + serial + " pass at " + op.Gate + " against its rule? Only for a qualified person, with name and reason.",
					Detail: []Attribute{}, Reasons: []string{"Concession by the customer", "Measured again elsewhere", "Limit does not apply to this order"}, Fields: []Field{},
					Reports: []Report{{Kind: events.ResultRecorded, Station: o.Station, Data: d}},
				})
			}
		}
	}
	if p.Held {
		out = append(out, Action{
			Key: "resume", Word: "Release " + serial, Ask: "Let " + serial + " go on, whatever it was held for?", Detail: []Attribute{{Name: "held", Value: p.Why}},
			Reasons: []string{"Looked at, fit for use", "Tested", "Held by mistake"}, Fields: []Field{}, Reports: []Report{{Kind: events.PieceReleased, Data: data}},
		})
	} else {
		out = append(out, Action{
			Key: "hold", Word: "Hold " + serial, Ask: "Put " + serial + " on hold until somebody decides?", Detail: []Attribute{},
			Reasons: []string{"Looks wrong", "Measurement doubtful", "Mix-up suspected"}, Fields: []Field{}, Reports: []Report{{Kind: events.PieceHeld, Data: data}},
		})
	}
	return out
}

// batchActions hold or release everything made from a mix, a load or a lot.
func batchActions(u *scheduler.Used) []Action {
	d := events.BatchData{}
	kind, name, _ := strings.Cut(u.Key, "/")
	switch kind {
	case "mix":
		d.Mix = name
	case "load":
		d.Load = name
	default:
		d.Material, d.Lot, _ = strings.Cut(name, "/")
	}
	a := Action{
		Key: "hold", Word: "Hold " + u.Name, Ask: "Put " + u.Name + " on hold, with every piece listed here? The plan goes on without them.", Detail: []Attribute{},
		Reasons: []string{"Wrong material", "Gelled or cured wrongly", "Sensor or oven fault", "Certificate missing"}, Fields: []Field{},
		Reports: []Report{{Kind: events.BatchHeld, Data: d}},
	}
	if u.Held {
		a.Key, a.Word, a.Ask = "resume", "Release "+u.Name, "Let "+u.Name+" and its pieces go on? Only for a qualified person."
		a.Reasons = []string{"Looked at, fit for use", "Tested", "Held by mistake"}
		a.Reports[0].Kind = events.BatchReleased
	}
	return []Action{a}
}
