// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/whatif"
)

// Sides are two shops with their plans, to be drawn beside each other.
type Sides struct {
	was, is *View
}

// SidesOf makes the views of both; it takes a moment, so whoever shows them often
// keeps them. now is the instant both are planned for.
func SidesOf(now resources.Tick, was *scheduler.State, before *scheduler.Plan, is *scheduler.State, after *scheduler.Plan) *Sides {
	return &Sides{was: New(&Picture{Now: now, State: was, Plan: before}), is: New(&Picture{Now: now, State: is, Plan: after})}
}

// SidesBetween are the shops with the changes of two sets.
func SidesBetween(a, b *Sides) *Sides { return &Sides{was: a.is, is: b.is} }

// TwoLineups are the line-ups of both, over one stretch of time.
type TwoLineups struct {
	Before Lineup `json:"before" doc:"the shop as it is"`
	After  Lineup `json:"after" doc:"the shop with the changes"`
}

// Lineups computes both.
func (s *Sides) Lineups(q LineupQuery) TwoLineups {
	l := TwoLineups{Before: s.was.Lineup(q)}
	q.From = l.Before.From // the same stretch, though one may be planned for another instant
	l.After = s.is.Lineup(q)
	return l
}

// RowPair is a station in both line-ups.
type RowPair struct {
	ID   string
	Name string
	Was  *LineupRow // nil: there is no such station
	Is   *LineupRow // nil: there is none with the changes
	Same bool       // it is alike on the stretch; Was stands for both
}

// Pairs puts the rows of each station together, and notes in which blocks they
// differ.
func (l TwoLineups) Pairs() []RowPair {
	at := map[string]*LineupRow{}
	for i := range l.After.Rows {
		at[l.After.Rows[i].ID] = &l.After.Rows[i]
	}
	var out []RowPair
	for i := range l.Before.Rows {
		was := &l.Before.Rows[i]
		p := RowPair{ID: was.ID, Name: was.Name, Was: was, Is: at[was.ID]}
		delete(at, was.ID)
		p.Same = p.Is != nil && differ(was.Blocks, p.Is.Blocks) == 0 && was.Lanes == p.Is.Lanes && slices.Equal(was.Closed, p.Is.Closed) && slices.Equal(was.Down, p.Is.Down)
		out = append(out, p)
	}
	for i := range l.After.Rows {
		if is := &l.After.Rows[i]; at[is.ID] != nil {
			differ(nil, is.Blocks)
			out = append(out, RowPair{ID: is.ID, Name: is.Name, Is: is})
		}
	}
	return out
}

// differ marks the blocks that are on one side only, and counts them.
func differ(was, is []Block) int {
	key := func(b *Block) string {
		pieces := ""
		for i := range b.Job.Pieces {
			pieces += " " + b.Job.Pieces[i].Piece
		}
		return fmt.Sprint(b.X, b.W, b.Lane, b.Job.Title, pieces, b.Job.Start, b.Job.End)
	}
	count := map[string]int{}
	for i := range was {
		count[key(&was[i])]++
	}
	n := 0
	for i := range is {
		k := key(&is[i])
		is[i].Moved = count[k] == 0
		count[k] = max(0, count[k]-1)
		if is[i].Moved {
			n++
		}
	}
	for i := range was { // what is left is only on the first side
		if count[key(&was[i])] > 0 {
			was[i].Moved = true
			n++
		}
	}
	return n
}

// SidesPage is a comparison as it is shown: figures, orders, moved dates, and the
// two line-ups.
type SidesPage struct {
	*whatif.Comparison
	WasWord string // what the two sides are called
	IsWord  string
	WasRisk *whatif.Outlook // nil: not played
	IsRisk  *whatif.Outlook
	Lineups TwoLineups
	All     bool  // stations whose line is the same are drawn too
	Figures bool  // the line-ups are not there any more
	Tries   int64 // of the searches behind both
	Few     bool  // too few to say much
}

// EnoughTries is how often a search must have tried something before it says
// anything that no date moves. With fewer, what could move may just not have been
// looked at: the machine was busy, or the search was stopped.
const EnoughTries = 100

// FewTries tells whether the searches behind a comparison could hardly try
// anything, and there was more to try.
func FewTries(c *whatif.Comparison) bool { return c.Iterations < EnoughTries && !c.Proven }

// EnoughTries is that number, for the page.
func (p SidesPage) EnoughTries() int { return EnoughTries }

// Pairs are the stations to draw.
func (p SidesPage) Pairs() []RowPair {
	var out []RowPair
	for _, x := range p.Lineups.Pairs() {
		if p.All || !x.Same {
			out = append(out, x)
		}
	}
	return out
}

// Minus is a difference.
func (p SidesPage) Minus(a, b float64) float64 { return a - b }

// TriedPage is what a set of changes would do.
type TriedPage struct {
	WhatIf
	Sides *SidesPage // nil: nothing is compared yet
}

// Again is what is sent to try the same changes on the shop as it is now.
func (p TriedPage) Again() map[string]any {
	return map[string]any{"name": p.Name, "note": p.Note, "changes": p.Rows, "text": p.Source}
}

// PairPage is two sets of changes held against each other.
type PairPage struct {
	WhatIfPair
	Sides *SidesPage
}

// Figure writes a figure of one side.
func Figure(r whatif.Row, x float64) string { return fmt.Sprintf("%.*f", r.Digits, x) }

// Difference writes by how much a figure is another; empty when it is not.
func Difference(r whatif.Row) string {
	text := fmt.Sprintf("%+.*f", r.Digits, r.Is-r.Was)
	if text == fmt.Sprintf("%+.*f", r.Digits, 0.0) || text == fmt.Sprintf("-%.*f", r.Digits, 0.0) {
		return ""
	}
	return text
}

// Turn says whether the difference is for the better or for the worse; empty: it
// is neither.
func Turn(r whatif.Row) string {
	switch d := (r.Is - r.Was) * float64(r.Better); {
	case Difference(r) == "" || d == 0:
		return ""
	case d > 0:
		return "better"
	}
	return "worse"
}

// Later writes by how much an order is complete later or sooner.
func Later(d resources.Seconds) string {
	switch {
	case d > 0:
		return Span(d) + " later"
	case d < 0:
		return Span(-d) + " sooner"
	}
	return "–"
}
