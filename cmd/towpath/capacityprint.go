// SPDX-License-Identifier: Apache-2.0

package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"towpath/resources"
	"towpath/scheduler/capacity"
)

// Bounds of what is printed; the JSON and the tables have all of it.
const (
	shownRows  = 16
	shownWeeks = 26
)

// printCapacity writes the report for people.
func printCapacity(out io.Writer, o *capacityOptions, r *capacityReport) error {
	w, zone := &lines{out: out}, o.in.plant.Zone
	w.add("%s, capacity from %s, %s", o.in.plant.Name, moment(r.Now, zone), plural(len(r.Weeks), "week"))
	if r.Forecast.First == "" {
		w.add("no forecast: open orders alone")
	} else {
		w.add("forecast %s to %s; orders there already are part of it", r.Forecast.First, r.Forecast.Last)
	}
	w.add("")
	printLimits(w, r)
	printHeat(w, r)
	printWaits(w, r)
	printDates(w, r, zone)
	if r.Worth != nil {
		printWorth(w, r.Worth)
	} else {
		w.add("")
		w.add("--worth 20 says what one more of each of the most loaded is worth")
	}
	return w.err
}

func printLimits(w *lines, r *capacityReport) {
	w.add("week       ordered  forecast   bottleneck              load   over")
	for i := range r.Weeks {
		ordered, forecast := 0, 0
		for _, d := range r.Demand {
			ordered += d.Ordered[i]
			forecast += d.Forecast[i]
		}
		l := &r.Bottlenecks[i]
		w.add("%-9s %8d  %8d   %-20s %6.0f %% %5d", l.Week, ordered, forecast, cmp.Or(l.Key, "–"), 100*l.Ratio, l.Over)
	}
	w.add("over: how many stations, crews, skills and tool pools are asked for more hours than there are")
}

// byPeak lists rows with the most loaded first.
func byPeak(r *capacityReport) []*capacity.Row {
	var rows []*capacity.Row
	for i := range r.Rows {
		rows = append(rows, &r.Rows[i])
	}
	slices.SortStableFunc(rows, func(a, b *capacity.Row) int { return cmp.Compare(b.Peak, a.Peak) })
	return rows
}

func printHeat(w *lines, r *capacityReport) {
	w.add("")
	w.add("most loaded, percent of the hours there")
	weeks := min(len(r.Weeks), shownWeeks)
	head := fmt.Sprintf("%-20s", "")
	for i := range weeks {
		head += " " + r.Weeks[i].Week[5:]
	}
	w.add("%s", head)
	rows := byPeak(r)
	for _, row := range rows[:min(len(rows), shownRows)] {
		var b strings.Builder
		fmt.Fprintf(&b, "%-20s", row.Key)
		for i := range weeks {
			c := &row.Cells[i]
			switch {
			case c.Closed:
				b.WriteString(" shut")
			case c.Asked == 0:
				b.WriteString("   ·")
			default:
				fmt.Fprintf(&b, " %3.0f", 100*c.Ratio)
			}
		}
		w.add("%s", b.String())
	}
	if len(r.Weeks) > weeks || len(rows) > shownRows {
		w.add("%s and %s in all; --json, --csv and --xlsx have them", plural(len(rows), "row"), plural(len(r.Weeks), "week"))
	}
}

// printWaits puts the queueing view beside the finite plan, for the stations
// and the week in which they are busiest.
func printWaits(w *lines, r *capacityReport) {
	w.add("")
	w.add("waiting before the busiest stations    week       load   expected   every cycle   in the plan")
	n := 0
	for _, row := range byPeak(r) {
		if row.Kind != capacity.Station || row.Peak == 0 || n == 8 {
			continue
		}
		n++
		peak := 0
		for i := range row.Cells {
			if row.Cells[i].Ratio > row.Cells[peak].Ratio {
				peak = i
			}
		}
		c := &row.Cells[peak]
		cycle, planned := "", ""
		if c.Loads > 0 {
			cycle = waitText(c.WaitCycle)
		}
		if c.Planned > 0 {
			planned = waitText(c.PlannedWait)
		}
		w.add("  %-36s %-9s %4.0f %% %10s %13s %13s", row.ID+" "+row.Name, r.Weeks[peak].Week, 100*c.Ratio, waitText(c.Wait), cycle, planned)
	}
	w.add("expected: by queueing, loads as full as in the plan; every cycle: loaded with whatever waits; hours")
}

func waitText(hours float64) string {
	if hours == capacity.Endless {
		return "no end"
	}
	return fmt.Sprintf("%.1f", hours)
}

// printDates writes the last safe dates, a line a weekend.
func printDates(w *lines, r *capacityReport, zone *time.Location) {
	if len(r.Dates) == 0 {
		return
	}
	var products []string
	for _, d := range r.Dates {
		if !slices.Contains(products, d.Product) {
			products = append(products, d.Product)
		}
	}
	w.add("")
	w.add("last safe date to take an order of a usual size, by race weekend and product")
	head := fmt.Sprintf("  %-34s %-10s", "", "due")
	for _, p := range products {
		head += fmt.Sprintf(" %-10s", p)
	}
	w.add("%s", head)
	var due resources.Tick
	text := ""
	for _, d := range r.Dates {
		if d.Due != due {
			if text != "" {
				w.add("%s", text)
			}
			due = d.Due
			text = fmt.Sprintf("  %-34.34s %-10s", cmp.Or(d.Event, "race weekend"), day(d.Due, zone))
		}
		safe := day(d.Safe, zone)
		if d.Safe == 0 && d.Latest != 0 {
			safe = "full"
		}
		text += fmt.Sprintf(" %-10s", safe)
	}
	w.add("%s", text)
	w.add("full: no free hours before it; –: too late by the routing alone")
}

// day is a date in few letters.
func day(t resources.Tick, zone *time.Location) string {
	if t == 0 {
		return "–"
	}
	return time.Unix(int64(t), 0).In(zone).Format("Mon 2 Jan")
}

func printWorth(w *lines, x *worthReport) {
	w.add("")
	b := &x.Base
	w.add("worth of one more: %s solved as they are: %d on time, %d late, %d lost, weighted tardiness %.1f h", plural(b.Orders, "order"), b.OnTime, b.Late, b.Lost, b.Tardiness)
	w.add("  %-12s %-58s %6s %8s %12s", "kind", "", "peak", "orders", "tardiness")
	for _, a := range x.Additions {
		w.add("  %-12s %-58.58s %4.0f %% %8s %10s h", a.Kind, a.Name, 100*a.Peak, signed(float64(a.Saved), 0), signed(a.Tardiness, 1))
	}
	w.add("orders: lost orders saved; tardiness: weighted hours saved (an order saved may cost others theirs); found by search, at the least")
	w.add("%d of %d solved in %.1f s; %s, %d iterations, seed %d", len(x.Additions), x.Asked, float64(x.ElapsedMS)/1000, plural(x.Pieces, "piece"), x.Iterations, x.Seed)
}

func signed(x float64, digits int) string {
	if x == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.*f", digits, x)
}
