// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
)

// DatesQuery is what to show of the orders and in which order.
type DatesQuery struct {
	Text string // words that must occur in number, customer, product, note or a serial
	Show string // one of DatesFilters' or DatesCounts' keys; empty: open orders
	Sort string // one of DatesSorts; empty: due
	Down bool   // largest first
}

// DatesFilters lists the filters with the words pages use.
func DatesFilters() []Choice {
	return []Choice{
		{"open", "open"}, {"trouble", "late, lost or held up"}, {"tight", "tight"}, {"complete", "complete"}, {"all", "all"},
	}
}

// DatesCounts lists the filters behind the counts of Head that are not among
// DatesFilters: each shows the orders that its count counts.
func DatesCounts() []Choice {
	return []Choice{
		{"on-time", OnTime.Word()}, {"late", Late.Word()}, {"lost", Lost.Word()}, {"held", Held.Word()}, {"no-date", NoDate.Word()},
		{"complete-late", "completed late"},
	}
}

// DatesSorts lists the columns that can be sorted by.
func DatesSorts() []string {
	return []string{"due", "predicted", "slack", "order", "customer", "standing"}
}

// Choice is a key with its words.
type Choice struct {
	Key  string `json:"key" doc:"value of the parameter"`
	Word string `json:"word" doc:"as pages say it"`
}

// Dates is the list of orders with their dates.
type Dates struct {
	Head   Head      `json:"head" doc:"all orders counted by standing"`
	Show   string    `json:"show" doc:"filter in force"`
	Sort   string    `json:"sort" doc:"column it is sorted by"`
	Down   bool      `json:"down" doc:"true: largest first"`
	Text   string    `json:"text" doc:"words searched for"`
	Total  int       `json:"total" doc:"orders without filter and search"`
	Orders []DateRow `json:"orders" doc:"orders that fit"`

	Score []ScoreRow `json:"score" doc:"what the plan is worth, in the order it is weighed"`

	Promised PromiseCount `json:"promised" doc:"dates promised to customers who asked, against what came of them"`
}

// Filters lists the filters to offer; that in force is always among them.
func (d Dates) Filters() []Choice {
	list := DatesFilters()
	for _, c := range DatesCounts() {
		if c.Key == d.Show {
			list = append(list, c)
		}
	}
	return list
}

// PromiseCount counts confirmed promises.
type PromiseCount struct {
	Confirmed  int `json:"confirmed" doc:"promises that became orders which are not cancelled"`
	Complete   int `json:"complete" doc:"of those, orders that are complete"`
	Achieved   int `json:"achieved" doc:"of those, orders that were ready for the promised shipment"`
	Open       int `json:"open" doc:"confirmed and not complete"`
	Endangered int `json:"endangered" doc:"of those, orders that the plan has ready too late for the promised shipment, or that nobody can date"`
}

// DateRow is an order and, in a few words, what its date hangs on.
type DateRow struct {
	Order
	Why string `json:"why" doc:"the longest wait on the way to its date, in words; empty: none"`

	Promised resources.Tick `json:"promised" doc:"shipment promised to a customer who asked for a date, the last of several, as it was said then; empty: nobody asked"`
	Broken   bool           `json:"broken" doc:"true: ready, or expected to be ready, too late for that shipment or one before it"`
}

// Dates computes the dates page.
func (v *View) Dates(q DatesQuery) Dates {
	d := Dates{Head: v.Head(), Show: cmp.Or(q.Show, "open"), Sort: cmp.Or(q.Sort, "due"), Down: q.Down, Text: q.Text, Total: len(v.orders), Orders: []DateRow{}, Score: v.Score()}
	record := promise.Recorded(v.Picture.State)
	d.Promised = countPromises(&record)
	words := strings.Fields(strings.ToLower(q.Text))
	for _, o := range v.orders {
		trouble := d.Show == "trouble" && v.Lacks(o.ID) != ""
		if (trouble || shows(d.Show, o)) && v.mentions(o, words) {
			row := DateRow{Order: *o, Why: v.shortWhy(o)}
			for i := range record.Entries {
				if e := &record.Entries[i]; e.Promise == o.ID {
					row.Promised, row.Broken = max(row.Promised, e.ShipBy), row.Broken || e.Expected != 0 && !e.Kept
				}
			}
			d.Orders = append(d.Orders, row)
		}
	}
	slices.SortStableFunc(d.Orders, func(a, b DateRow) int {
		c := compareRows(d.Sort, &a, &b)
		if d.Down {
			return -c
		}
		return c
	})
	return d
}

func countPromises(r *promise.Record) PromiseCount {
	c := PromiseCount{Confirmed: r.Confirmed, Complete: r.Complete, Achieved: r.Achieved, Open: r.Confirmed - r.Complete}
	for i := range r.Entries {
		if e := &r.Entries[i]; e.Status == string(scheduler.Confirmed) && !e.Complete && !e.Kept {
			c.Endangered++
		}
	}
	return c
}

// shows says whether an order is among those of a filter. What is complete is
// nobody's trouble any more, however late it was.
func shows(filter string, o *Order) bool {
	s := o.Standing
	switch filter {
	case "all":
		return true
	case "complete":
		return o.Done
	case "complete-late":
		return o.DoneLate()
	case "open":
		return !o.Done && s != Cancelled
	case "trouble":
		return !o.Done && s.Bad()
	case "on-time":
		return s == OnTime || s == Tight
	}
	return !o.Done && s == Standing(filter)
}

func compareRows(by string, a, b *DateRow) int {
	switch by {
	case "predicted":
		return compareKnown(a.Predicted, b.Predicted)
	case "slack":
		if a.Predicted == 0 || b.Predicted == 0 {
			return compareKnown(a.Predicted, b.Predicted)
		}
		return cmp.Compare(a.Slack, b.Slack)
	case "order":
		return compareNatural(a.ID, b.ID)
	case "customer":
		return cmp.Or(strings.Compare(a.Customer, b.Customer), cmp.Compare(a.Due, b.Due))
	case "standing":
		return cmp.Compare(a.Standing.rank(), b.Standing.rank())
	}
	return cmp.Compare(a.Due, b.Due)
}

// compareKnown puts what is not known last.
func compareKnown(a, b resources.Tick) int {
	if (a == 0) != (b == 0) {
		if a == 0 {
			return 1
		}
		return -1
	}
	return cmp.Compare(a, b)
}

// mentions says whether every word occurs in what an order says.
func (v *View) mentions(o *Order, words []string) bool {
	if len(words) == 0 {
		return true
	}
	var b strings.Builder
	b.WriteString(o.ID + " " + o.Customer + " " + o.Standing.Word())
	for i := range o.Lines {
		l := &o.Lines[i]
		b.WriteString(" " + l.Product + " " + l.Name + " " + l.Note)
		if line := v.Picture.State.Lines[o.ID+"/"+l.Line]; line != nil {
			b.WriteString(" " + strings.Join(line.Pieces, " "))
		}
	}
	text := strings.ToLower(b.String())
	for _, w := range words {
		if !strings.Contains(text, w) {
			return false
		}
	}
	return true
}

// shortWhy names the longest wait of an order's chain.
func (v *View) shortWhy(o *Order) string {
	if o.Standing == Held {
		if piece := v.heldPiece(o); piece != "" {
			return piece
		}
	}
	if o.Standing == NoDate {
		return v.Lacks(o.ID)
	}
	if !o.Standing.Bad() && o.Standing != Tight {
		return "" // nobody argues with a date that holds
	}
	var longest *Step
	steps := v.Why(o.ID)
	for i := range steps {
		if steps[i].Start >= v.zone.Now && steps[i].Waited > Grace && (longest == nil || steps[i].Waited > longest.Waited) {
			longest = &steps[i]
		}
	}
	if longest == nil {
		return ""
	}
	return Span(longest.Waited) + ": " + longest.Because
}

// Lacks says which material an order waits for; empty: none.
func (v *View) Lacks(order string) string {
	short := map[string]int{}
	for m, material := range v.lack {
		if p := v.piece(m.Piece); p != nil && p.Order == order {
			short[material]++
		}
	}
	var out []string
	for _, material := range slices.Sorted(maps.Keys(short)) {
		verb := " lack "
		if short[material] == 1 {
			verb = " lacks "
		}
		out = append(out, Count(short[material], "piece")+verb+v.materialName(material))
	}
	return strings.Join(out, ", ")
}

func (v *View) materialName(id string) string {
	if m := v.plant.Material(id); m != nil {
		return cmp.Or(m.Name, m.ID)
	}
	return id
}

func (v *View) heldPiece(o *Order) string {
	for _, serial := range v.serials {
		if p := v.piece(serial); p.Order == o.ID && p.Held {
			if p.Why != "" {
				return serial + " is on hold: " + p.Why
			}
			return serial + " is on hold"
		}
	}
	return ""
}

// Step is one link of the chain behind a date: the operation ran or will run
// in [Start, End) after waiting Waited because of Because.
type Step struct {
	Piece     string            `json:"piece" doc:"serial of the piece"`
	Operation string            `json:"operation" doc:"operation of the routing"`
	Station   string            `json:"station" doc:"where it is done"`
	Start     resources.Tick    `json:"start" doc:"start of loading"`
	End       resources.Tick    `json:"end" doc:"end of unloading"`
	Waited    resources.Seconds `json:"waited_s" doc:"wait before it, seconds"`
	Because   string            `json:"because" doc:"what it waited for, in words"`
	Kind      string            `json:"kind" doc:"kind of the binding thing, e.g. station, people, tool, mix, wait, calendar, clock (kept back for what must follow within a time)"`
}

// Why is the chain of what an order waits for; empty when nobody can say.
func (v *View) Why(order string) []Step {
	if v.Picture.Plan == nil || v.order[order] == nil {
		return []Step{}
	}
	if known, ok := v.why.Load(order); ok {
		return known.([]Step)
	}
	steps := []Step{}
	for _, s := range scheduler.Explain(v.Picture.State, v.Picture.Plan, order) {
		steps = append(steps, Step{
			Piece: s.Piece, Operation: s.Operation, Station: s.Station, Start: s.Start, End: s.End,
			Waited: s.Waited, Because: s.Because, Kind: string(s.Kind),
		})
	}
	v.why.Store(order, steps)
	return steps
}
