// SPDX-License-Identifier: Apache-2.0

package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/testdata/demo"
)

func TestShiftDatesMovesEveryDateAlike(t *testing.T) {
	text := "starts_at: 2026-03-02 06:00 # spring\nclosed: [2026-04-03, 2026-12-31]\nnot: 2026-13-40, 12026-03-02, v2026\nat: 2026-02-28T08:00:00Z\n"
	want := "starts_at: 2026-03-09 06:00 # spring\nclosed: [2026-04-10, 2027-01-07]\nnot: 2026-13-40, 12026-03-02, v2026\nat: 2026-03-07T08:00:00Z\n"
	require.Equal(t, want, string(shiftDates([]byte(text), 7)))
	require.Equal(t, text, string(shiftDates(shiftDates([]byte(text), 371), -371)))
}

func TestSeasonBeginsOnTheLastMonday(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	start := resources.Tick(time.Date(2026, 3, 2, 6, 0, 0, 0, london).Unix())
	for _, tt := range []struct{ now, want string }{
		{"2026-03-02 06:00", "2026-03-02"}, // at once
		{"2026-03-02 05:59", "2026-02-23"}, // not begun yet
		{"2026-03-08 23:59", "2026-03-02"},
		{"2026-03-09 06:00", "2026-03-09"},
		{"2026-07-15 12:00", "2026-07-13"}, // summer time
		{"2026-07-13 06:00", "2026-07-13"},
		{"2026-07-13 05:59", "2026-07-06"},
		{"2025-12-31 12:00", "2025-12-29"}, // before it was written
		{"2031-01-01 00:00", "2030-12-30"},
	} {
		now, err := time.ParseInLocation("2006-01-02 15:04", tt.now, london)
		require.NoError(t, err)
		days := weeksTo(start, now, london)
		require.Zero(t, days%7)
		moved := time.Unix(int64(start), 0).In(london).AddDate(0, 0, days)
		require.Equal(t, tt.want, moved.Format(time.DateOnly), "now %s", tt.now)
		require.Equal(t, "06:00", moved.Format("15:04"))
	}
}

// TestDemoReadsAtAnyTimeOfYear moves the season through a year, clock changes
// included.
func TestDemoReadsAtAnyTimeOfYear(t *testing.T) {
	for days := -371; days <= 371; days += 56 {
		conf := shopConfig{text: shiftDates(demo.Plant, days)}
		require.NoError(t, demoFiles(&conf, days), "moved by %d days", days)
		require.NotEmpty(t, conf.lines)
		require.Len(t, conf.season.Weeks(), 26)
		require.NotZero(t, conf.plant.StartsAt)
	}
}

func TestDemoGoesOnWhereItStopped(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	m, err := recall(dir, 7, now)
	require.NoError(t, err)
	require.Equal(t, uint64(7), m.Seed)
	require.NoError(t, m.keep(dir, 123456))
	again, err := recall(dir, 8, now.AddDate(1, 0, 0))
	require.NoError(t, err)
	require.Equal(t, m, again)
	require.NoError(t, writeWhole(memoryFile(dir), []byte("{")))
	_, err = recall(dir, 8, now)
	require.ErrorContains(t, err, "demo.json")
}
