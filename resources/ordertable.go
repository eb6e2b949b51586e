// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"
)

var (
	orderColumns = []string{"order", "line", "customer", "product", "quantity",
		"ship_by", "weight", "kind", "earliest_start", "note"}
	orderRequired = []string{"order", "product", "quantity", "ship_by"}
)

// refused stands for a column the header has already been blamed for.
const refused = "?"

// read takes the records of a file, columns first.
func (r *orderReader) read(records []orderRecord) {
	header := slices.IndexFunc(records, func(o orderRecord) bool { return !o.blank() })
	if header < 0 {
		if len(r.findings) == 0 {
			r.report(Finding{Text: "the file is empty", Allowed: "a row with the columns " + strings.Join(orderColumns, ", ")})
		}
		return
	}
	if !r.header(records[header]) {
		return
	}
	read := 0
	for _, o := range records[header+1:] {
		if o.blank() {
			continue
		}
		if read++; read > MaxOrderLines {
			r.report(Finding{Line: o.line, Text: "the file has too many order lines", Allowed: fmt.Sprintf("at most %d", MaxOrderLines), Hint: "split it"})
			return
		}
		r.order(o)
	}
	if read == 0 && !r.broken {
		r.report(Finding{Severity: Warning, Text: "the file has no order lines"})
	}
}

// header learns which cell is which column. It is false when nothing can be
// made of the row, so that the rows below are not complained about as well.
func (r *orderReader) header(o orderRecord) bool {
	r.columns = make([]string, len(o.cells))
	var unknown []string
	known := 0
	for i, cell := range o.cells {
		name := columnOf(cell)
		switch {
		case strings.TrimSpace(cell) == "":
		case name == "":
			r.columns[i] = refused
			unknown = append(unknown, strings.TrimSpace(cell))
		case slices.Contains(r.columns[:i], name):
			r.columns[i] = refused
			r.report(Finding{Line: o.line, Field: name, Text: "the column is there twice", Found: cell, Hint: "keep one of them"})
		default:
			r.columns[i] = name
			known++
		}
	}
	if known == 0 {
		r.report(noHeader(o))
		return false
	}
	for _, cell := range unknown {
		r.report(Finding{Line: o.line, Field: shorten(cell), Text: "unknown column", Allowed: strings.Join(orderColumns, ", "), Hint: hint(columnKey(cell), orderColumns)})
	}
	for _, name := range orderRequired {
		if !slices.Contains(r.columns, name) {
			r.report(Finding{Line: o.line, Field: name, Text: "the column is missing", Hint: "add it to the first row and fill it in"})
		}
	}
	return true
}

// noHeader is for a first row that names no column at all.
func noHeader(o orderRecord) Finding {
	f := Finding{Line: o.line, Text: "the first row does not name the columns", Found: strings.Join(o.cells, ","),
		Allowed: strings.Join(orderColumns, ", "), Hint: "put a row with the columns' names on top"}
	for _, other := range []struct{ sign, name string }{{";", "semicolons"}, {"\t", "tabs"}} {
		parts := strings.Split(strings.Join(o.cells, ","), other.sign)
		if slices.ContainsFunc(parts, func(part string) bool { return columnOf(part) != "" }) {
			f.Text = "the fields are separated by " + other.name
			f.Allowed = "commas, as in RFC 4180"
			f.Hint = "save it again with commas between the fields"
		}
	}
	return f
}

// columnOf is the column a name in the first row means; empty if none.
func columnOf(cell string) string {
	key := columnKey(cell)
	for _, name := range orderColumns {
		if strings.ReplaceAll(name, "_", "") == strings.ReplaceAll(key, "_", "") {
			return name
		}
	}
	return ""
}

// columnKey writes a name as the columns are written.
func columnKey(cell string) string {
	return strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(strings.TrimSpace(cell)))
}

// order reads one order line. It is kept even when something is wrong with
// it; result drops all of them then.
func (r *orderReader) order(o orderRecord) {
	c := orderCells{r: r, line: o.line, cells: map[string]string{}}
	for _, name := range r.columns {
		c.cells[name] = ""
	}
	for i, cell := range o.cells {
		cell = strings.TrimSpace(cell)
		if i < len(r.columns) && r.columns[i] != "" {
			c.cells[r.columns[i]] = cell
		} else if cell != "" {
			c.report(Finding{Text: "there is a value without a column", Found: cell,
				Hint: "put text with commas in quotation marks, or name the column in the first row"})
			break
		}
	}
	line := c.read()
	r.unique(o.line, line)
	r.lines = append(r.lines, line)
}

// unique refuses an order line that is there already. Names with an error are
// empty and not compared.
func (r *orderReader) unique(at int, line OrderLine) {
	if line.Order == "" || line.Line == "" {
		return
	}
	key := lineKey{line.Order, line.Line}
	if before, ok := r.seen[key]; ok {
		r.report(Finding{Line: at, Field: "line", Text: fmt.Sprintf("order %s already has a line %s, on line %d of the file", line.Order, line.Line, before),
			Hint: "give each line of an order its own number"})
		return
	}
	r.seen[key] = at
}
