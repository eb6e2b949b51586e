// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"time"

	"towpath/resources"
)

// Attempt is a set of changes to be tried as a what-if, as its form sends it.
type Attempt struct {
	Name    string           `json:"name"`
	Note    string           `json:"note"`
	Changes []map[string]any `json:"changes"`
}

// Attempt is an alternative of the question as a set of changes; nil: it is only
// another plan, and can be kept as it is, or no changes can be tried here.
func (p PromisePage) Attempt(i int) *Attempt {
	if !p.Tries {
		return nil
	}
	a := p.Question.Answer
	x := &a.Otherwise.Alternatives[i]
	changes := x.Changes(a, p.Number)
	if len(changes) == 0 {
		return nil
	}
	t := &Attempt{Name: fmt.Sprintf("%d × %s: %s", a.Ask.Quantity, a.Ask.Product, x.Words), Note: "what else could be done for a date that was asked for"}
	if name := []rune(t.Name); len(name) > resources.MaxSetName {
		t.Name = string(name[:resources.MaxSetName-1]) + "…"
	}
	for k := range changes {
		t.Changes = append(t.Changes, changeRow(&changes[k], p.Zone))
	}
	return t
}

// changeRow is an order that is added, or an extra shift, as a file of changes
// has it.
func changeRow(c *resources.Change, zone *time.Location) map[string]any {
	const day, clock = "2006-01-02", "15:04"
	at := func(t resources.Tick) time.Time { return time.Unix(int64(t), 0).In(zone) }
	if l := c.AddOrder; l != nil {
		row := map[string]any{
			"order": l.Order, "line": l.Line, "product": l.Product, "quantity": l.Quantity,
			"ship_by": at(l.ShipBy).Format(day + " " + clock), "weight": l.Weight, "kind": l.Kind.String(),
		}
		if l.Customer != "" {
			row["customer"] = l.Customer
		}
		if said := l.Asked; said != nil {
			asked := map[string]any{}
			if said.Wish != 0 {
				asked["wish"] = at(said.Wish).Format(day + " " + clock)
			}
			if said.Plan != 0 {
				asked["plan"] = said.Plan
			}
			if said.PerMille != 0 {
				asked["confidence"] = float64(said.PerMille) / 1000
			}
			row["asked"] = asked
		}
		return map[string]any{"add_order": row}
	}
	s := c.Shift
	row := map[string]any{"date": at(s.Start).Format(day), "hours": at(s.Start).Format(clock) + "-" + at(s.End).Format(clock)}
	if len(s.Crews) > 0 {
		row["crews"] = s.Crews
	}
	if len(s.Stations) > 0 {
		row["stations"] = s.Stations
	}
	if s.Heads > 0 {
		row["heads"] = s.Heads
	}
	return map[string]any{"shift": row}
}
