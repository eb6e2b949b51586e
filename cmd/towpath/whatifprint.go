// SPDX-License-Identifier: Apache-2.0

package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"time"

	"towpath/resources"
	"towpath/scheduler/whatif"
)

// shownMoves is how many moved dates are printed; the JSON has all.
const shownMoves = 20

func printWhatIf(out io.Writer, plant *resources.Plant, r *whatifReport) error {
	w := &lines{out: out}
	w.add("%s, what if: %s; %s", cmp.Or(plant.Name, plant.ID), r.Name, moment(r.Now, plant.Zone))
	for _, text := range r.Changes {
		w.add("  %s", text)
	}
	w.add("")
	w.figures(r.Comparison, plant.Zone)
	w.add("")
	w.add("orders won     %s", named(r.Won))
	w.add("orders lost    %s", named(r.Lost))
	for i := range r.Added {
		w.add("order added    %s", said(&r.Added[i], plant.Zone))
	}
	for i := range r.Dropped {
		w.add("order dropped  %s", r.Dropped[i].Order)
	}
	w.moves(r.Comparison, plant.Zone)
	if x := r.Churn; x != nil {
		w.add("")
		w.add("on the floor: %d of %s not begun would be at another time or station, %d of them near now; %s would begin with another job",
			x.Moved, plural(x.Compared, "operation"), x.Near, plural(len(x.Next), "station"))
	}
	w.chances(r.Chances)
	w.add("")
	w.add("both plans verified; %.1f s, %d iterations, seed %d", float64(r.ElapsedMS)/1000, r.Iterations, r.Seed)
	return w.err
}

// figures writes the two sides beside each other.
func (w *lines) figures(c *whatif.Comparison, zone *time.Location) {
	a, b := &c.Before, &c.After
	w.add("%-26s %14s %14s %12s", "", "as it is", "what if", "change")
	for _, row := range c.Rows() {
		w.add("%-26s %14.*f %14.*f %+12.*f", row.What, row.Digits, row.Was, row.Digits, row.Is, row.Digits, row.Is-row.Was)
	}
	at := func(t resources.Tick) string { return time.Unix(int64(t), 0).In(zone).Format("2 Jan 15:04") }
	w.add("%-26s %14s %14s %12s", "last work ends", at(a.LastEnd), at(b.LastEnd), later(resources.Seconds(b.LastEnd-a.LastEnd)))
}

// moves writes the dates that move.
func (w *lines) moves(c *whatif.Comparison, zone *time.Location) {
	w.add("")
	if len(c.Moved) == 0 {
		w.add("no date moves")
		return
	}
	w.add("dates moved, the biggest first (%d; %s as before):", len(c.Moved), plural(c.Same, "order"))
	for i := range c.Moved[:min(len(c.Moved), shownMoves)] {
		m := &c.Moved[i]
		by := later(m.By)
		if m.By == 0 {
			by = "-"
		}
		status := m.Is.Status
		if m.Was.Status != status {
			status = m.Was.Status + ", then " + status
		}
		w.add("  %-10s %14s  complete %s, was %s, due %s; %s", m.Order, by, instant(m.Is.Completion, zone), instant(m.Was.Completion, zone), instant(m.Is.Due, zone), status)
	}
	if more := len(c.Moved) - shownMoves; more > 0 {
		w.add("  and %d more, in --json", more)
	}
}

// chances writes what the same luck makes of both plans.
func (w *lines) chances(c *whatif.Chances) {
	if c == nil {
		return
	}
	w.add("")
	w.add("on the same luck, %d histories of each plan, seed %d: %.2f dates made on average, then %.2f; event orders lost %.2f, then %.2f",
		c.Replications, c.Seed, c.Before.Made, c.After.Made, c.Before.Lost, c.After.Lost)
	odds := func(o *whatif.Odds) string {
		return fmt.Sprintf("%.1f %% (%.1f to %.1f)", 100*o.Chance, 100*o.Low, 100*o.High)
	}
	for i := range c.Added {
		w.add("  %-10s added      chance %s", c.Added[i].Order, odds(&c.Added[i].Is))
	}
	if len(c.Orders) == 0 {
		w.add("no chance changes")
		return
	}
	w.add("chances changed, the biggest first (%d; %s as before; %.0f %% intervals):", len(c.Orders), plural(c.Same, "order"), 100*c.Confidence)
	for i := range c.Orders[:min(len(c.Orders), shownMoves)] {
		x := &c.Orders[i]
		w.add("  %-10s %+6.1f %%   chance %s, was %s", x.Order, 100*(x.Is.Chance-x.Was.Chance), odds(&x.Is), odds(&x.Was))
	}
	if more := len(c.Orders) - shownMoves; more > 0 {
		w.add("  and %d more, in --json", more)
	}
}

func instant(t resources.Tick, zone *time.Location) string {
	if t == 0 {
		return "nobody can say when"
	}
	return time.Unix(int64(t), 0).In(zone).Format("Mon 2 Jan 15:04")
}

// later writes by how much something comes later or sooner.
func later(d resources.Seconds) string {
	switch {
	case d > 0:
		return "+" + resources.Spell(d)
	case d < 0:
		return "-" + resources.Spell(-d)
	}
	return "0"
}

func named(orders []string) string {
	if len(orders) == 0 {
		return "none"
	}
	return fmt.Sprintf("%d: %s", len(orders), strings.Join(orders, ", "))
}

func said(x *whatif.Outcome, zone *time.Location) string {
	return fmt.Sprintf("%s: complete %s, due %s, %s", x.Order, instant(x.Completion, zone), instant(x.Due, zone), x.Status)
}
