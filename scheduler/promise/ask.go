// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// Tick is an instant.
type Tick = resources.Tick

// Limits of what may be asked.
const (
	// MaxPieces is the most pieces one promise may be asked for. More is a
	// season's work: a forecast for the capacity view, or several orders.
	MaxPieces = 1000
	// The confidences a date can be given for. No plan is certain, and what is
	// less likely than not is no promise.
	LeastConfidence, MostConfidence = 0.5, 0.99
	// DefaultConfidence is meant where none is asked.
	DefaultConfidence = 0.9
)

// Ask is the question on the telephone: when could so many of a product leave,
// and could it be by the wished date?
type Ask struct {
	Product    string  `json:"product" doc:"a product of the plant"`
	Quantity   int     `json:"quantity" doc:"pieces, 1 to 1000"`
	Wish       Tick    `json:"wish" doc:"instant by which it is wished to leave"`
	Confidence float64 `json:"confidence" doc:"share of possible courses in which the second date holds, 0.5 to 0.99"`
	Order      string  `json:"order" doc:"number it would have as an order"`
	Customer   string  `json:"customer,omitempty" doc:"who asks"`
	Weight     int64   `json:"weight" doc:"weight it would have as an order"`
	Kind       string  `json:"kind" doc:"firm or event"`
	From       Tick    `json:"from,omitempty" doc:"no work on it before this instant: when a reservation must be confirmed at the latest"`
}

// Fault is what is wrong with a question, field by field.
type Fault struct{ Findings []resources.Finding }

func (f *Fault) Error() string {
	var b strings.Builder
	for i, x := range f.Findings {
		if i > 0 {
			b.WriteString("; ")
		}
		b.WriteString(strings.TrimPrefix(x.String(), "error: "))
	}
	return b.String()
}

// Short says that with an asked order there would not be enough of a material,
// however late it may be. It is a scheduler.ErrNothingPossible.
type Short struct {
	Words string // what is short, by how much, and who waits for it
}

func (s *Short) Error() string { return scheduler.ErrNothingPossible.Error() + ": with it, " + s.Words }

// Hint is what a person can do.
func (s *Short) Hint() string {
	return "ask for less, or enter a receipt of it in the plant file; a later date alone does not help"
}

// Unwrap makes it an ErrNothingPossible.
func (s *Short) Unwrap() error { return scheduler.ErrNothingPossible }

// Fill puts in what was left out.
func (a *Ask) Fill() {
	if a.Confidence == 0 {
		a.Confidence = DefaultConfidence
	}
	if a.Order == "" {
		a.Order = "asked"
	}
	if a.Weight == 0 {
		a.Weight = 1
	}
	if a.Kind == "" {
		a.Kind = "firm"
	}
}

// Check finds everything that is wrong with a question; nil when it can be
// answered. It is asked after Fill.
func (a *Ask) Check(s *scheduler.State, now Tick) error {
	var found []resources.Finding
	bad := func(field, text, got, allowed, hint string) {
		found = append(found, resources.Finding{Field: field, Text: text, Found: got, Allowed: allowed, Hint: hint})
	}
	var products []string
	for i := range s.Plant.Products {
		products = append(products, s.Plant.Products[i].ID)
	}
	if !slices.Contains(products, a.Product) {
		bad("product", "the plant makes no such product", a.Product, strings.Join(products, ", "), "")
	}
	if a.Quantity < 1 || a.Quantity > MaxPieces {
		bad("quantity", "out of range", fmt.Sprint(a.Quantity), fmt.Sprintf("1 to %d", MaxPieces), "ask for a larger order in parts")
	}
	switch due := s.Plant.Due(a.Wish); {
	case a.Wish <= now:
		bad("wish", "is in the past", clock(a.Wish, s.Plant), "an instant after "+clock(now, s.Plant), "")
	case due <= now:
		bad("wish", "the last carrier before it has left", clock(a.Wish, s.Plant), "a later date", "")
	case a.Wish > now+Tick(10*366*resources.Day):
		bad("wish", "is more than ten years ahead", clock(a.Wish, s.Plant), "a nearer date", "")
	}
	if !(a.Confidence >= LeastConfidence && a.Confidence <= MostConfidence) {
		bad("confidence", "out of range", fmt.Sprint(a.Confidence), fmt.Sprintf("%v to %v", LeastConfidence, MostConfidence),
			"no plan is certain, and what is less likely than not is no promise")
	}
	if line := s.Lines[scheduler.LineKey(a.Order, firstLine)]; line != nil {
		bad("order", "there is an order of that number", a.Order, "a number of its own", "")
	}
	if a.Weight < 1 || a.Weight > events.MaxWeight {
		bad("weight", "out of range", fmt.Sprint(a.Weight), fmt.Sprintf("1 to %d", events.MaxWeight), "")
	}
	if a.Customer != "" && !events.ValidName(a.Customer) {
		bad("customer", "cannot be a name", a.Customer, fmt.Sprintf("at most %d bytes, no control characters, no space at an end", events.MaxName), "")
	}
	if a.Kind != "firm" && a.Kind != "event" {
		bad("kind", "cannot be read", a.Kind, "firm (late costs per day) or event (worthless when late)", "")
	}
	if len(found) > 0 {
		return &Fault{found}
	}
	return nil
}

func clock(t Tick, p *resources.Plant) string { return local(t, p).Format("2006-01-02 15:04") }

// day is the day of an instant, for people of the shop.
func day(t Tick, p *resources.Plant) string { return local(t, p).Format("Mon 2 Jan") }

func local(t Tick, p *resources.Plant) time.Time {
	zone := p.Zone
	if zone == nil {
		zone = time.UTC
	}
	return time.Unix(int64(t), 0).In(zone)
}

// firstLine is the line an asked order begins with.
const firstLine = "1"

// line is the asked order, or a part of it, as an order line.
func (a *Ask) line(line string, quantity int, due Tick) resources.OrderLine {
	kind := resources.Firm
	if a.Kind == "event" {
		kind = resources.Event
	}
	return resources.OrderLine{
		Order: a.Order, Line: line, Customer: a.Customer, Product: a.Product, Quantity: quantity,
		ShipBy: due, Due: due, Weight: a.Weight, Kind: kind, EarliestStart: a.From,
	}
}

// FreeNumber is the first that no promise of the shop has.
func FreeNumber(s *scheduler.State) string {
	for n := 1; ; n++ {
		id := fmt.Sprintf("P-%d", n)
		if s == nil || s.Lines[scheduler.LineKey(id, scheduler.PromiseLine)] == nil {
			return id
		}
	}
}

// part is so many pieces by a date.
type part struct {
	quantity int
	due      Tick
}

// with is a state in which the parts are ordered, and the keys of their lines.
func (a *Ask) with(s *scheduler.State, now Tick, parts ...part) (*scheduler.State, []string, error) {
	next := s.Clone()
	var keys []string
	for i, x := range parts {
		line := a.line(fmt.Sprint(i+1), x.quantity, x.due)
		_, err := next.Apply(events.Event{
			ID: fmt.Sprintf("asked-%d", next.Seq+1), Kind: events.OrderAdded, Plant: s.PlantName(), At: max(now, 1), Seq: next.Seq + 1,
			Data: events.OrderDataOf(&line),
		})
		if err != nil {
			return nil, nil, err
		}
		keys = append(keys, scheduler.LineKey(a.Order, line.Line))
	}
	return next, keys, nil
}
