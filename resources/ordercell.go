// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// Limits of one order line.
const (
	maxOrderName     = 40 // characters of an order's or a line's name
	maxCustomer      = 200
	maxNote          = 4096
	maxOrderQuantity = 10_000
	maxOrderWeight   = 1_000_000
)

const (
	allowedOrder  = "letters, digits, - and _, at most 40"
	allowedLine   = "letters, digits and _, at most 40, like 1"
	allowedShipBy = "a date like 2026-03-14, with a time like 2026-03-14 16:00 in the plant's zone, or RFC 3339 like 2026-03-14T16:00:00+01:00; years 1971 to 2199"
	allowedWhole  = "a whole number from %d to %d"
)

// Serials join order, line and a number with dashes, so a line has none: then
// no two orders can make the same serial.
func isLineRune(c rune) bool  { return c == '_' || unicode.IsLetter(c) || unicode.IsDigit(c) }
func isOrderRune(c rune) bool { return c == '-' || isLineRune(c) }

// orderCells is one row, trimmed, by column. A column the file does not have
// is not in the map; the header has been blamed for that.
type orderCells struct {
	r     *orderReader
	line  int
	cells map[string]string
}

func (c *orderCells) report(f Finding) {
	f.Line = c.line
	c.r.report(f)
}

func (c *orderCells) bad(column, text, allowed, hint string) {
	c.report(Finding{Field: column, Text: text, Found: c.cells[column], Allowed: allowed, Hint: hint})
}

// name reads an order's or a line's name; empty after a finding. A line
// without a name is 1.
func (c *orderCells) name(column, allowed string, is func(rune) bool) string {
	text, ok := c.cells[column]
	if text == "" {
		if column == "line" {
			return "1"
		}
		if ok {
			c.bad(column, "is empty", allowed, "")
		}
		return ""
	}
	other := strings.IndexFunc(text, func(r rune) bool { return !is(r) })
	if other >= 0 || len([]rune(text)) > maxOrderName {
		c.bad(column, "cannot be read", allowed, "")
		return ""
	}
	return text
}

// text reads free text without characters that mislead, and without control
// characters other than those in also.
func (c *orderCells) text(column string, longest int, also string) string {
	text := c.cells[column]
	if len(text) > longest {
		c.bad(column, fmt.Sprintf("is %d bytes long", len(text)), fmt.Sprintf("at most %d", longest), "")
		return ""
	}
	for _, r := range text {
		damaged := r == unicode.ReplacementChar || r >= 0xFDD0 && r <= 0xFDEF || r&0xFFFE == 0xFFFE
		if damaged || misleads(r) || unicode.IsControl(r) && !strings.ContainsRune(also, r) {
			c.bad(column, fmt.Sprintf("holds the character %U, which is no text", r), "printable text in UTF-8", "")
			return ""
		}
	}
	return text
}

// misleads knows what cannot be seen and makes a text look like another: marks
// that turn the direction of writing, and spaces without width. The joiners
// U+200C and U+200D stay, as words of some scripts are not spelt without them.
func misleads(c rune) bool {
	switch {
	case c == '\u200C', c == '\u200D':
		return false
	case c >= '\u200B' && c <= '\u200F', c >= '\u202A' && c <= '\u202E', c >= '\u2060' && c <= '\u206F':
		return true
	}
	return c == '\u061C' || c == '\uFEFF'
}

func (c *orderCells) product() string {
	text, ok := c.cells["product"]
	switch {
	case !ok:
	case text == "":
		c.bad("product", "is empty", list(c.r.products), "")
	case c.r.plant.Product(text) == nil:
		c.bad("product", "the plant makes no such product", list(c.r.products), hint(text, c.r.products))
	}
	return text
}

// whole reads a whole number; an empty cell is otherwise, or an error when
// that is below low.
func (c *orderCells) whole(column string, low, high, otherwise int64) int64 {
	text, ok := c.cells[column]
	if text == "" && (!ok || otherwise >= low) {
		return otherwise
	}
	allowed := fmt.Sprintf(allowedWhole, low, high)
	if text == "" {
		c.bad(column, "is empty", allowed, "")
		return otherwise
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || text[0] == '+' {
		c.bad(column, "is no whole number", allowed, "write it in digits only")
		return otherwise
	}
	if n < low || n > high {
		c.bad(column, "is out of range", allowed, "")
		return otherwise
	}
	return n
}

func (c *orderCells) kind() OrderKind {
	text := strings.ToLower(c.cells["kind"])
	switch text {
	case "", "firm":
		return Firm
	case "event":
		return Event
	}
	c.bad("kind", "cannot be read", "firm (late costs per day) or event (worthless when late)", hint(text, []string{"firm", "event"}))
	return Firm
}

// times reads ship_by and earliest_start and works out when the line is due.
func (c *orderCells) times(line *OrderLine) {
	p := c.r.plant
	if text := c.cells["earliest_start"]; text != "" {
		at, day, ok := orderTime(p.Zone, text)
		if !ok {
			c.bad("earliest_start", "cannot be read as a date", allowedShipBy, "")
		}
		c.warnSkipped("earliest_start")
		line.EarliestStart = at
		if day != nil {
			line.EarliestStart = LocalTick(p.Zone, day.Year(), day.Month(), day.Day(), 0)
		}
	}
	text, given := c.cells["ship_by"]
	switch {
	case !given:
		return
	case text == "":
		c.bad("ship_by", "is empty", allowedShipBy, "")
		return
	}
	at, ok := p.ReadShipBy(text)
	if !ok {
		c.bad("ship_by", "cannot be read as a date", allowedShipBy, "")
		return
	}
	c.warnSkipped("ship_by")
	line.ShipBy = at
	due, found := p.lastShipment(line.ShipBy)
	line.Due = due
	if !found {
		c.warn("ship_by", "the carrier comes on no day of the two years before, so ship-by itself is due", "check the ship days of the plant file")
	}
	if line.EarliestStart >= line.Due {
		c.warn("earliest_start", "is not before the line is due, "+dueText(p.Zone, line.Due), "")
	}
}

// warnSkipped warns of a time that the clocks of the plant do not show on its day.
func (c *orderCells) warnSkipped(column string) {
	if _, skipped, ok := readLocal(c.r.plant.Zone, c.cells[column]); ok && skipped != "" {
		c.warn(column, skipped, "")
	}
}

// ReadShipBy reads a ship-by as people write it: RFC 3339, a date and time in
// the plant's zone, or a date alone, which means that day's cut-off, or its last
// second when the plant has no cut-off.
func (p *Plant) ReadShipBy(text string) (at Tick, ok bool) {
	at, day, ok := orderTime(p.Zone, strings.TrimSpace(text))
	if ok && day != nil {
		at = p.lastOn(*day)
	}
	return at, ok
}

// SkippedTime says of a ship-by that the clocks of the plant go forward over it, and
// what they show instead; it is empty for any other.
func (p *Plant) SkippedTime(text string) string {
	_, skipped, _ := readLocal(p.Zone, strings.TrimSpace(text))
	return skipped
}

// ShipByForms says how a ship-by may be written.
const ShipByForms = allowedShipBy

func (c *orderCells) warn(column, text, hint string) {
	c.report(Finding{Severity: Warning, Field: column, Text: text, Found: c.cells[column], Hint: hint})
}

func dueText(zone *time.Location, t Tick) string {
	return wallOf(zone, t).time().Format("2006-01-02 15:04")
}

// orderTime reads an instant, or a date alone as a day.
func orderTime(zone *time.Location, text string) (at Tick, day *time.Time, ok bool) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return Tick(t.Unix()), nil, sane(t)
	}
	if at, _, ok := readLocal(zone, text); at != 0 {
		return at, nil, ok
	}
	if t, err := time.Parse(time.DateOnly, text); err == nil {
		return 0, &t, sane(t)
	}
	return 0, nil, false
}
