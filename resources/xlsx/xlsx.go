// SPDX-License-Identifier: Apache-2.0

// Package xlsx reads order lines and forecasts from XLSX workbooks (ISO/IEC 29500). It only
// turns a sheet into rows of text; what they mean is resources.ReadOrderRows's
// business, so that a workbook and a CSV file with the same cells are the same.
package xlsx

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"towpath/resources"
)

// ReadOrders reads the order lines of a workbook: of its sheet named "orders"
// if it has one, else of its first sheet. Columns and findings are those of
// resources.ReadOrderRows; a finding's line is the row of the sheet.
func ReadOrders(file string, text []byte, p *resources.Plant) ([]resources.OrderLine, []resources.Finding) {
	from, err := open(text, "orders")
	if err != nil {
		return nil, []resources.Finding{{File: file, Text: err.Error(), Allowed: "order lines in a workbook (.xlsx)"}}
	}
	lines, found := resources.ReadOrderRows(file, from.rows, p)
	return lines, from.named(found)
}

// ReadForecast reads a season forecast from a workbook: from its sheet named
// "forecast" if it has one, else from its first sheet. Forms and findings are
// those of resources.ReadForecastRows.
func ReadForecast(file string, text []byte, p *resources.Plant) (*resources.Forecast, []resources.Finding) {
	from, err := open(text, "forecast")
	if err != nil {
		return nil, []resources.Finding{{File: file, Text: err.Error(), Allowed: "a forecast in a workbook (.xlsx)"}}
	}
	forecast, found := resources.ReadForecastRows(file, from.rows, p)
	return forecast, from.named(found)
}

// source is the sheet that is read and how it was chosen.
type source struct {
	rows   [][]string
	sheet  string
	wanted string // the name looked for
	others bool   // the workbook has other sheets
}

// named says in the first error which sheet it is about, where another may be
// meant or the file is said to be empty.
func (s source) named(found []resources.Finding) []resources.Finding {
	i := slices.IndexFunc(found, func(f resources.Finding) bool { return f.Severity == resources.Error })
	if i < 0 {
		return found
	}
	if len(s.rows) == 0 {
		found[i].Text = fmt.Sprintf("the sheet %q is empty", s.sheet)
	}
	if s.others && !isNamed(s.sheet, s.wanted) {
		hint := fmt.Sprintf("the first sheet, %q, was read, as no sheet is named %s: give the right one that name, or put it first", s.sheet, s.wanted)
		if found[i].Hint != "" {
			hint = found[i].Hint + "; " + hint
		}
		found[i].Hint = hint
	}
	return found
}

// Limits of what is taken from a workbook.
const (
	maxRows    = resources.MaxOrderLines + 1000 // some blank ones between
	maxColumns = 200
)

var (
	errRows    = fmt.Errorf("the sheet has more than %d rows; split it", maxRows)
	errColumns = fmt.Errorf("the sheet has values right of column %d; take them out", maxColumns)
)

// Rows gives the cells of the sheet of that name as text, of the first sheet
// when there is none, from its first row on;
// blank rows are kept, blank ends of rows are not. Numbers come without their
// format; dates, which a workbook stores as numbers with a date's format, come
// as 2006-01-02 or 2006-01-02 15:04, a formula as the result stored with it.
func Rows(text []byte, name string) ([][]string, error) {
	from, err := open(text, name)
	return from.rows, err
}

func open(text []byte, name string) (from source, err error) {
	if err := checkArchive(text); err != nil {
		return source{}, err
	}
	// The library is not ours: should it panic on some file, that is a broken
	// file, not the end of the program.
	defer func() {
		if p := recover(); p != nil {
			from, err = source{}, fmt.Errorf("the workbook is damaged; save it again (%v)", p)
		}
	}()
	book, err := excelize.OpenReader(bytes.NewReader(text), excelize.Options{
		UnzipSizeLimit:    maxUnpacked,
		UnzipXMLSizeLimit: maxUnpacked, // the same, so that nothing is written to disk
	})
	if err != nil {
		return source{}, fmt.Errorf("the workbook cannot be read; save it again as .xlsx (%w)", err)
	}
	defer book.Close()
	plainFormats(book)
	from = source{wanted: name, others: book.SheetCount > 1}
	if from.sheet, err = namedSheet(book, name); err != nil {
		return source{}, err
	}
	if from.rows, err = sheetRows(book, from.sheet); err != nil {
		return source{}, err
	}
	return from, nil
}

func namedSheet(book *excelize.File, wanted string) (string, error) {
	sheets := book.GetSheetList()
	if len(sheets) == 0 {
		return "", errors.New("the workbook has no sheet")
	}
	for _, name := range sheets {
		if isNamed(name, wanted) {
			return name, nil
		}
	}
	return sheets[0], nil
}

func isNamed(sheet, wanted string) bool { return strings.EqualFold(strings.TrimSpace(sheet), wanted) }

func sheetRows(book *excelize.File, sheet string) ([][]string, error) {
	in, err := book.Rows(sheet)
	if err != nil {
		return nil, fmt.Errorf("the sheet %q cannot be read; save the workbook again (%w)", sheet, err)
	}
	defer in.Close()
	since1904, err := countsFrom1904(book)
	if err != nil {
		return nil, fmt.Errorf("the workbook cannot be read; save it again as .xlsx (%w)", err)
	}
	var rows [][]string
	for n := 0; in.Next(); n++ {
		cells, err := in.Columns()
		if err != nil {
			return nil, fmt.Errorf("row %d of the sheet %q cannot be read (%w)", n+1, sheet, err)
		}
		cells, err = plainCells(cells, since1904)
		switch {
		case err != nil:
			return nil, err
		case len(cells) == 0:
			continue
		case n >= maxRows:
			return nil, errRows
		}
		for len(rows) < n {
			rows = append(rows, nil)
		}
		rows = append(rows, cells)
	}
	if err := in.Error(); err != nil {
		return nil, fmt.Errorf("the sheet %q cannot be read (%w)", sheet, err)
	}
	return rows, nil
}

// countsFrom1904 tells which of its two calendars the workbook uses.
func countsFrom1904(book *excelize.File) (bool, error) {
	properties, err := book.GetWorkbookProps()
	return properties.Date1904 != nil && *properties.Date1904, err
}

// plainCells drops the blank end of a row and writes its dates out.
func plainCells(cells []string, since1904 bool) ([]string, error) {
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) > maxColumns {
		return nil, errColumns
	}
	for i, cell := range cells {
		cells[i] = plainDate(cell, since1904)
	}
	return cells, nil
}
