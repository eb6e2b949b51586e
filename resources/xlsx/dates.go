// SPDX-License-Identifier: Apache-2.0

package xlsx

import (
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// A date in a workbook is a number whose format is a date's. So before the
// cells are read, every date format is replaced by one that marks the number,
// and every other format by "general", which leaves a number as it is. (To have
// the library write dates out takes it many times as long.)
const (
	formatGeneral = 0
	formatDate    = 14
)

// dateMark stands before every number that is a date. It cannot be in a cell
// of text: XML has no such character. Eight places are a thousandth of a second.
const (
	dateMark    = "\x01"
	datePattern = `"` + dateMark + `"0.00000000`
)

// plainFormats replaces the formats of the open workbook.
func plainFormats(book *excelize.File) {
	styles := book.Styles
	if styles == nil || styles.CellXfs == nil {
		return
	}
	dates := map[int]bool{}
	if styles.NumFmts == nil {
		styles.NumFmts = another(styles.NumFmts)
	}
	for _, f := range styles.NumFmts.NumFmt {
		if f != nil {
			dates[f.NumFmtID] = isDateFormat(f.FormatCode)
		}
	}
	marked := another(first(styles.NumFmts.NumFmt))
	marked.NumFmtID, marked.FormatCode = formatDate, datePattern
	styles.NumFmts.NumFmt = append(styles.NumFmts.NumFmt[:0], marked)
	general, date := formatGeneral, formatDate
	for i := range styles.CellXfs.Xf {
		xf := &styles.CellXfs.Xf[i]
		if xf.NumFmtID == nil {
			continue
		}
		custom, ok := dates[*xf.NumFmtID]
		if ok && custom || !ok && isDateID(*xf.NumFmtID) {
			xf.NumFmtID = &date
		} else {
			xf.NumFmtID = &general
		}
	}
}

// another is a new value of a type the library does not export.
func another[T any](*T) *T { return new(T) }

func first[T any]([]*T) *T { return nil }

// isDateID knows the built-in formats for dates and times: ISO/IEC 29500-1,
// 18.8.30, and the East Asian ones listed there.
func isDateID(id int) bool {
	return id >= 14 && id <= 22 || id >= 27 && id <= 36 || id >= 45 && id <= 47 || id >= 50 && id <= 58
}

// isDateFormat tells whether a format code writes years, months, days, hours
// or seconds, outside text, colours and escaped characters.
func isDateFormat(code string) bool {
	var plain strings.Builder
	for i := 0; i < len(code); i++ {
		switch code[i] {
		case '"':
			i = skipTo(code, i+1, '"')
		case '[':
			i = skipTo(code, i+1, ']')
		case '\\', '_', '*':
			i++
		default:
			plain.WriteByte(code[i])
		}
	}
	bare := strings.ReplaceAll(strings.ToLower(plain.String()), "general", "")
	return strings.ContainsAny(bare, "ymdhs")
}

func skipTo(s string, from int, end byte) int {
	for from < len(s) && s[from] != end {
		from++
	}
	return from
}

// plainDate writes a marked number as the date and time it stands for, to the
// second; a date at midnight is a date alone.
func plainDate(cell string, since1904 bool) string {
	number, marked := strings.CutPrefix(cell, dateMark)
	if !marked {
		return cell
	}
	serial, err := strconv.ParseFloat(number, 64)
	if err != nil || serial > lastSerial {
		return number
	}
	at, err := excelize.ExcelDateToTime(serial, since1904)
	if err != nil {
		return number
	}
	at = at.Round(time.Second)
	switch {
	case at.Truncate(24 * time.Hour).Equal(at):
		return at.Format(time.DateOnly)
	case at.Second() == 0:
		return at.Format("2006-01-02 15:04")
	}
	return at.Format(time.DateTime)
}

// lastSerial is the end of the year 9999, the last a workbook knows.
const lastSerial = 2958465
