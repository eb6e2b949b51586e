// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"towpath/events"
	"towpath/resources"
)

// LogQuery is what to show of the log.
type LogQuery struct {
	Show  string // one of LogFilters' keys; empty: all
	Text  string // words that must occur
	Limit int    // most rows; 0: 200
}

// LogFilters lists the filters with the words pages use.
func LogFilters() []Choice {
	return []Choice{
		{"all", "all"}, {"rejects", "not believed"}, {"corrections", "corrections"}, {"work", "work"}, {"trouble", "trouble"}, {"orders", "orders"}, {"plans", "plans"}, {"notes", "notes"},
	}
}

// Log is what happened lately, newest first.
type Log struct {
	Show  string   `json:"show" doc:"filter in force"`
	Text  string   `json:"text" doc:"words searched for"`
	Rows  []LogRow `json:"rows" doc:"newest first"`
	Total int      `json:"total" doc:"rows that fit, shown or not"`
	Plan  int64    `json:"plan" doc:"version of the plan; 0: none yet"`
}

// LogRow is a fact, a record that was not believed, or a note of the engine.
type LogRow struct {
	Seq     uint64         `json:"seq" doc:"place in the log"`
	ID      string         `json:"id" doc:"event's ID; empty for a note"`
	At      resources.Tick `json:"at" doc:"when it happened, as reported"`
	Sort    string         `json:"sort" doc:"event, reject or note"`
	Kind    string         `json:"kind" doc:"kind of event; empty for a note"`
	Word    string         `json:"word" doc:"what happened, in words"`
	About   string         `json:"about" doc:"piece, load, mix, order, station or tool"`
	Station string         `json:"station" doc:"reporting station"`
	By      string         `json:"by" doc:"who reported"`
	Detail  string         `json:"detail" doc:"reason, result or note"`
	Order   string         `json:"order" doc:"order it concerns, when known"`
	Void    string         `json:"void" doc:"ID of the event that took this one back; empty: it stands"`
	CanVoid bool           `json:"can_void" doc:"true: it can be taken back"`
}

// LogNote is something the engine said.
type LogNote struct {
	Seq   uint64         `json:"seq" doc:"place in the log of the event it belongs to"`
	At    resources.Tick `json:"at" doc:"instant of that event"`
	About string         `json:"about" doc:"what it speaks of"`
	Text  string         `json:"text" doc:"what it says"`
}

// Log computes the log page.
func (v *View) Log(q LogQuery) Log {
	l := Log{Show: cmp.Or(q.Show, "all"), Text: q.Text, Rows: []LogRow{}}
	if v.Picture.Plan != nil {
		l.Plan = v.Picture.Plan.Version
	}
	words := strings.Fields(strings.ToLower(q.Text))
	limit := cmp.Or(q.Limit, 200)
	for _, row := range v.logRows() {
		if !inLog(l.Show, row) || !row.mentions(words) {
			continue
		}
		l.Total++
		if len(l.Rows) < limit {
			l.Rows = append(l.Rows, row)
		}
	}
	return l
}

func (r *LogRow) mentions(words []string) bool {
	text := strings.ToLower(strings.Join([]string{r.Kind, r.Word, r.About, r.Station, r.By, r.Detail, r.Order}, " "))
	for _, w := range words {
		if !strings.Contains(text, w) {
			return false
		}
	}
	return true
}

func inLog(show string, r LogRow) bool {
	noun, _, _ := strings.Cut(r.Kind, ".")
	switch show {
	case "rejects":
		return r.Sort == "reject"
	case "notes":
		return r.Sort == "note"
	case "corrections":
		return r.Void != "" || r.Kind == string(events.EventVoided)
	case "plans":
		return noun == "plan"
	case "orders":
		return noun == "order"
	case "work":
		return noun == "operation" || noun == "load" || noun == "mix" || noun == "result"
	case "trouble":
		switch events.Kind(r.Kind) {
		case events.StationDown, events.StationUp, events.ToolOut, events.ToolIn, events.CrewAbsent, events.CrewPresent, events.MixDiscarded,
			events.PieceScrapped, events.PieceHeld, events.PieceReleased, events.BatchHeld, events.BatchReleased, events.OperationPaused, events.EventVoided:
			return true
		}
		return r.Sort == "reject" || strings.HasPrefix(r.Detail, "FAILED")
	}
	return r.Sort != "note"
}

// logRows joins events, rejects and notes, newest first.
func (v *View) logRows() []LogRow {
	p := v.Picture
	rows := make([]LogRow, 0, len(p.Recent)+len(p.Rejects)+len(p.Notes))
	rejected := map[uint64]bool{}
	for i := range p.Rejects {
		x := &p.Rejects[i]
		rejected[x.Seq] = true
		rows = append(rows, LogRow{
			Seq: x.Seq, ID: x.ID, At: x.At, Sort: "reject", Kind: string(x.Kind), Word: EventWord(x.Kind),
			About: x.About, By: x.By, Detail: x.Reason, Order: v.orderOf(x.About),
		})
	}
	for i := range p.Recent {
		e := &p.Recent[i].Event
		if rejected[e.Seq] {
			continue
		}
		row := LogRow{
			Seq: e.Seq, ID: e.ID, At: e.At, Sort: "event", Kind: string(e.Kind), Word: EventWord(e.Kind),
			About: events.About(*e), Station: e.Station, By: e.By, Detail: v.eventDetail(e), Order: v.orderOf(events.About(*e)),
		}
		if e.Kind == events.PlanPublished {
			row.About = "plan"
		}
		if !p.Recent[i].Believed {
			row.Sort = "reject"
		}
		v.correction(&row)
		rows = append(rows, row)
	}
	for i := range p.Notes {
		n := &p.Notes[i]
		rows = append(rows, LogRow{Seq: n.Seq, At: n.At, Sort: "note", Word: "note", About: n.Note.About, Detail: n.Note.Text, Order: v.orderOf(n.Note.About)})
	}
	slices.SortStableFunc(rows, func(a, b LogRow) int { return cmp.Compare(b.Seq, a.Seq) })
	return rows
}

// correction says whether a fact still stands and whether it can be taken
// back. A plan is replaced by the next one, a plant by another declaration; a
// promise whose time is over expires again at once.
func (v *View) correction(row *LogRow) {
	if row.Sort != "event" {
		return
	}
	by, void := v.Picture.State.VoidedBy(row.ID)
	switch kind := events.Kind(row.Kind); {
	case void:
		row.Void = by
	case kind != events.PlanPublished && kind != events.PlantDeclared && kind != events.PromiseExpired:
		seq, applied := v.Picture.State.Applied(row.ID)
		row.CanVoid = applied && seq == row.Seq
	}
}

// orderOf finds the order a name belongs to: a serial, an order line, an
// order, as notes write them too.
func (v *View) orderOf(about string) string {
	if piece := v.piece(about); piece != nil {
		return piece.Order
	}
	about = strings.TrimPrefix(strings.TrimPrefix(about, "order "), "promise ")
	order, _, _ := strings.Cut(about, "/")
	if v.order[order] != nil {
		return order
	}
	return ""
}

// eventDetail is what an event says beyond its kind and subject.
func (v *View) eventDetail(e *events.Event) string {
	switch d := e.Data.(type) {
	case events.OperationData:
		return joinDetail(v.opName(d.Piece, d.Operation), d.Why)
	case events.LoadData:
		if len(d.Pieces) > 0 {
			return joinDetail(Count(len(d.Pieces), "piece"), d.Why)
		}
		return d.Why
	case events.MixData:
		return joinDetail(Grams(d.Grams), d.Why)
	case events.StationData:
		if d.Until != 0 {
			return joinDetail(d.Why, "expected back "+v.zone.When(d.Until))
		}
		return d.Why
	case events.ToolData:
		return d.Why
	case events.AbsentData:
		return v.absentDetail(d)
	case events.PresentData:
		return d.Why
	case events.PieceData:
		return d.Why
	case events.ResultData:
		return v.resultDetail(d)
	case events.OrderData:
		return joinDetail(fmt.Sprintf("%d × %s", d.Quantity, d.Product), joinDetail("ship by "+v.zone.When(d.ShipBy), d.Note))
	case events.CancelData:
		return d.Why
	case events.ReserveData:
		return fmt.Sprintf("%d × %s, ship by %s, kept until %s", d.Quantity, d.Product, v.zone.When(d.ShipBy), v.zone.When(d.Expires))
	case events.PromiseData:
		return d.Why
	case events.PlanData:
		return joinDetail(joinDetail(fmt.Sprintf("version %d", d.Version), askedWords(d.Asked)), churnWords(d.Churn))
	case events.VoidData:
		return d.Why
	}
	return ""
}

func (v *View) absentDetail(d events.AbsentData) string {
	text := Heads(d.People)
	if d.From != 0 {
		text += " from " + v.zone.When(d.From)
	}
	if d.Until != 0 {
		text += " until " + v.zone.When(d.Until)
	}
	return joinDetail(text, d.Why)
}

func (v *View) resultDetail(d events.ResultData) string {
	text := d.Gate + " passed"
	if !d.Pass {
		text = "FAILED: " + d.Gate
	}
	names := make([]string, 0, len(d.Values))
	for name := range d.Values {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		text += fmt.Sprintf(", %s %g", strings.ReplaceAll(name, "_", " "), d.Values[name])
	}
	return joinDetail(text, d.Why)
}

func (v *View) opName(piece, operation string) string {
	if op := v.operation(piece, operation); op != nil {
		return cmp.Or(op.Name, op.ID)
	}
	return operation
}

func joinDetail(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + ", " + b
}

// EventWord says a kind of event in words.
func EventWord(k events.Kind) string {
	switch k {
	case events.PlantDeclared:
		return "plant declared"
	case events.PromiseReleased:
		return "promise let go"
	case events.MixMade:
		return "mix made"
	case events.MixDiscarded:
		return "mix thrown away"
	case events.StationUp:
		return "station works again"
	case events.ToolOut:
		return "tool out of use"
	case events.ToolIn:
		return "tool back in use"
	case events.CrewAbsent:
		return "people away"
	case events.CrewPresent:
		return "people back"
	case events.PieceHeld:
		return "piece put on hold"
	case events.BatchHeld:
		return "mix, load or lot put on hold"
	case events.BatchReleased:
		return "mix, load or lot released"
	case events.EventVoided:
		return "event taken back"
	case "":
		return "unreadable record"
	}
	return strings.ReplaceAll(string(k), ".", " ")
}
