// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"encoding/json"
	"os"
	"testing"
	"time"
	_ "time/tzdata" // the tests must not depend on the machine's zones

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func readCheck(t *testing.T, name string, into any) {
	t.Helper()
	text, err := os.ReadFile("../testdata/checks/calendars/" + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, into))
}

func zoneOf(t testing.TB, name string) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation(name)
	require.NoError(t, err)
	return zone
}

// local is the instant of a local time such as 2026-03-08T02:30.
func local(t testing.TB, zone *time.Location, text string) resources.Tick {
	t.Helper()
	at, err := time.Parse("2006-01-02T15:04", text)
	require.NoError(t, err)
	clock := resources.Seconds(at.Hour()*3600 + at.Minute()*60)
	return resources.LocalTick(zone, at.Year(), at.Month(), at.Day(), clock)
}

func instant(t testing.TB, text string) resources.Tick {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	require.NoError(t, err)
	return resources.Tick(at.Unix())
}

type clockChecks struct {
	Changes []struct {
		Zone        string
		UTC         string
		BeforeHours float64 `json:"before_hours"`
		AfterHours  float64 `json:"after_hours"`
	}
	LocalTimes []struct{ Zone, Local, Kind, Instant string } `json:"local_times"`
	Elapsed    []struct {
		Zone, From, To string
		Hours          float64
	}
	Unchanged []string `json:"unchanged_2026"`
}

// Repeated and missing local times: RFC 5545 (B. Desruisseaux, 2009), section
// 3.3.5; America/New_York 2007 is the RFC's own example.
func TestLocalTimesRepeatedAndMissing(t *testing.T) {
	var checks clockChecks
	readCheck(t, "daylight_saving.json", &checks)
	require.Len(t, checks.LocalTimes, 6)
	for _, c := range checks.LocalTimes {
		got := local(t, zoneOf(t, c.Zone), c.Local)
		require.Equal(t, instant(t, c.Instant), got, "%s %s (%s)", c.Zone, c.Local, c.Kind)
	}
}

func TestElapsedTimeBetweenLocalTimes(t *testing.T) {
	var checks clockChecks
	readCheck(t, "daylight_saving.json", &checks)
	require.Len(t, checks.Elapsed, 9)
	for _, c := range checks.Elapsed {
		zone := zoneOf(t, c.Zone)
		got := local(t, zone, c.To) - local(t, zone, c.From)
		require.Equal(t, c.Hours, float64(got)/3600, "%s from %s", c.Zone, c.From)
	}
}

// At each change of the IANA time zone database the second before and the
// change itself read as the offsets say.
func TestLocalTimesAroundEachChange(t *testing.T) {
	var checks clockChecks
	readCheck(t, "daylight_saving.json", &checks)
	require.Len(t, checks.Changes, 16)
	for _, c := range checks.Changes {
		zone := zoneOf(t, c.Zone)
		at, err := time.Parse("2006-01-02T15:04Z", c.UTC)
		require.NoError(t, err)
		for _, step := range []time.Duration{-24 * time.Hour, -2 * time.Hour, 2 * time.Hour, 24 * time.Hour} {
			offset := c.AfterHours
			if step < 0 {
				offset = c.BeforeHours
			}
			wall := at.Add(step + time.Duration(offset*float64(time.Hour)))
			got := local(t, zone, wall.Format("2006-01-02T15:04"))
			require.Equal(t, resources.Tick(at.Add(step).Unix()), got, "%s %s %v", c.Zone, c.UTC, step)
		}
	}
	for _, name := range checks.Unchanged {
		zone := zoneOf(t, name)
		year := local(t, zone, "2027-01-01T00:00") - local(t, zone, "2026-01-01T00:00")
		require.Equal(t, resources.Tick(365*resources.Day), year)
		july := local(t, zone, "2026-07-01T00:00") - local(t, zone, "2026-01-01T00:00")
		require.Equal(t, resources.Tick(181*resources.Day), july, name)
	}
}

func TestLocalTickPassesMidnightAndNeedsNoZone(t *testing.T) {
	require.Equal(t, instant(t, "2026-03-02T06:00:00Z"), resources.LocalTick(nil, 2026, time.March, 1, 30*resources.Hour))
	// Samoa had no 30 December 2011: the day is read with the offset before.
	apia := zoneOf(t, "Pacific/Apia")
	require.Equal(t, instant(t, "2011-12-30T22:00:00Z"), resources.LocalTick(apia, 2011, time.December, 30, 12*resources.Hour))
}

// Decades ahead, past the table of a zone, where only its rule is known: work
// hours are laid out over leap years too and keep their local time.
func TestWorkHoursFarAhead(t *testing.T) {
	for _, name := range []string{"Europe/Berlin", "America/New_York", "Australia/Sydney", "Asia/Tokyo", "UTC"} {
		zone := zoneOf(t, name)
		c := &resources.Calendar{ID: "day", Shifts: []resources.Shift{{
			Days: []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday, time.Saturday, time.Sunday}, Start: 8 * resources.Hour, End: 16 * resources.Hour,
		}}}
		from, to := local(t, zone, "2036-01-01T00:00"), local(t, zone, "2053-01-01T00:00")
		open, err := c.Windows(zone, from, to)
		require.NoError(t, err)
		require.Len(t, open, 17*365+5, "a shift every day, of 17 years with five leap days")
		for _, w := range open {
			start := time.Unix(int64(w.Start), 0).In(zone)
			require.Equal(t, [2]int{8, 0}, [2]int{start.Hour(), start.Minute()}, "%s: %s", name, start)
			require.Equal(t, resources.Tick(8*resources.Hour), w.End-w.Start, "%s: %s", name, start)
		}
	}
}
