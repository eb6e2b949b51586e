// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// floor is people who do what the plan says, to the minute, and report it.
type floor struct {
	quiet map[string]bool // stations where nobody works or reports
	ids   int
}

// due is what they report at an instant: what ends first, so that what follows
// finds its place free.
func (f *floor) due(s *scheduler.State, now resources.Tick) []events.Event {
	var out []events.Event
	say := func(kind events.Kind, station string, data any) {
		f.ids++
		out = append(out, events.Event{ID: fmt.Sprintf("floor-%03d", f.ids), Kind: kind, Plant: s.Plant.ID, Station: station, At: now, By: "Floor", Data: data})
	}
	plan := s.Plan
	if plan == nil {
		return nil
	}
	works := func(station string) bool {
		st := s.Stations[station]
		return !f.quiet[station] && (st == nil || !st.Down)
	}
	begun := map[string]bool{} // loads
	work := slices.Clone(plan.Work)
	slices.SortStableFunc(work, func(a, b scheduler.Work) int { return cmp.Compare(a.End, b.End) })
	for i := range work {
		w := &work[i]
		o := opOf(s, w)
		if o == nil || o.Status != scheduler.Started || w.End > now || !works(w.Station) {
			continue
		}
		if o.Load != "" {
			if !begun[o.Load] {
				begun[o.Load] = true
				say(events.LoadFinished, w.Station, events.LoadData{Load: o.Load})
			}
			continue
		}
		say(events.OperationFinished, w.Station, events.OperationData{Piece: w.Piece, Operation: w.Operation})
		if op := s.Plant.Product(s.Pieces[w.Piece].Product).Operation(w.Operation); op.Gate != "" {
			say(events.ResultRecorded, w.Station, events.ResultData{Piece: w.Piece, Operation: w.Operation, Gate: op.Gate, Pass: true})
		}
	}
	for i := range plan.Mixes {
		m := &plan.Mixes[i]
		if s.Mixes[m.ID] == nil && m.End <= now && works(m.Station) {
			say(events.MixMade, m.Station, events.MixData{Mix: m.ID, Resin: m.Resin, Grams: m.Grams})
		}
	}
	for i := range plan.Work {
		w := &plan.Work[i]
		o := opOf(s, w)
		if o == nil || o.Status != scheduler.Planned || w.Start > now || w.Load != "" || !works(w.Station) || s.Pieces[w.Piece].Held {
			continue
		}
		say(events.OperationStarted, w.Station, events.OperationData{Piece: w.Piece, Operation: w.Operation, Mix: w.Mix, Tools: w.Tools})
	}
	for i := range plan.Loads {
		l := &plan.Loads[i]
		if run := s.Loads[l.ID]; run != nil && run.Status != scheduler.Planned || l.Start > now || !works(l.Station) {
			continue
		}
		d := events.LoadData{Load: l.ID}
		for _, m := range l.Members {
			d.Pieces = append(d.Pieces, events.LoadItem{Piece: m.Piece, Operation: m.Operation})
		}
		if s.Loads[l.ID] == nil {
			say(events.LoadClosed, l.Station, d)
		}
		say(events.LoadStarted, l.Station, d)
	}
	return out
}

// opOf is the state of a planned step; nil when the piece is no more.
func opOf(s *scheduler.State, w *scheduler.Work) *scheduler.OpState {
	p := s.Pieces[w.Piece]
	if p == nil || p.Scrapped {
		return nil
	}
	for i := range p.Ops {
		if p.Ops[i].Operation == w.Operation {
			return &p.Ops[i]
		}
	}
	return nil
}

// told is a report in a line.
func told(e events.Event) string {
	text := strings.TrimSpace(e.Station + " " + string(e.Kind))
	switch d := e.Data.(type) {
	case events.OperationData:
		text += " " + d.Piece + " " + d.Operation + because(d.Why)
	case events.LoadData:
		text += " " + d.Load
		for i, item := range d.Pieces {
			if i == 0 {
				text += ":"
			}
			text += " " + item.Piece
		}
		text += because(d.Why)
	case events.MixData:
		text += " " + d.Mix + because(d.Why)
	case events.ResultData:
		text += " " + d.Piece + " " + d.Gate + map[bool]string{true: " passed", false: " failed"}[d.Pass] + because(d.Why)
	case events.PieceData:
		text += " " + d.Piece + because(d.Why)
	case events.BatchData:
		text += " " + cmp.Or(d.Mix, d.Load, d.Lot) + because(d.Why)
	case events.StationData:
		if d.Until != 0 {
			text += " until " + clockText(d.Until)
		}
		text += because(d.Why)
	case events.ToolData:
		text += " " + d.Unit + because(d.Why)
	case events.AbsentData:
		text += fmt.Sprintf(" %d of %s", d.People, d.Crew)
		if d.From != 0 {
			text += " from " + clockText(d.From)
		}
		if d.Until != 0 {
			text += " until " + clockText(d.Until)
		}
		text += because(d.Why)
	case events.PresentData:
		text += " " + d.Crew + because(d.Why)
	case events.VoidData:
		text += " " + d.Event + because(d.Why)
	case events.OrderData:
		text += fmt.Sprintf(" %s/%s: %d %s due %s, %s", d.Order, d.Line, d.Quantity, d.Product, clockText(d.Due), d.Kind)
	}
	return text
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ", " + why
}

// clockText is an instant in scenarios: their shop keeps UTC.
func clockText(t resources.Tick) string { return time.Unix(int64(t), 0).UTC().Format("Mon 15:04") }
