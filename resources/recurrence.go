// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"time"

	"github.com/teambition/rrule-go"
)

// maxOccurrences is how often a rule may happen in the range that is laid out.
const maxOccurrences = 100_000

// CheckRule tells what is wrong with the value of an RFC 5545 RRULE, or nil.
// All of the RFC's section 3.3.10 is understood except FREQ=SECONDLY and leap
// seconds; what the RFC forbids (COUNT beside UNTIL, BYWEEKNO without
// FREQ=YEARLY, …) is an error.
func CheckRule(rule string) error {
	_, err := parseRule(rule)
	return err
}

// spans lists the occurrences that touch [from, to), clipped.
//
// A rule is expanded in local time and each occurrence is then looked up in
// the zone, as RFC 5545 wants it; so a rule by the hour meets the repeated
// hour of a clock change once. A Start the rule itself does not give is no
// occurrence (the RFC leaves that case open).
func (e *Exception) spans(zone *time.Location, from, to Tick) ([]Interval, error) {
	if e.Start < minTick || e.Start > maxTick {
		return nil, fmt.Errorf("its start lies outside the years 1 to 9999")
	}
	long := min(max(e.Long, 0), Seconds(maxTick-minTick))
	if e.Rule == "" {
		return appendClipped(nil, Interval{e.Start, e.Start + Tick(long)}, from, to), nil
	}
	r, err := parseRule(e.Rule)
	if err != nil {
		return nil, err
	}
	// Clipped, so that year-long occurrences near year 1 do not leave the calendar.
	earliest := max(from-Tick(long), minTick)
	starts, err := r.expand(zone, e.Start, earliest, to)
	if err != nil {
		return nil, fmt.Errorf("%w (rule %s from %s to %s)", err, e.Rule, day(zone, from), day(zone, to))
	}
	var list []Interval
	for _, t := range starts {
		list = appendClipped(list, Interval{t, t + Tick(long)}, from, to)
	}
	return list, nil
}

func day(zone *time.Location, t Tick) string { return wallOf(zone, t).time().Format(time.DateOnly) }

// expand lists the occurrences from earliest until before to, in the rule's
// order, which a clock change may disturb by an hour.
func (r recurrence) expand(zone *time.Location, start, earliest, to Tick) ([]Tick, error) {
	if start >= to {
		return nil, nil
	}
	first := wallOf(zone, start)
	option := r.explicit(first)
	if err := reachable(option, first); err != nil {
		return nil, err
	}
	low, high := wallOf(zone, earliest)-wall(Day), wallOf(zone, to)+wall(Day)
	if option.Count == 0 {
		option.Dtstart = forward(option, first, low).time()
	} else {
		option.Dtstart = first.time()
	}
	option.Until = r.lastWall(zone, high).time()
	walls, err := listWalls(option, low, high)
	if err != nil {
		return nil, err
	}
	line := newZoneline(zone, earliest, to)
	var starts []Tick
	for _, w := range walls {
		t := line.tick(w)
		if w == first {
			t = start // which may be the second of a repeated hour
		}
		if t >= earliest && t < to && (!r.untilUTC || t <= Tick(r.until)) {
			starts = append(starts, t)
		}
	}
	return starts, nil
}

// lastWall is a reading no occurrence before high may pass.
func (r recurrence) lastWall(zone *time.Location, high wall) wall {
	switch {
	case !r.hasUntil:
		return high
	case r.untilUTC:
		// A day more, since local order is not the order of instants; expand
		// compares the instants.
		return min(high, wallOf(zone, Tick(r.until))+wall(Day))
	}
	return min(high, r.until)
}

// gregorian is the period of the calendar: 400 years are 146097 days, which
// are whole weeks.
const (
	gregorianYears = 400
	gregorianCycle = 146097 * wall(Day)
)

// listWalls runs the library. It stops by itself only at year 9999 when a rule
// matches no date at all (30 February), so the whole calculation is moved
// there by whole periods of the calendar and back.
func listWalls(option rrule.ROption, low, high wall) ([]wall, error) {
	cycles := wall(max(0, 9999-option.Until.Year()) / gregorianYears)
	shift := func(t time.Time, by wall) time.Time { return (wall(t.Unix()) + by).time() }
	option.Dtstart = shift(option.Dtstart, cycles*gregorianCycle)
	option.Until = shift(option.Until, cycles*gregorianCycle)
	if option.Freq >= rrule.HOURLY && !anyDate(option) {
		return nil, nil
	}
	rule, err := rrule.NewRRule(option)
	if err != nil {
		return nil, err
	}
	var walls []wall
	next := rule.Iterator()
	for n := 0; ; n++ {
		t, ok := next()
		if !ok {
			return walls, nil
		}
		if n >= maxOccurrences {
			return nil, fmt.Errorf("the rule happens more than %d times; use a coarser FREQ or a larger INTERVAL, or one long span without a rule", maxOccurrences)
		}
		if w := wall(t.Unix()) - cycles*gregorianCycle; w >= low && w <= high {
			walls = append(walls, w)
		}
	}
}

// anyDate tells whether the dates of a rule by the hour or minute match at
// all before its end, so that the library does not try every minute of
// centuries.
func anyDate(option rrule.ROption) bool {
	daily := rrule.ROption{
		Freq: rrule.DAILY, Until: option.Until,
		Dtstart: wall(option.Dtstart.Unix()).midnight().time(),
		Bymonth: option.Bymonth, Bymonthday: option.Bymonthday,
		Byyearday: option.Byyearday, Byweekday: option.Byweekday,
	}
	rule, err := rrule.NewRRule(daily)
	if err != nil {
		return false
	}
	_, ok := rule.Iterator()()
	return ok
}
