// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"fmt"
	"strings"
	"time"

	"towpath/resources"
	"towpath/scheduler/chance"
)

const (
	// changeEvery is how many days lie between two changes of the plant, the first
	// of which comes on the second day.
	changeEvery = 3
	// mostSets stand on top of the plant file; then the oldest is taken off.
	mostSets = 2
)

// Office is the people who change the plant while the shop runs.
type Office struct{ luck chance.Seed }

// NewOffice is people whose choices the seed decides.
func NewOffice(seed uint64) *Office { return &Office{chance.Seed(seed)} }

// Change is the set of changes that the office adopts on a day of the trial, from
// 0, with this plant, as a file of changes; empty: none on that day.
func (o *Office) Change(p *resources.Plant, day int, now resources.Tick) string {
	if day%changeEvery != 1 {
		return ""
	}
	var could []string
	add := func(format string, args ...any) {
		line := fmt.Sprintf(format, args...)
		// Not every plant can have it: an oven's recipe says how long it takes.
		if set, _ := resources.ReadChanges("", []byte(fileOf(day, line)), p, nil, now); set != nil {
			could = append(could, line)
		}
	}
	if len(p.Tools) > 0 {
		x := &p.Tools[o.which(len(p.Tools), "tool", day)]
		add("tool: {id: %q, count: %d}", x.ID, len(x.Units)+1)
	}
	if len(p.Crews) > 0 {
		x := &p.Crews[o.which(len(p.Crews), "crew", day)]
		shift := &x.Shifts[o.which(len(x.Shifts), "shift", day)]
		add("crew: {id: %q, calendar: %q, heads: %d}", x.ID, shift.Calendar, shift.Heads+1)
		today := time.Unix(int64(now), 0).In(p.Zone)
		saturday := today.AddDate(0, 0, int(time.Saturday-today.Weekday()))
		if saturday.After(today) {
			add("shift: {date: %s, hours: \"06:00-14:00\", crews: [%q]}", saturday.Format(time.DateOnly), x.ID)
		}
	}
	if len(p.Stations) > 0 {
		x := &p.Stations[o.which(len(p.Stations), "station", day)]
		add("duration: {station: %q, factor: 1.05}", x.ID)
		tomorrow := time.Unix(int64(now), 0).In(p.Zone).AddDate(0, 0, 1)
		add("down: {station: %q, from: %s 10:00, for: 3h, why: serviced}", x.ID, tomorrow.Format(time.DateOnly))
	}
	if len(could) == 0 {
		return ""
	}
	// Two at a time: what one set changes together must go together.
	k := o.which(len(could), "first", day)
	list := []string{could[k]}
	if len(could) > 1 {
		list = append(list, could[(k+1+o.which(len(could)-1, "second", day))%len(could)])
	}
	return fileOf(day, list...)
}

func fileOf(day int, changes ...string) string {
	return fmt.Sprintf("name: Day %d\nchanges:\n  - %s\n", day+1, strings.Join(changes, "\n  - "))
}

// TakesOff says whether the oldest set that stands on top of the file goes.
func (o *Office) TakesOff(sets int) bool { return sets > mostSets }

func (o *Office) which(n int, what string, day int) int {
	return min(n-1, int(o.luck.Uniform("office", what, day)*float64(n)))
}
