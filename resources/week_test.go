// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

// Source: ISO 8601-1:2019, week dates; see the file.
func TestWeekDates(t *testing.T) {
	var checks struct {
		Dates map[string]string
		Long  []int `json:"years_with_53_weeks_2000_2100"`
	}
	readCheck(t, "iso_weeks.json", &checks)
	require.Greater(t, len(checks.Dates), 100)
	for date, want := range checks.Dates {
		// Noon in Tokyo is the day before in Honolulu's zone: the date is local.
		zone := zoneOf(t, "Asia/Tokyo")
		at := local(t, zone, date+"T12:00")
		require.Equal(t, want, resources.WeekDate(zone, at), date)
		require.Equal(t, want[:8], resources.WeekOf(zone, at).String())
	}
	var long []int
	for year := 2000; year <= 2100; year++ {
		if resources.WeeksIn(year) == 53 {
			long = append(long, year)
		}
	}
	require.Equal(t, checks.Long, long)
}

func TestWeekIsReadAndRefused(t *testing.T) {
	for _, text := range []string{"2026-W53", "2026W53"} {
		w, err := resources.ParseWeek(text)
		require.NoError(t, err)
		require.Equal(t, resources.Week{Year: 2026, Number: 53}, w)
	}
	for _, text := range []string{"", "2025-W53", "2026-W00", "2026-W1", "2026-11", "0000-W01", "W11"} {
		_, err := resources.ParseWeek(text)
		require.Error(t, err, text)
	}
}

func TestWeekFollowsWeek(t *testing.T) {
	zone := zoneOf(t, "America/New_York")
	rapid.Check(t, func(t *rapid.T) {
		at := resources.Tick(rapid.Int64Range(0, 4e9).Draw(t, "at"))
		w := resources.WeekOf(zone, at)
		start, end := w.Start(zone), w.Next().Start(zone)
		require.LessOrEqual(t, start, at)
		require.Less(t, at, end)
		require.Equal(t, time.Monday, time.Unix(int64(start), 0).In(zone).Weekday())
		again, err := resources.ParseWeek(w.String())
		require.NoError(t, err)
		require.Equal(t, w, again)
	})
}
