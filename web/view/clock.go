// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"time"

	"towpath/resources"
)

// Clock writes instants for people of one zone at one instant.
type Clock struct {
	Zone *time.Location
	Now  resources.Tick
}

func (c Clock) local(t resources.Tick) time.Time {
	zone := c.Zone
	if zone == nil {
		zone = time.UTC
	}
	return time.Unix(int64(t), 0).In(zone)
}

// When is the full form, "Thu 14 Mar 16:00"; the year is added when it is not
// this one. The zero instant is a dash.
func (c Clock) When(t resources.Tick) string {
	if t == 0 {
		return "–"
	}
	at := c.local(t)
	if at.Year() != c.local(c.Now).Year() {
		return at.Format("Mon 2 Jan 2006 15:04")
	}
	return at.Format("Mon 2 Jan 15:04")
}

// Time is as short as it can be without being mistaken: "16:00" today, "Thu
// 16:00" within six days, else the full form.
func (c Clock) Time(t resources.Tick) string {
	if t == 0 {
		return "–"
	}
	at, now := c.local(t), c.local(c.Now)
	switch days := dayNumber(at) - dayNumber(now); {
	case days == 0:
		return at.Format("15:04")
	case days >= -6 && days <= 6:
		return at.Format("Mon 15:04")
	}
	return c.When(t)
}

// Hour is the time of day alone.
func (c Clock) Hour(t resources.Tick) string { return c.local(t).Format("15:04") }

// Day is the date alone, "Thu 14 Mar".
func (c Clock) Day(t resources.Tick) string { return c.local(t).Format("Mon 2 Jan") }

// Calendar is the date alone as a form's field takes it, "2026-03-14".
func (c Clock) Calendar(t resources.Tick) string { return c.local(t).Format(time.DateOnly) }

// Midnight is the beginning of the local day of t. Where the clocks go forward
// at midnight, that is when they show 1:00.
func (c Clock) Midnight(t resources.Tick) resources.Tick {
	at := c.local(t)
	return resources.LocalTick(at.Location(), at.Year(), at.Month(), at.Day(), 0)
}

// NextMidnight is the beginning of the next local day, whatever the length of
// this one.
func (c Clock) NextMidnight(t resources.Tick) resources.Tick {
	at := c.local(t)
	return resources.LocalTick(at.Location(), at.Year(), at.Month(), at.Day()+1, 0)
}

// ISO is the machine form in the plant's zone, RFC 3339.
func (c Clock) ISO(t resources.Tick) string { return c.local(t).Format(time.RFC3339) }

// Relative is "in 12 min", "5 h ago" or "now".
func (c Clock) Relative(t resources.Tick) string {
	switch d := resources.Seconds(t - c.Now); {
	case t == 0:
		return ""
	case d >= 30:
		return "in " + Span(d)
	case d <= -30:
		return Span(-d) + " ago"
	}
	return "now"
}

// dayNumber counts local days, so that a clock change cannot make two of one.
func dayNumber(t time.Time) int {
	return int(time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// Span writes a length of time with its two largest units, rounded to
// minutes: "12 min", "2 h 05 min", "3 d 4 h". Negative lengths lose their sign.
func Span(d resources.Seconds) string {
	if d < 0 {
		d = -d
	}
	minutes := int64(d+30) / 60
	days, hours, rest := minutes/1440, minutes/60%24, minutes%60
	switch {
	case minutes == 0 && d > 0:
		return "under 1 min"
	case days > 0 && hours > 0:
		return fmt.Sprintf("%d d %d h", days, hours)
	case days > 0:
		return fmt.Sprintf("%d d", days)
	case hours > 0 && rest > 0:
		return fmt.Sprintf("%d h %02d min", hours, rest)
	case hours > 0:
		return fmt.Sprintf("%d h", hours)
	}
	return fmt.Sprintf("%d min", minutes)
}

// Grams writes a mass for people: grams below a kilogram, else kilograms.
func Grams(g int64) string {
	if g < 1000 {
		return fmt.Sprintf("%d g", g)
	}
	return fmt.Sprintf("%.2f kg", float64(g)/1000)
}

// Count writes a number with its noun: "1 tube", "3 tubes".
func Count(n int, one string) string {
	switch {
	case n == 1:
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
