// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

var weekdays = []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}

// twoShifts is the early and late shift of a small shop, with breaks.
func twoShifts() *resources.Calendar {
	return &resources.Calendar{ID: "shop", Shifts: []resources.Shift{
		{Days: weekdays, Start: 6 * resources.Hour, End: 14 * resources.Hour,
			Breaks: []resources.ShiftBreak{{Start: 10 * resources.Hour, End: 10*resources.Hour + 30*resources.Minute}}},
		{Days: weekdays, Start: 14 * resources.Hour, End: 22 * resources.Hour,
			Breaks: []resources.ShiftBreak{{Start: 18 * resources.Hour, End: 18*resources.Hour + 30*resources.Minute}}},
	}}
}

// spans reads "from to" pairs of local times.
func spans(t testing.TB, zone *time.Location, texts ...string) []resources.Interval {
	var list []resources.Interval
	for i := 0; i < len(texts); i += 2 {
		list = append(list, resources.Interval{Start: local(t, zone, texts[i]), End: local(t, zone, texts[i+1])})
	}
	return list
}

func hours(list []resources.Interval) float64 {
	var total resources.Seconds
	for _, w := range list {
		total += w.Length()
	}
	return float64(total) / float64(resources.Hour)
}

func TestWindowsOfTwoShiftsWithBreaks(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	got, err := twoShifts().Windows(zone, local(t, zone, "2026-01-02T12:00"), local(t, zone, "2026-01-05T11:00"))
	require.NoError(t, err)
	require.Equal(t, spans(t, zone,
		"2026-01-02T12:00", "2026-01-02T18:00", // the shifts touch at 14:00
		"2026-01-02T18:30", "2026-01-02T22:00",
		"2026-01-05T06:00", "2026-01-05T10:00",
		"2026-01-05T10:30", "2026-01-05T11:00"), got)
}

func TestWindowsWithoutCalendarOrRange(t *testing.T) {
	var always *resources.Calendar
	got, err := always.Windows(nil, 100, 200)
	require.NoError(t, err)
	require.Equal(t, []resources.Interval{{Start: 100, End: 200}}, got)
	got, err = (&resources.Calendar{}).Windows(nil, 100, 200)
	require.NoError(t, err)
	require.Empty(t, got)
	got, err = twoShifts().Windows(nil, 200, 100)
	require.NoError(t, err)
	require.Empty(t, got)
}

// Night shifts over clock changes: hours worked from the IANA time zone
// database, see daylight_saving.json.
func TestNightShiftOverClockChanges(t *testing.T) {
	night := &resources.Calendar{ID: "night", Shifts: []resources.Shift{
		{Days: []time.Weekday{time.Saturday}, Start: 22 * resources.Hour, End: 30 * resources.Hour}}}
	for _, c := range []struct {
		zone, from, to string
		hours          float64
	}{
		{"America/New_York", "2026-03-07T00:00", "2026-03-09T00:00", 7},
		{"America/New_York", "2026-10-31T00:00", "2026-11-02T00:00", 9},
		{"Europe/Berlin", "2026-03-28T00:00", "2026-03-30T00:00", 7},
		{"Europe/Berlin", "2026-10-24T00:00", "2026-10-26T00:00", 9},
		{"Australia/Lord_Howe", "2026-04-04T00:00", "2026-04-06T00:00", 8.5},
		{"Australia/Lord_Howe", "2026-10-03T00:00", "2026-10-05T00:00", 7.5},
		{"Asia/Tokyo", "2026-03-07T00:00", "2026-03-09T00:00", 8},
	} {
		zone := zoneOf(t, c.zone)
		got, err := night.Windows(zone, local(t, zone, c.from), local(t, zone, c.to))
		require.NoError(t, err)
		require.Len(t, got, 1, c.zone)
		require.Equal(t, c.hours, hours(got), c.zone)
		// A range that begins inside the shift still sees it.
		got, err = night.Windows(zone, got[0].Start+7200, got[0].End)
		require.NoError(t, err)
		require.Equal(t, c.hours-2, hours(got), c.zone)
	}
}

func TestShiftAndBreakInsideTheMissingHour(t *testing.T) {
	zone := zoneOf(t, "America/New_York") // 2026-03-08: 02:00 is 03:00
	calendar := &resources.Calendar{Shifts: []resources.Shift{{
		Days: []time.Weekday{time.Sunday}, Start: 2*resources.Hour + 15*resources.Minute, End: 2*resources.Hour + 45*resources.Minute}}}
	got, err := calendar.Windows(zone, local(t, zone, "2026-03-08T00:00"), local(t, zone, "2026-03-09T00:00"))
	require.NoError(t, err)
	require.Equal(t, spans(t, zone, "2026-03-08T03:15", "2026-03-08T03:45"), got, "read with the offset before the gap")
	calendar.Shifts[0].End = 3 * resources.Hour // which comes before 02:15 that day
	got, err = calendar.Windows(zone, local(t, zone, "2026-03-08T00:00"), local(t, zone, "2026-03-09T00:00"))
	require.NoError(t, err)
	require.Empty(t, got)
}

func TestLaterExceptionsWin(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	calendar := twoShifts()
	day := 24 * resources.Hour
	calendar.Exceptions = []resources.Exception{
		{Start: local(t, zone, "2026-05-01T00:00"), Long: day, Why: "holiday"},
		{Open: true, Start: local(t, zone, "2026-05-01T07:00"), Long: 4 * resources.Hour, Why: "rush"},
		{Start: local(t, zone, "2026-05-01T09:00"), Long: resources.Hour, Why: "alarm test"},
		{Open: true, Start: local(t, zone, "2026-01-03T06:00"), Long: 6 * resources.Hour, Rule: "FREQ=MONTHLY;BYDAY=1SA", Why: "first Saturdays"},
	}
	got, err := calendar.Windows(zone, local(t, zone, "2026-05-01T00:00"), local(t, zone, "2026-05-04T00:00"))
	require.NoError(t, err)
	require.Equal(t, spans(t, zone,
		"2026-05-01T07:00", "2026-05-01T09:00",
		"2026-05-01T10:00", "2026-05-01T11:00",
		"2026-05-02T06:00", "2026-05-02T12:00"), got)
}

// An occurrence that began before the range reaches into it, and one that is
// longer than its period is one closure.
func TestLongOccurrencesReachIntoTheRange(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	calendar := &resources.Calendar{Exceptions: []resources.Exception{
		{Open: true, Start: 0, Long: 10 * resources.Day, Rule: "FREQ=WEEKLY"},
	}}
	from, to := local(t, zone, "2026-02-01T00:00"), local(t, zone, "2026-03-01T00:00")
	got, err := calendar.Windows(zone, from, to)
	require.NoError(t, err)
	require.Equal(t, []resources.Interval{{Start: from, End: to}}, got)
}

func TestApartExceptionsAreNotJoined(t *testing.T) {
	c := &resources.Calendar{Exceptions: []resources.Exception{
		{Open: true, Start: 100, Long: 100},
		{Open: true, Apart: true, Start: 200, Long: 100}, // touches the one before
		{Open: true, Apart: true, Start: 300, Long: 100}, // and the next
		{Open: true, Start: 350, Long: 150},              // overlaps
		{Start: 220, Long: 10},
		{Open: true, Start: 500, Long: 50},
	}}
	got, err := c.Windows(nil, 150, 540)
	require.NoError(t, err)
	require.Equal(t, []resources.Interval{{Start: 150, End: 200}, {Start: 200, End: 220}, {Start: 230, End: 300},
		{Start: 300, End: 400}, {Start: 400, End: 540}}, got)
	c = &resources.Calendar{Exceptions: []resources.Exception{
		{Open: true, Apart: true, Long: resources.Hour, Rule: "FREQ=HOURLY"}}}
	got, err = c.Windows(nil, 1800, 3*3600)
	require.NoError(t, err)
	require.Equal(t, []resources.Interval{{Start: 1800, End: 3600}, {Start: 3600, End: 7200}, {Start: 7200, End: 10800}}, got)
}

func TestWindowsRefuse(t *testing.T) {
	day := resources.Tick(resources.Day)
	for say, c := range map[string]struct {
		calendar resources.Calendar
		from, to resources.Tick
	}{
		"at most 20 years":       {resources.Calendar{}, 0, 30 * 365 * day},
		"years 1 to 9999":        {resources.Calendar{}, -1 << 62, 1 << 62},
		`"x": shift 1`:           {resources.Calendar{ID: "x", Shifts: []resources.Shift{{Start: 5, End: 5}}}, 0, day},
		`"y": shift 1`:           {resources.Calendar{ID: "y", Shifts: []resources.Shift{{Start: resources.Day, End: resources.Day + resources.Hour}}}, 0, day},
		"at most 7 days":         {resources.Calendar{ID: "x", Shifts: []resources.Shift{{Start: 5, End: 1 << 60}}}, 0, day},
		"exception 1: its start": {resources.Calendar{Exceptions: []resources.Exception{{Start: 1 << 62}}}, 0, day},
		"exception 1: the rule":  {resources.Calendar{Exceptions: []resources.Exception{{Rule: "nonsense"}}}, 0, day},
	} {
		_, err := c.calendar.Windows(nil, c.from, c.to)
		require.ErrorContains(t, err, say)
	}
	// Lengths nobody checked do no harm.
	for _, long := range []resources.Seconds{-1 << 63, -5, 0, 1<<63 - 1} {
		c := resources.Calendar{Exceptions: []resources.Exception{{Open: true, Long: long, Rule: "FREQ=DAILY"}}}
		got, err := c.Windows(nil, 0, 10*day)
		require.NoError(t, err)
		require.Equal(t, long > 5, len(got) == 1, long)
	}
}

// drawCalendar makes any calendar that Windows accepts.
func drawCalendar(t *rapid.T) *resources.Calendar {
	c := &resources.Calendar{ID: "drawn"}
	seconds := func(low, high resources.Seconds, label string) resources.Seconds {
		return resources.Seconds(rapid.Int64Range(int64(low/300), int64(high/300)).Draw(t, label)) * 300
	}
	for range rapid.IntRange(0, 3).Draw(t, "shifts") {
		s := resources.Shift{Days: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) time.Weekday {
			return time.Weekday(rapid.IntRange(0, 6).Draw(t, "day"))
		}), 1, 5).Draw(t, "days")}
		s.Start = seconds(0, resources.Day-300, "start")
		s.End = s.Start + seconds(300, 2*resources.Day, "length")
		for range rapid.IntRange(0, 2).Draw(t, "breaks") {
			start := seconds(0, 2*resources.Day, "break")
			s.Breaks = append(s.Breaks, resources.ShiftBreak{Start: start, End: start + seconds(0, 2*resources.Hour, "break length")})
		}
		c.Shifts = append(c.Shifts, s)
	}
	rules := []string{"", "FREQ=DAILY;INTERVAL=3", "FREQ=MONTHLY;BYDAY=1WE,-1FR", "FREQ=YEARLY", "FREQ=HOURLY;INTERVAL=5",
		"FREQ=DAILY;COUNT=40", "FREQ=WEEKLY;BYDAY=SU;UNTIL=20260601T000000Z", "FREQ=DAILY;BYHOUR=2;BYMINUTE=30"}
	for range rapid.IntRange(0, 3).Draw(t, "exceptions") {
		c.Exceptions = append(c.Exceptions, resources.Exception{
			Open:  rapid.Bool().Draw(t, "open"),
			Start: 1_767_225_600 + resources.Tick(seconds(-60*resources.Day, 200*resources.Day, "exception")),
			Long:  seconds(0, 3*resources.Day, "long"),
			Rule:  rapid.SampledFrom(rules).Draw(t, "rule"),
		})
	}
	return c
}

// Windows are sorted, apart, inside the range, and the windows of two
// neighbouring ranges are those of the whole.
func TestWindowsAreSortedApartAndAddUp(t *testing.T) {
	zones := []*time.Location{zoneOf(t, "America/New_York"), zoneOf(t, "Australia/Lord_Howe"), time.UTC}
	rapid.Check(t, func(t *rapid.T) {
		c := drawCalendar(t)
		zone := rapid.SampledFrom(zones).Draw(t, "zone")
		from := 1_767_225_600 + resources.Tick(rapid.Int64Range(0, 200*86400).Draw(t, "from"))
		to := from + resources.Tick(rapid.Int64Range(1, 200*86400).Draw(t, "range"))
		cut := from + resources.Tick(rapid.Int64Range(0, int64(to-from)).Draw(t, "cut"))
		whole, err := c.Windows(zone, from, to)
		require.NoError(t, err)
		last := from - 1
		for _, w := range whole {
			require.Greater(t, w.Start, last)
			require.Greater(t, w.End, w.Start)
			last = w.End
		}
		require.LessOrEqual(t, last, to)
		left, err := c.Windows(zone, from, cut)
		require.NoError(t, err)
		right, err := c.Windows(zone, cut, to)
		require.NoError(t, err)
		if n := len(left); n > 0 && len(right) > 0 && left[n-1].End == right[0].Start {
			left[n-1].End = right[0].End
			right = right[1:]
		}
		require.Equal(t, append([]resources.Interval{}, whole...), append(append([]resources.Interval{}, left...), right...))
	})
}

// A slow second opinion: every minute is looked up by itself in the wall
// clock, far from any clock change.
func TestWindowsAgreeWithLookingAtEachMinute(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	from := local(t, zone, "2026-05-04T00:00")
	rapid.Check(t, func(t *rapid.T) {
		c := drawCalendar(t)
		c.Exceptions = nil
		to := from + 9*resources.Tick(resources.Day)
		windows, err := c.Windows(zone, from, to)
		require.NoError(t, err)
		for at := from; at < to; at += 300 {
			open := false
			for _, w := range windows {
				open = open || w.Start <= at && at < w.End
			}
			require.Equal(t, openAt(c, zone, at), open, time.Unix(int64(at), 0).In(zone))
		}
	})
}

func openAt(c *resources.Calendar, zone *time.Location, at resources.Tick) bool {
	for _, s := range c.Shifts {
		for back := range 4 {
			now := time.Unix(int64(at), 0).In(zone)
			day := time.Date(now.Year(), now.Month(), now.Day()-back, 0, 0, 0, 0, zone)
			since := resources.Seconds(int64(at) - day.Unix())
			inside := since >= s.Start && since < s.End
			for _, b := range s.Breaks {
				inside = inside && !(since >= b.Start && since < b.End)
			}
			for _, d := range s.Days {
				if inside && d == day.Weekday() {
					return true
				}
			}
		}
	}
	return false
}

func BenchmarkWindows26Weeks(b *testing.B) {
	zone := zoneOf(b, "Europe/Berlin")
	c := twoShifts()
	start := local(b, zone, "2020-01-01T00:00")
	for _, rule := range []string{"FREQ=MONTHLY;BYDAY=1WE", "FREQ=YEARLY;BYMONTH=12;BYMONTHDAY=25,26", "FREQ=WEEKLY;INTERVAL=2"} {
		c.Exceptions = append(c.Exceptions, resources.Exception{Start: start, Long: 4 * resources.Hour, Rule: rule})
	}
	from := local(b, zone, "2026-01-01T00:00")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.Windows(zone, from, from+26*7*resources.Tick(resources.Day)); err != nil {
			b.Fatal(err)
		}
	}
}
