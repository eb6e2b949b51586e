// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"
)

// row reads one row of either form.
func (r *forecastReader) row(o orderRecord) {
	c := orderCells{r: r.orderReader, line: o.line, cells: map[string]string{}}
	for _, name := range r.columns {
		if name != "" {
			c.cells[name] = ""
		}
	}
	isWeek := map[int]bool{}
	for _, w := range r.weeks {
		isWeek[w.column] = true
	}
	for i, cell := range o.cells {
		cell = strings.TrimSpace(cell)
		if i < len(r.columns) && r.columns[i] != "" {
			c.cells[r.columns[i]] = cell
		} else if cell != "" && !isWeek[i] {
			c.report(Finding{Field: cellName(i), Text: "there is a value without a column", Found: cell, Hint: "name the column in the first row"})
		}
	}
	line := ForecastLine{Product: c.product(), Event: c.text("event", maxEventName, ""), Row: o.line}
	if r.plant.Product(line.Product) == nil {
		line.Product = ""
	}
	if len(r.weeks) == 0 {
		r.long(&c, line)
		return
	}
	for _, w := range r.weeks {
		c.cells["quantity"] = ""
		if w.column < len(o.cells) {
			c.cells["quantity"] = strings.TrimSpace(o.cells[w.column])
		}
		line.Week = w.week
		line.Quantity = r.quantity(&c, cellName(w.column)+", "+w.week.String())
		line.Due = r.lastOf(w.week)
		r.take(line, cellName(w.column))
	}
}

// long reads the rest of a row that has a week of its own.
func (r *forecastReader) long(c *orderCells, line ForecastLine) {
	text := c.cells["week"]
	week, err := ParseWeek(strings.ToUpper(text))
	switch {
	case text == "":
		c.bad("week", "is missing", "a week like 2026-W11", "")
		r.blamed = true
	case err != nil:
		c.bad("week", "cannot be read", "an ISO 8601 week like 2026-W11; a year has 52 or 53", "")
		r.blamed = true
	}
	line.Week = week
	line.Quantity = r.quantity(c, "quantity")
	if err != nil {
		return
	}
	line.Due = r.lastOf(week)
	if text := c.cells["ship_by"]; text != "" {
		at, day, ok := orderTime(r.plant.Zone, text)
		if day != nil {
			at = r.plant.lastOn(*day)
		}
		switch {
		case !ok:
			c.bad("ship_by", "cannot be read as a date", allowedShipBy, "")
		case WeekOf(r.plant.Zone, at) != week:
			c.bad("ship_by", "is not in the week "+week.String(), "a date of that week", "")
		default:
			line.Due = r.plant.Due(at)
		}
	}
	r.take(line, "week")
}

// quantity reads how many are expected; 0 must be said.
func (r *forecastReader) quantity(c *orderCells, field string) int {
	text := c.cells["quantity"]
	allowed := fmt.Sprintf(allowedWhole, 0, maxOrderQuantity)
	n := int64(0)
	trial := orderCells{r: newOrderReader("", r.plant), cells: c.cells}
	if n = trial.whole("quantity", 0, maxOrderQuantity, -1); len(trial.r.findings) == 0 {
		return int(n)
	}
	f := trial.r.findings[0]
	f.Field, f.Allowed, f.Found = field, allowed, text
	switch {
	case text == "":
		f.Hint = "write 0 when nothing is expected"
	case strings.HasPrefix(text, "-"):
		f.Text = "is negative"
	}
	c.report(f)
	return 0
}

// take keeps a line that is not there yet. Lines with an error in their names
// are only kept to be dropped with the rest.
func (r *forecastReader) take(line ForecastLine, field string) {
	if line.Product == "" {
		return
	}
	key := forecastKey{line.Product, line.Week, line.Event, line.Due}
	if before, ok := r.rows[key]; ok {
		r.report(Finding{Line: line.Row, Field: field, Text: fmt.Sprintf("%s in %s is there already, on line %d of the file", line.Product, line.Week, before), Hint: "add the two up, or name different events"})
		return
	}
	r.rows[key] = line.Row
	if r.has[line.Product] == nil {
		r.has[line.Product] = map[Week]bool{}
		r.rowOf[line.Product] = line.Row
		r.ordered = append(r.ordered, line.Product)
	}
	r.has[line.Product][line.Week] = true
	r.out = append(r.out, line)
}

// span is the first and the last week of the file.
func (r *forecastReader) span() (first, last Week) {
	for i, l := range r.out {
		if i == 0 || weekLess(l.Week, first) {
			first = l.Week
		}
		if i == 0 || weekLess(last, l.Week) {
			last = l.Week
		}
	}
	return first, last
}

// gaps finds the weeks a product has no row for. Nothing is said when a week
// could not be read, as that may be the one.
func (r *forecastReader) gaps() {
	if r.blamed || len(r.out) == 0 {
		return
	}
	first, last := r.span()
	if n := weeksBetween(first, last) + 1; n > maxForecastWeeks {
		r.report(Finding{Text: fmt.Sprintf("the forecast spans %d weeks", n), Allowed: fmt.Sprintf("at most %d", maxForecastWeeks), Hint: "look for a mistaken year"})
		return
	}
	for _, product := range r.ordered {
		missing, from := 0, Week{}
		for w := first; ; w = w.Next() {
			if !r.has[product][w] && weekLess(w, last.Next()) {
				if missing == 0 {
					from = w
				}
				missing++
				continue
			}
			if missing > 0 {
				r.report(Finding{Line: r.rowOf[product], Field: "week", Text: missingWeeks(product, from, missing),
					Hint: "add a row for each week; write 0 when nothing is expected"})
				missing = 0
			}
			if !weekLess(w, last) {
				break
			}
		}
	}
}

func missingWeeks(who string, from Week, n int) string {
	if n == 1 {
		return fmt.Sprintf("%s has nothing for %s", who, from)
	}
	to := WeekOf(nil, from.Start(nil)+Tick(n-1)*Tick(7*Day))
	return fmt.Sprintf("%s has nothing for %s to %s", who, from, to)
}

// lastOf is the last carrier cut-off of a week, or of the days before when none
// comes in it.
func (r *forecastReader) lastOf(w Week) Tick {
	return r.plant.Due(w.Next().Start(r.plant.Zone) - 1)
}

func weekLess(a, b Week) bool {
	return a.Year < b.Year || a.Year == b.Year && a.Number < b.Number
}

// weeksBetween is how many weeks b comes after a.
func weeksBetween(a, b Week) int {
	return int((b.Start(nil) - a.Start(nil)) / Tick(7*Day))
}

// Weeks lists the weeks of the forecast in order.
func (f *Forecast) Weeks() []Week {
	var out []Week
	for w := f.First; !weekLess(f.Last, w); w = w.Next() {
		out = append(out, w)
	}
	return out
}

// Products lists the products of the forecast, in the order of their first
// lines.
func (f *Forecast) Products() []string {
	var out []string
	for i := range f.Lines {
		if !slices.Contains(out, f.Lines[i].Product) {
			out = append(out, f.Lines[i].Product)
		}
	}
	return out
}
