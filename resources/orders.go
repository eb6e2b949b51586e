// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// Largest order files that are read.
const (
	MaxOrderBytes = 16 << 20
	MaxOrderLines = 100_000
)

// ReadOrders reads order lines from CSV as RFC 4180 has it: comma-separated,
// UTF-8 (with or without a byte order mark), a first row with the columns'
// names. See ReadOrderRows for the columns. The file name is only repeated in
// the findings.
func ReadOrders(file string, text []byte, p *Plant) ([]OrderLine, []Finding) {
	r := newOrderReader(file, p)
	if text, ok := r.encoding(text); ok {
		r.read(r.records(text))
	}
	return r.result()
}

// ReadOrderRows reads order lines from rows of cells, the first of them the
// columns' names; row numbers, from 1, become the lines of the findings. The
// columns, in any order, their names in any case with spaces, dashes or
// underscores:
//
//	order           required; letters, digits, - and _
//	line            within the order, no dash; 1 when empty
//	customer        text
//	product         required; a product of the plant
//	quantity        required; 1 to 10000
//	ship_by         required; RFC 3339, or a date or date and time in the plant's zone
//	weight          0 to 1000000; 1 when empty
//	kind            firm or event; firm when empty
//	earliest_start  as ship_by; at once when empty
//	note            text
//
// A ship_by without a time means that day's cut-off, or its last second when
// the plant has no cut-off; an earliest_start without one, the day's
// beginning. Due follows from Plant.Due.
//
// All findings of the file are reported at once, in the order of its lines;
// with any Error among them there are no order lines.
func ReadOrderRows(file string, rows [][]string, p *Plant) ([]OrderLine, []Finding) {
	r := newOrderReader(file, p)
	records := make([]orderRecord, len(rows))
	for i, cells := range rows {
		records[i] = orderRecord{i + 1, cells}
	}
	r.read(records)
	return r.result()
}

// orderRecord is one row with the line it begins on.
type orderRecord struct {
	line  int
	cells []string
}

func (r orderRecord) blank() bool {
	return !slices.ContainsFunc(r.cells, func(c string) bool { return strings.TrimSpace(c) != "" })
}

// orderReader holds what reading one file needs.
type orderReader struct {
	file     string
	what     string // the file should hold, in messages
	plant    *Plant
	products []string
	findings []Finding
	columns  []string // the column of each cell of a row; empty: none
	seen     map[lineKey]int
	lines    []OrderLine
	broken   bool // a record cannot be told from the text: what is missing may stand in it
}

type lineKey struct{ order, line string }

func newOrderReader(file string, p *Plant) *orderReader {
	r := &orderReader{file: file, what: "order lines", plant: p, seen: map[lineKey]int{}}
	for i := range p.Products {
		r.products = append(r.products, p.Products[i].ID)
	}
	return r
}

func (r *orderReader) report(f Finding) {
	f.File = r.file
	f.Found = shorten(f.Found)
	r.findings = append(r.findings, f)
}

// result hands out all lines or none.
func (r *orderReader) result() ([]OrderLine, []Finding) {
	found, bad := r.told()
	if bad {
		return nil, found
	}
	return r.lines, found
}

// told are the findings in the order of the file, and whether one of them is
// an error. Of a hopeless file it tells the first few hundred, and no warning
// takes the place of an error.
func (r *orderReader) told() (found []Finding, bad bool) {
	SortFindings(r.findings)
	found, bad = r.findings, HasErrors(r.findings)
	if len(found) > maxFindings {
		shown := slices.Clone(found)
		severity := Warning
		if bad {
			severity = Error
			shown = slices.DeleteFunc(shown, func(f Finding) bool { return f.Severity != Error })
		}
		shown = shown[:min(len(shown), maxFindings)]
		found = append(shown, Finding{Severity: severity, File: r.file,
			Text: fmt.Sprintf("%d more findings are not shown", len(found)-len(shown))})
	}
	return found, bad
}

// encoding accepts UTF-8 of a sane size without its byte order mark; false
// after a finding.
func (r *orderReader) encoding(text []byte) ([]byte, bool) {
	const asUTF8 = "save it again as CSV in UTF-8"
	utf16 := bytes.HasPrefix(text, []byte{0xFF, 0xFE}) || bytes.HasPrefix(text, []byte{0xFE, 0xFF})
	text = bytes.TrimPrefix(text, []byte("\uFEFF"))
	f := Finding{Allowed: r.what + " as CSV in UTF-8"}
	switch {
	case len(text) > MaxOrderBytes:
		f.Text, f.Found = "the file is too large", fmt.Sprintf("%d bytes", len(text))
		f.Allowed = fmt.Sprintf("at most %d bytes", MaxOrderBytes)
	case utf16:
		f.Text, f.Hint = "the file is in UTF-16", asUTF8
	case bytes.HasPrefix(text, []byte("PK\x03\x04")):
		f.Text, f.Hint = "the file is a workbook or an archive, not CSV", "name it .xlsx if it is a workbook"
	case bytes.IndexByte(text, 0) >= 0:
		f.Line = lineAt(text, bytes.IndexByte(text, 0))
		f.Text, f.Hint = "the file holds a NUL byte, so it is no text file", asUTF8
	case !utf8.Valid(text):
		at := firstInvalid(text)
		f.Line = lineAt(text, at)
		f.Text, f.Found, f.Hint = "the file is not in UTF-8", fmt.Sprintf("byte 0x%02X", text[at]), asUTF8
	case bytes.IndexByte(text, '\r') >= 0 && bytes.IndexByte(text, '\n') < 0:
		f.Text, f.Hint = "the lines end with a carriage return alone", "save it again with line ends LF or CR LF"
	case crowdedLine(text) > 0:
		f.Line = crowdedLine(text)
		f.Text, f.Allowed = "the line has far too many commas", fmt.Sprintf("at most %d", maxCommas)
	default:
		return text, true
	}
	r.report(f)
	return nil, false
}

// maxCommas is how many commas one line of text may have. Each makes a field,
// and millions of them would need far more memory than the file.
const maxCommas = 5000

// crowdedLine is the first line with too many commas, 0 if there is none.
func crowdedLine(text []byte) int {
	line, commas := 1, 0
	for _, c := range text {
		switch c {
		case '\n':
			line++
			commas = 0
		case ',':
			if commas++; commas > maxCommas {
				return line
			}
		}
	}
	return 0
}

func lineAt(text []byte, at int) int { return 1 + bytes.Count(text[:at], []byte{'\n'}) }

func firstInvalid(text []byte) int {
	for i := 0; i < len(text); {
		c, size := utf8.DecodeRune(text[i:])
		if c == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return len(text)
}

// records splits the text, going on after a broken record so that all of them
// are told.
func (r *orderReader) records(text []byte) []orderRecord {
	reader := csv.NewReader(bytes.NewReader(text))
	reader.FieldsPerRecord = -1
	var records []orderRecord
	for len(records) <= MaxOrderLines+1 {
		cells, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			r.broken = true
			r.report(brokenRecord(err))
			if len(r.findings) > maxFindings {
				break
			}
			continue
		}
		line, _ := reader.FieldPos(0)
		records = append(records, orderRecord{line, cells})
	}
	return records
}

func brokenRecord(err error) Finding {
	f := Finding{Text: "cannot be read as CSV: " + err.Error(), Allowed: "CSV as in RFC 4180"}
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return f
	}
	f.Line = p.StartLine
	f.Text = "cannot be read as CSV"
	if p.Err == csv.ErrBareQuote || p.Err == csv.ErrQuote {
		f.Text = fmt.Sprintf("a quotation mark is out of place or missing on line %d", p.Line)
		f.Hint = `put the whole field in quotation marks, and double those inside it: "a ""b"" c"`
	}
	return f
}
