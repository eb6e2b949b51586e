// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"strings"

	"towpath/resources"
)

func fixed3(n int64) string { return fmt.Sprintf("%d.%03d", n/1000, n%1000) }

// reasons say why a job is where it is in the line: for whom, what it must
// catch, what it waited for.
func (v *View) reasons(j *Job) []string {
	out := []string{}
	if first := v.mostUrgent(j); first != nil {
		out = append(out, v.dateReason(first))
	}
	for i := range j.Pieces {
		if next := v.nextLoad(&j.Pieces[i]); next != nil && j.Kind != MixJob {
			out = appendNew(out, fmt.Sprintf("It goes into load %s on %s at %s.", next.ID, next.Station, v.zone.Time(next.Start)))
		}
		if len(out) > 2 {
			break
		}
	}
	if j.Kind != MixJob && len(j.Pieces) > 0 {
		for _, s := range v.Why(j.Pieces[0].Order) {
			if s.Piece == j.Pieces[0].Piece && s.Operation == j.Pieces[0].Operation && s.Because != "" {
				out = appendNew(out, sentence(s.Because))
			}
		}
	}
	return out
}

// mostUrgent is the piece whose order stands worst, then is due first.
func (v *View) mostUrgent(j *Job) *JobPiece {
	var first *JobPiece
	for i := range j.Pieces {
		p := &j.Pieces[i]
		if first == nil || p.Standing.rank() < first.Standing.rank() || p.Standing == first.Standing && p.Due < first.Due {
			first = p
		}
	}
	return first
}

func (v *View) dateReason(p *JobPiece) string {
	o := v.order[p.Order]
	if o == nil {
		return ""
	}
	text := "Order " + o.ID
	if o.Customer != "" {
		text += " for " + o.Customer
	}
	text += " is due " + v.zone.When(o.Due)
	switch {
	case o.Predicted == 0:
		return text + "; its date is not known."
	case o.Slack < 0:
		return text + " and will be " + Span(o.Slack) + " late."
	}
	return text + ", " + Span(o.Slack) + " to spare."
}

// nextLoad is the cure that the piece goes into next, when that is within a
// day.
func (v *View) nextLoad(p *JobPiece) *Job {
	here := v.jobOf[member{Piece: p.Piece, Operation: p.Operation}]
	piece := v.piece(p.Piece)
	if here == nil || piece == nil {
		return nil
	}
	var best *Job
	for i := range piece.Ops {
		j := v.jobOf[member{Piece: p.Piece, Operation: piece.Ops[i].Operation}]
		if j != nil && j != here && j.Kind == LoadJob && j.Recipe != "" && j.Start >= here.End && (best == nil || j.Start < best.Start) {
			best = j
		}
	}
	if best != nil && best.Start-here.End < resources.Tick(resources.Day) {
		return best
	}
	return nil
}

func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
