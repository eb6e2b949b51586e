// SPDX-License-Identifier: Apache-2.0

package main

import (
	"regexp"
	"time"

	"towpath/resources"
)

// The demo's season is written for one spring. To show it at any time of year,
// all its dates are moved by the same whole number of weeks, so that weekdays
// and everything between two dates stay.

var isoDate = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}`)

// shiftDates moves every date in a text by a number of days. Times of day stay
// as written, so local times keep their meaning on both sides of a clock
// change.
func shiftDates(text []byte, days int) []byte {
	return isoDate.ReplaceAllFunc(text, func(found []byte) []byte {
		date, err := time.Parse(time.DateOnly, string(found))
		if err != nil {
			return found // it only looks like a date
		}
		return []byte(date.AddDate(0, 0, days).Format(time.DateOnly))
	})
}

var isoWeek = regexp.MustCompile(`\b\d{4}-W\d{2}\b`)

// shiftWeeks moves every ISO week in a text by a number of days, a multiple of
// seven.
func shiftWeeks(text []byte, days int) []byte {
	return isoWeek.ReplaceAllFunc(text, func(found []byte) []byte {
		week, err := resources.ParseWeek(string(found))
		if err != nil {
			return found // it only looks like a week
		}
		moved := week.Start(time.UTC) + resources.Tick(days)*resources.Tick(resources.Day)
		return []byte(resources.WeekOf(time.UTC, moved).String())
	})
}

// weeksTo is the number of days, in whole weeks, by which a season that starts
// at one instant is moved to begin last before another.
func weeksTo(start resources.Tick, now time.Time, zone *time.Location) int {
	from := time.Unix(int64(start), 0).In(zone)
	days := int(noon(now.In(zone)).Sub(noon(from)).Hours() / 24)
	weeks := days / 7
	if days < 0 && days%7 != 0 {
		weeks--
	}
	if now.Before(from.AddDate(0, 0, 7*weeks)) {
		weeks--
	}
	return 7 * weeks
}

// noon is a day in a zone without clock changes, for counting days.
func noon(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, time.UTC)
}
