// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"
)

// Forecast is the demand a season is expected to bring, by product and week.
// What is ordered already is part of it: whoever adds the two takes the orders
// out of the forecast first.
type Forecast struct {
	Lines []ForecastLine // in file order
	First Week           // of the file
	Last  Week
}

// ForecastLine is so many of a product expected to leave in a week.
type ForecastLine struct {
	Product  string
	Week     Week // in which they ship
	Quantity int
	Event    string // name of the race weekend they are for; empty: firm demand
	Due      Tick   // last carrier cut-off that serves it
	Row      int    // of the file
}

// Kind is event for what is meant for a race weekend, else firm.
func (l *ForecastLine) Kind() OrderKind {
	if l.Event != "" {
		return Event
	}
	return Firm
}

// Limits of a forecast.
const (
	maxForecastWeeks = 106 // two years
	maxEventName     = 200
)

var forecastColumns = []string{"product", "week", "quantity", "event", "ship_by"}

// ReadForecast reads a season forecast from CSV as RFC 4180 has it. See
// ReadForecastRows for its two forms. The file name is only repeated in the
// findings.
func ReadForecast(file string, text []byte, p *Plant) (*Forecast, []Finding) {
	r := newForecastReader(file, p)
	if text, ok := r.encoding(text); ok {
		r.read(r.records(text))
	}
	return r.result()
}

// ReadForecastRows reads a season forecast from rows of cells, the first of
// them the columns' names. It has one of two forms:
//
//	product, week, quantity, event, ship_by   a row for each product and week
//	product, event, 2026-W10, 2026-W11, …     a column for each week
//
// Weeks are ISO 8601 weeks. Quantity is 0 to 10000; event, the race weekend
// the goods are for, and ship_by, a date in the week, may be left out. Without
// ship_by goods go with the last carrier of their week.
//
// No week may be missing between the first and the last of the file, for any
// product in it: where nothing is expected the file says 0. All findings are
// reported at once; with any Error among them there is no forecast.
func ReadForecastRows(file string, rows [][]string, p *Plant) (*Forecast, []Finding) {
	r := newForecastReader(file, p)
	records := make([]orderRecord, len(rows))
	for i, cells := range rows {
		records[i] = orderRecord{i + 1, cells}
	}
	r.read(records)
	return r.result()
}

// forecastReader holds what reading one forecast needs. What every table of
// the shop has in common it takes from the orders' reader.
type forecastReader struct {
	*orderReader
	weeks   []forecastWeek // the columns that are weeks; empty: the long form
	rows    map[forecastKey]int
	has     map[string]map[Week]bool // by product
	rowOf   map[string]int           // first row of a product
	blamed  bool                     // something in the weeks cannot be read: gaps cannot be told
	out     []ForecastLine
	ordered []string // products in the order of the file
}

type forecastWeek struct {
	column int
	week   Week
}

type forecastKey struct {
	product string
	week    Week
	event   string
	due     Tick
}

func newForecastReader(file string, p *Plant) *forecastReader {
	r := &forecastReader{
		orderReader: newOrderReader(file, p), rows: map[forecastKey]int{},
		has: map[string]map[Week]bool{}, rowOf: map[string]int{},
	}
	r.what = "a forecast"
	return r
}

func (r *forecastReader) result() (*Forecast, []Finding) {
	found, bad := r.told()
	if bad || len(r.out) == 0 {
		return nil, found
	}
	f := &Forecast{Lines: r.out}
	f.First, f.Last = r.span()
	return f, found
}

// read takes the records of a file, columns first.
func (r *forecastReader) read(records []orderRecord) {
	header := slices.IndexFunc(records, func(o orderRecord) bool { return !o.blank() })
	if header < 0 {
		if len(r.findings) == 0 {
			r.report(Finding{Text: "the file is empty", Allowed: "a row with the columns " + strings.Join(forecastColumns, ", ")})
		}
		return
	}
	if !r.header(records[header]) {
		return
	}
	rows := 0
	for _, o := range records[header+1:] {
		if o.blank() {
			continue
		}
		if rows++; rows > MaxOrderLines {
			r.report(Finding{Line: o.line, Text: "the forecast has too many rows", Allowed: fmt.Sprintf("at most %d", MaxOrderLines)})
			return
		}
		r.row(o)
	}
	if r.broken {
		return
	}
	if rows == 0 {
		r.report(Finding{Text: "the forecast has no rows", Hint: "add a row for each product and week"})
		return
	}
	r.gaps()
}

// header learns the columns; false when nothing can be made of the rows below.
func (r *forecastReader) header(o orderRecord) bool {
	r.columns = make([]string, len(o.cells))
	var unknown []string
	for i, cell := range o.cells {
		text := strings.TrimSpace(cell)
		name := forecastColumn(text)
		week, err := ParseWeek(strings.ToUpper(text))
		switch {
		case text == "":
		case err == nil:
			r.weeks = append(r.weeks, forecastWeek{i, week})
		case name == "":
			r.columns[i] = refused
			unknown = append(unknown, text)
		case slices.Contains(r.columns[:i], name):
			r.columns[i] = refused
			r.report(Finding{Line: o.line, Field: name, Text: "the column is there twice", Found: cell, Hint: "keep one of them"})
		default:
			r.columns[i] = name
		}
	}
	allowed := strings.Join(forecastColumns, ", ") + ", or product, event and weeks like 2026-W10"
	if len(r.weeks) == 0 && !slices.ContainsFunc(r.columns, func(c string) bool { return c != "" && c != refused }) {
		f := noHeader(o)
		f.Allowed = allowed
		r.report(f)
		return false
	}
	for _, text := range unknown {
		r.report(Finding{Line: o.line, Field: shorten(text), Text: "unknown column", Allowed: allowed, Hint: hint(columnKey(text), forecastColumns)})
	}
	return r.wanted(o)
}

// wanted tells whether the columns that a form needs are there.
func (r *forecastReader) wanted(o orderRecord) bool {
	need := []string{"product", "week", "quantity"}
	if len(r.weeks) > 0 {
		need = need[:1]
		for _, name := range []string{"week", "quantity", "ship_by"} {
			if slices.Contains(r.columns, name) {
				r.report(Finding{Line: o.line, Field: name, Text: "the column cannot stand beside columns of weeks", Hint: "keep the one or the others"})
			}
		}
		r.headerWeeks(o)
	}
	all := true
	for _, name := range need {
		if !slices.Contains(r.columns, name) {
			all = false
			r.report(Finding{Line: o.line, Field: name, Text: "the column is missing", Hint: "add it to the first row and fill it in"})
		}
	}
	return all
}

// headerWeeks finds weeks that are there twice, out of order or missing among
// the columns.
func (r *forecastReader) headerWeeks(o orderRecord) {
	for i := 1; i < len(r.weeks); i++ {
		before, w := r.weeks[i-1], r.weeks[i]
		switch gap := weeksBetween(before.week, w.week); {
		case gap < 1:
			r.blamed = true
			r.report(Finding{Line: o.line, Field: cellName(w.column), Text: fmt.Sprintf("the week comes after %s", before.week), Found: w.week.String(), Hint: "put each week once, in their order"})
		case gap > 1:
			r.blamed = true
			r.report(Finding{Line: o.line, Field: cellName(w.column), Text: missingWeeks("the forecast", before.week.Next(), gap-1), Found: w.week.String(), Hint: "add the column; write 0 where nothing is expected"})
		}
	}
}

// forecastColumn is the column a name in the first row means; empty if none.
func forecastColumn(cell string) string {
	key := strings.ReplaceAll(columnKey(cell), "_", "")
	for _, name := range forecastColumns {
		if strings.ReplaceAll(name, "_", "") == key {
			return name
		}
	}
	return ""
}

// cellName is a column as spreadsheets call it, "column C".
func cellName(column int) string {
	name := ""
	for n := column + 1; n > 0; n = (n - 1) / 26 {
		name = string(rune('A'+(n-1)%26)) + name
	}
	return "column " + name
}
