// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"regexp"
	"strconv"
	"time"
)

// Week is a week as ISO 8601 numbers them: from Monday, the first of a year
// being the one with 4 January in it.
type Week struct {
	Year   int // the week's year, which near New Year may differ from the date's
	Number int // 1 to 52 or 53
}

// WeekOf is the week an instant falls in, by the zone's local date.
func WeekOf(zone *time.Location, t Tick) Week {
	year, number := wallOf(zone, t).time().ISOWeek()
	return Week{year, number}
}

// WeekDate is the local date of an instant in ISO 8601's week form, such as
// "2004-W53-6".
func WeekDate(zone *time.Location, t Tick) string {
	at := wallOf(zone, t).time()
	year, number := at.ISOWeek()
	return fmt.Sprintf("%s-%d", Week{year, number}, (int(at.Weekday())+6)%7+1)
}

// String is the week as "2026-W11".
func (w Week) String() string { return fmt.Sprintf("%04d-W%02d", w.Year, w.Number) }

var weekForm = regexp.MustCompile(`^([0-9]{4})-?W([0-9]{2})$`)

// ParseWeek reads a week such as "2026-W11" or "2026W11". The week must exist.
func ParseWeek(text string) (Week, error) {
	m := weekForm.FindStringSubmatch(text)
	if m == nil {
		return Week{}, fmt.Errorf("cannot read the week %q: want a form like 2026-W11", shorten(text))
	}
	var w Week
	w.Year, _ = strconv.Atoi(m[1]) // the form lets only digits through
	w.Number, _ = strconv.Atoi(m[2])
	if w.Year < 1 || w.Number < 1 || w.Number > WeeksIn(w.Year) {
		return Week{}, fmt.Errorf("there is no week %s: %d has weeks 01 to %d", w, w.Year, WeeksIn(w.Year))
	}
	return w, nil
}

// Start is the first instant of the week's Monday in the zone; the week ends
// where the next one starts.
func (w Week) Start(zone *time.Location) Tick {
	return LocalTick(zone, w.Year, time.January, w.monday(), 0)
}

// monday is the day of January the week starts on; it may be 0 or less, or far
// beyond 31.
func (w Week) monday() int {
	fourth := time.Date(w.Year, time.January, 4, 0, 0, 0, 0, time.UTC)
	return 4 - (int(fourth.Weekday())+6)%7 + 7*(w.Number-1)
}

// Next is the following week.
func (w Week) Next() Week {
	year, number := time.Date(w.Year, time.January, w.monday()+7, 0, 0, 0, 0, time.UTC).ISOWeek()
	return Week{year, number}
}

// WeeksIn is how many weeks a year has, 52 or 53.
func WeeksIn(year int) int {
	_, n := time.Date(year, time.December, 28, 0, 0, 0, 0, time.UTC).ISOWeek()
	return n
}
