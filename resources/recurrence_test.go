// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// starts lays a rule out as a calendar that is open for a minute at each
// occurrence.
func starts(zone *time.Location, start resources.Tick, rule string, from, to resources.Tick) ([]resources.Tick, error) {
	c := resources.Calendar{ID: "rule", Exceptions: []resources.Exception{
		{Open: true, Start: start, Long: resources.Minute, Rule: rule},
	}}
	windows, err := c.Windows(zone, from, to)
	var list []resources.Tick
	for _, w := range windows {
		list = append(list, w.Start)
	}
	return list, err
}

type ruleCheck struct {
	Title, Start, Rule string
	Ends               bool
	Occurrences        []string
}

// Source: RFC 5545 (B. Desruisseaux, 2009), section 3.8.5.3, all 33 examples;
// see the file for the RFC's own slip in "every 3 hours".
func TestRulesOfRFC5545(t *testing.T) {
	var checks struct {
		Zone  string
		Rules []ruleCheck
	}
	readCheck(t, "rfc5545.json", &checks)
	require.Len(t, checks.Rules, 33)
	zone := zoneOf(t, checks.Zone)
	for _, c := range checks.Rules {
		t.Run(c.Title, func(t *testing.T) {
			start := local(t, zone, c.Start[:16])
			var want []resources.Tick
			for _, text := range c.Occurrences {
				want = append(want, instant(t, text))
			}
			last := want[len(want)-1]
			to := last + 1
			if c.Ends {
				to = start + 15*366*resources.Tick(resources.Day)
			}
			got, err := starts(zone, start, c.Rule, start, to)
			require.NoError(t, err)
			require.Equal(t, want, got)
			// The same occurrences when only the end of the list is asked for:
			// the way there is not counted out for rules without COUNT.
			from := want[len(want)/2]
			got, err = starts(zone, start, c.Rule, from, to)
			require.NoError(t, err)
			require.Equal(t, want[len(want)/2:], got)
		})
	}
}

// The RFC prints 09:00, 12:00 and 15:00 for "every 3 hours from 9:00 to 17:00";
// with 17:00 read as local time, as it was meant, the list is right.
func TestRuleEveryThreeHoursAsMeant(t *testing.T) {
	zone := zoneOf(t, "America/New_York")
	start := local(t, zone, "1997-09-02T09:00")
	for _, until := range []string{"19970902T210000Z", "19970902T170000"} {
		got, err := starts(zone, start, "FREQ=HOURLY;INTERVAL=3;UNTIL="+until, start, start+1e6)
		require.NoError(t, err)
		require.Equal(t, []resources.Tick{start, start + 3*3600, start + 6*3600}, got)
	}
}

func TestRuleUntilADateKeepsThatDay(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	start := local(t, zone, "2026-03-02T16:00")
	got, err := starts(zone, start, "FREQ=DAILY;UNTIL=20260304", start, start+1e6)
	require.NoError(t, err)
	require.Len(t, got, 3)
}

// What a rule leaves out comes from its start, also when the start is decades
// before the range.
func TestRuleTakesTheRestFromItsStart(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	start := local(t, zone, "1980-01-31T07:30") // a Thursday
	from, to := local(t, zone, "2026-01-01T00:00"), local(t, zone, "2027-01-01T00:00")
	for rule, want := range map[string][]string{
		"FREQ=YEARLY":                          {"2026-01-31T07:30"},
		"FREQ=YEARLY;BYMONTH=3,5":              {"2026-03-31T07:30", "2026-05-31T07:30"},
		"FREQ=YEARLY;BYWEEKNO=20":              {"2026-05-14T07:30"},
		"FREQ=YEARLY;INTERVAL=7":               nil,
		"FREQ=YEARLY;INTERVAL=2":               {"2026-01-31T07:30"},
		"FREQ=MONTHLY;INTERVAL=6":              {"2026-01-31T07:30", "2026-07-31T07:30"},
		"FREQ=MONTHLY;BYDAY=-1FR;BYMONTH=2,11": {"2026-02-27T07:30", "2026-11-27T07:30"},
		"FREQ=WEEKLY;INTERVAL=20;BYHOUR=9,8": {
			"2026-01-29T08:30", "2026-01-29T09:30", "2026-06-18T08:30", "2026-06-18T09:30", "2026-11-05T08:30", "2026-11-05T09:30"},
		"FREQ=DAILY;INTERVAL=250": {"2026-08-17T07:30"},
	} {
		got, err := starts(zone, start, rule, from, to)
		require.NoError(t, err, rule)
		var ticks []resources.Tick
		for _, text := range want {
			ticks = append(ticks, local(t, zone, text))
		}
		require.Equal(t, ticks, got, rule)
	}
}

func TestRuleRefused(t *testing.T) {
	for rule, say := range map[string]string{
		"":                                   "write it like",
		"EVERY DAY":                          "write it like",
		"FREQ=":                              "write it like",
		"FREQ=DAYLY":                         "undefined frequency",
		"BYDAY=MO":                           "FREQ is required",
		"FREQ=DAILY;FREQ=DAILY":              "twice",
		"FREQ=DAILY;DTSTART=20260101T000000": "unknown part DTSTART",
		"FREQ=YEARLY;BYEASTER=0":             "unknown part BYEASTER",
		"FREQ=SECONDLY":                      "no calendar",
		"FREQ=DAILY;COUNT=3;UNTIL=20261224":  "exclude each other",
		"FREQ=DAILY;COUNT=0":                 "allowed: 1 to",
		"FREQ=DAILY;COUNT=-1":                "allowed: 1 to",
		"FREQ=DAILY;COUNT=999999":            "COUNT is at most",
		"FREQ=DAILY;INTERVAL=0":              "allowed: 1 to",
		"FREQ=DAILY;INTERVAL=99999":          "INTERVAL is at most",
		"FREQ=DAILY;INTERVAL=9999999999999999999": "allowed: 1 to",
		"FREQ=DAILY;UNTIL=TOMORROW":               "allowed: 20261224",
		"FREQ=DAILY;UNTIL=20261399":               "cannot be read",
		"FREQ=WEEKLY;BYDAY=XX":                    "allowed: days like MO",
		"FREQ=WEEKLY;BYDAY=0MO":                   "allowed: days like MO",
		"FREQ=WEEKLY;BYDAY=2MO":                   "FREQ=MONTHLY or FREQ=YEARLY",
		"FREQ=MONTHLY;BYDAY=6MO":                  "at most five",
		"FREQ=YEARLY;BYDAY=54MO":                  "byday must be between",
		"FREQ=YEARLY;BYWEEKNO=3;BYDAY=1MO":        "beside BYWEEKNO",
		"FREQ=WEEKLY;WKST=1MO":                    "allowed: MO",
		"FREQ=WEEKLY;BYMONTHDAY=1":                "beside FREQ=WEEKLY",
		"FREQ=DAILY;BYYEARDAY=1":                  "BYYEARDAY needs",
		"FREQ=MONTHLY;BYWEEKNO=1":                 "BYWEEKNO needs",
		"FREQ=MONTHLY;BYSETPOS=1":                 "another BY part",
		"FREQ=MONTHLY;BYMONTHDAY=32":              "bymonthday",
		"FREQ=DAILY;BYHOUR=24":                    "byhour",
		"FREQ=DAILY;BYHOUR=x":                     "cannot be read",
	} {
		err := resources.CheckRule(rule)
		require.ErrorContains(t, err, say, rule)
	}
	require.NoError(t, resources.CheckRule("freq=weekly;byday=we"), "names in small letters are the same (RFC 5545, section 2)")
}

func TestRuleThatNeverHappensEnds(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	start := local(t, zone, "2020-01-01T08:00")
	from, to := local(t, zone, "2026-01-01T00:00"), local(t, zone, "2027-01-01T00:00")
	for _, rule := range []string{
		"FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
		"FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30",
		"FREQ=HOURLY;BYMONTH=2;BYMONTHDAY=30",
		"FREQ=MINUTELY;BYMONTH=2;BYMONTHDAY=30;BYHOUR=23",
		"FREQ=DAILY;COUNT=9;BYMONTH=2;BYMONTHDAY=30",
		"FREQ=MONTHLY;BYDAY=MO;BYSETPOS=31",
	} {
		got, err := starts(zone, start, rule, from, to)
		require.NoError(t, err, rule)
		require.Empty(t, got, rule)
	}
	for _, rule := range []string{
		"FREQ=HOURLY;INTERVAL=2;BYHOUR=9",
		"FREQ=MINUTELY;INTERVAL=30;BYMINUTE=15",
		"FREQ=MINUTELY;INTERVAL=1440;BYHOUR=9",
		"FREQ=HOURLY;BYMINUTE=0,30;BYSETPOS=3",
	} {
		_, err := starts(zone, start, rule, from, to)
		require.ErrorContains(t, err, "never happens", rule)
	}
}

func TestRuleThatHappensTooOftenSaysWhatToDo(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	start := local(t, zone, "1971-01-01T08:00")
	from, to := local(t, zone, "2026-01-01T00:00"), local(t, zone, "2027-01-01T00:00")
	_, err := starts(zone, start, "FREQ=MINUTELY", from, to)
	require.EqualError(t, err, `calendar "rule": exception 1: the rule happens more than 100000 times; use a coarser FREQ or a larger INTERVAL, or one long span without a rule (rule FREQ=MINUTELY from 2026-01-01 to 2027-01-01)`)
	// By the quarter of an hour it is only much.
	got, err := starts(zone, start, "FREQ=MINUTELY;INTERVAL=15", from, to)
	require.NoError(t, err)
	// A year of quarters; the four of the missing hour fall on those after it,
	// those of the repeated hour are meant once.
	require.Len(t, got, 365*96-4)
}

func FuzzRule(f *testing.F) {
	for _, seed := range []string{
		"FREQ=MONTHLY;BYDAY=1WE", "FREQ=YEARLY;BYDAY=-53MO;BYMONTH=1", "FREQ=YEARLY;BYWEEKNO=53,-53,1,-1",
		"FREQ=SECONDLY", "FREQ=MINUTELY;INTERVAL=7;BYHOUR=3;BYMINUTE=7;BYSETPOS=-1;BYSECOND=1,2",
		"FREQ=WEEKLY;INTERVAL=2;WKST=SU;BYDAY=SU,MO;BYSETPOS=2", "FREQ=YEARLY;BYYEARDAY=-366,366", "FREQ=DAILY;UNTIL=99991231",
		"FREQ=HOURLY;BYYEARDAY=1;BYMONTH=12", "FREQ=YEARLY;BYDAY=53SU;UNTIL=00010101T000000Z",
	} {
		f.Add(seed, int64(1_700_000_000))
	}
	zone := zoneOf(f, "America/New_York")
	f.Fuzz(func(t *testing.T, rule string, start int64) {
		const from, to = 1_780_000_000, 1_790_000_000
		list, err := starts(zone, resources.Tick(start), rule, from, to)
		if err != nil {
			require.Nil(t, list)
			return
		}
		for _, at := range list {
			require.True(t, from <= at && at < to)
		}
	})
}
