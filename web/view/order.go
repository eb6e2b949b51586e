// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
)

// OrderSheet is one order with why its date is what it is.
type OrderSheet struct {
	Order  Order        `json:"order" doc:"the order and its dates"`
	Why    []WhyStep    `json:"why" doc:"what the date hangs on, first step first"`
	Pieces []PieceSheet `json:"pieces" doc:"its tubes and shafts"`
	Notes  []LogNote    `json:"notes" doc:"what the engine said about it lately, newest first"`

	Lacks string `json:"lacks,omitempty" doc:"the material that pieces of it wait for, as there is not enough, in words; left out: none"`

	Promises []promise.Entry `json:"promises" doc:"what was promised to the customer who asked for a date, a shipment each, against what came of it; empty when nobody asked"`
}

// WhyStep is a step of the chain with the names people use.
type WhyStep struct {
	Step
	Title   string `json:"title" doc:"operation's name"`
	Where   string `json:"where" doc:"station's name"`
	Done    bool   `json:"done" doc:"true: has happened"`
	Binding bool   `json:"binding" doc:"true: one of the longest waits still ahead"`
}

// PieceSheet is a piece on its way through the routing.
type PieceSheet struct {
	Piece    string      `json:"piece" doc:"serial"`
	Line     string      `json:"line" doc:"order line"`
	Product  string      `json:"product" doc:"product's ID"`
	Shaft    bool        `json:"shaft" doc:"true: cut from a tube"`
	Sample   bool        `json:"sample" doc:"true: made to be destroyed"`
	Parent   string      `json:"parent" doc:"serial of its tube"`
	Replaces string      `json:"replaces" doc:"serial of the piece it is made for again"`
	State    string      `json:"state" doc:"where it is, in words"`
	Scrapped bool        `json:"scrapped" doc:"true: scrap"`
	Held     bool        `json:"held" doc:"true: on hold"`
	Why      string      `json:"why" doc:"reason of the hold or the scrap"`
	Done     int         `json:"done" doc:"operations done"`
	Steps    []PieceStep `json:"steps" doc:"operations it passes, in the order of the routing"`
}

// PieceStep is one operation of a piece.
type PieceStep struct {
	Operation string         `json:"operation" doc:"operation's ID"`
	Title     string         `json:"title" doc:"operation's name"`
	Station   string         `json:"station" doc:"station's ID; empty: not planned"`
	Status    JobStatus      `json:"status" doc:"how far it is" enum:"job_status"`
	Start     resources.Tick `json:"start" doc:"start, as reported or planned"`
	End       resources.Tick `json:"end" doc:"end, as reported or planned"`
	Load      string         `json:"load" doc:"load it runs in"`
	Result    string         `json:"result" doc:"last result at this gate: passed, failed, or empty"`
}

// OrderSheet computes the page of one order; nil when there is none of that
// number.
func (v *View) OrderSheet(id string) *OrderSheet {
	o := v.order[id]
	if o == nil {
		return nil
	}
	sheet := &OrderSheet{Order: *o, Why: v.whySteps(id), Pieces: []PieceSheet{}, Notes: []LogNote{}, Lacks: v.Lacks(id), Promises: promise.RecordOf(v.Picture.State, id)}
	for i := range o.Lines {
		line := v.Picture.State.Lines[scheduler.LineKey(o.ID, o.Lines[i].Line)]
		if line == nil {
			continue
		}
		for _, serial := range v.family(line.Pieces) {
			sheet.Pieces = append(sheet.Pieces, v.pieceSheet(serial))
		}
	}
	for i := len(v.Picture.Notes) - 1; i >= 0 && len(sheet.Notes) < 20; i-- {
		n := &v.Picture.Notes[i]
		if v.orderOf(n.Note.About) == id {
			sheet.Notes = append(sheet.Notes, LogNote{Seq: n.Seq, At: n.At, About: n.Note.About, Text: n.Note.Text})
		}
	}
	return sheet
}

// family puts shafts behind the tube they are cut from.
func (v *View) family(serials []string) []string {
	out := []string{}
	for _, serial := range serials {
		p := v.piece(serial)
		if p == nil || p.Parent != "" && slices.Contains(serials, p.Parent) {
			continue
		}
		out = append(out, serial)
		for _, child := range serials {
			if c := v.piece(child); c != nil && c.Parent == serial {
				out = append(out, child)
			}
		}
	}
	return out
}

func (v *View) whySteps(order string) []WhyStep {
	out := []WhyStep{}
	var longest resources.Seconds
	for _, s := range v.Why(order) {
		w := WhyStep{Step: s, Title: s.Operation, Where: s.Station, Done: s.End != 0 && s.End <= v.zone.Now}
		if op := v.operation(s.Piece, s.Operation); op != nil {
			w.Title = cmp.Or(op.Name, op.ID)
		}
		if st := v.plant.Station(s.Station); st != nil {
			w.Where = cmp.Or(st.Name, st.ID)
		}
		if s.Start >= v.zone.Now {
			longest = max(longest, s.Waited)
		}
		out = append(out, w)
	}
	// Mark what is worth arguing with: waits of at least half the longest one.
	for i := range out {
		w := &out[i]
		w.Binding = w.Start >= v.zone.Now && w.Waited > Grace && w.Waited*2 >= longest
	}
	return out
}

func (v *View) pieceSheet(serial string) PieceSheet {
	p := v.piece(serial)
	sheet := PieceSheet{
		Piece: serial, Line: p.Line, Product: p.Product, Shaft: p.Shaft, Sample: p.Sample, Parent: p.Parent,
		Replaces: p.Replaces, Scrapped: p.Scrapped, Held: p.Held, Why: p.Why, Steps: []PieceStep{},
	}
	var running, next *PieceStep
	for i := range p.Ops {
		sheet.Steps = append(sheet.Steps, v.pieceStep(p, &p.Ops[i]))
	}
	for i := range sheet.Steps {
		s := &sheet.Steps[i]
		switch s.Status {
		case JobDone:
			sheet.Done++
		case JobRunning, JobPaused:
			running = s
		default:
			if s.Start != 0 && (next == nil || s.Start < next.Start) {
				next = s
			}
		}
	}
	sheet.State = v.whereabouts(&sheet, running, next)
	return sheet
}

func (v *View) pieceStep(p *scheduler.Piece, op *scheduler.OpState) PieceStep {
	s := PieceStep{Operation: op.Operation, Title: op.Operation, Status: JobPlanned}
	if o := v.operation(p.Serial, op.Operation); o != nil {
		s.Title = cmp.Or(o.Name, o.ID)
	}
	if j := v.jobOf[member{Piece: p.Serial, Operation: op.Operation}]; j != nil {
		s.Station, s.Status, s.Start, s.End = j.Station, j.Status, j.Start, j.End
		if j.Kind == LoadJob {
			s.Load = j.ID
		}
	}
	switch {
	case op.Failed:
		s.Result = "failed"
	case op.Passed:
		s.Result = "passed"
	}
	return s
}

// lacks is the material that a piece waits for; empty: none.
func (v *View) lacks(s *PieceSheet) string {
	for i := range s.Steps {
		if material := v.lack[member{Piece: s.Piece, Operation: s.Steps[i].Operation}]; material != "" {
			return material
		}
	}
	return ""
}

// whereabouts says in words where a piece is.
func (v *View) whereabouts(s *PieceSheet, running, next *PieceStep) string {
	switch {
	case s.Scrapped:
		return "scrap"
	case s.Held:
		return "on hold"
	case running != nil && running.Status == JobPaused:
		return running.Title + " on " + running.Station + ", paused"
	case running != nil:
		return running.Title + " on " + running.Station + " until " + v.zone.Time(running.End)
	case s.Done == len(s.Steps):
		return "all operations done"
	case v.lacks(s) != "":
		return "waits for " + v.materialName(v.lacks(s)) + ": there is not enough"
	case next != nil:
		return "next " + next.Title + " on " + next.Station + ", " + v.zone.Time(next.Start)
	}
	return "not planned yet"
}
