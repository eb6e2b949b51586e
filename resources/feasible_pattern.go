// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"cmp"
	"slices"
)

// pattern is when stations are open and people are there, over the plant's
// horizon. It is laid out from where the plant's clock begins or, for a plant
// without one, from its first dated exception, else from a fixed Monday:
// only shapes matter to those who ask it.
type pattern struct {
	plant *Plant
	span  Interval
	laid  map[string]laidOut
	opens map[string][]Interval
	crews map[crewShare][]Interval
	there map[attendance][]Interval

	moments map[moment][]Interval
}

// moment is the beginning or the end of an operation.
type moment struct {
	op  *Operation
	end bool
}

type attendance struct {
	station, skill string
	share          int64
}

type laidOut struct {
	windows []Interval
	err     error
}

type crewShare struct {
	crew  string
	share int64
}

// firstMonday is 2024-01-01.
const firstMonday Tick = 1704067200

func newPattern(p *Plant) *pattern {
	start := p.StartsAt
	if start == 0 {
		start = firstMonday
		for i := range p.Calendars {
			for _, e := range p.Calendars[i].Exceptions {
				if start == firstMonday || e.Start < start {
					start = e.Start
				}
			}
		}
	}
	horizon := p.Horizon
	if horizon <= 0 || horizon > longestHorizon {
		horizon = defaultHorizon
	}
	return &pattern{
		plant: p, span: Interval{start, start + Tick(horizon)},
		laid: map[string]laidOut{}, opens: map[string][]Interval{},
		crews: map[crewShare][]Interval{}, there: map[attendance][]Interval{},
		moments: map[moment][]Interval{},
	}
}

// calendar lays a calendar out; an empty name is always open.
func (t *pattern) calendar(id string) ([]Interval, error) {
	if id == "" {
		return []Interval{t.span}, nil
	}
	l, ok := t.laid[id]
	if !ok {
		if c := t.plant.Calendar(id); c != nil {
			l.windows, l.err = c.Windows(t.plant.Zone, t.span.Start, t.span.End)
		}
		t.laid[id] = l
	}
	return l.windows, l.err
}

// open is when a station is open and not stopped. A calendar that cannot be
// laid out has its own finding and counts as always open here.
func (t *pattern) open(s *Station) []Interval {
	if windows, ok := t.opens[s.ID]; ok {
		return windows
	}
	windows, err := t.calendar(s.Calendar)
	if err != nil {
		windows = []Interval{t.span}
	}
	if stops, err := s.PlannedStops(t.plant.Zone, t.span.Start, t.span.End); err == nil {
		windows = without(windows, stops)
	}
	t.opens[s.ID] = windows
	return windows
}

// crew is when a crew has at least this much of a person there.
func (t *pattern) crew(c *Crew, share int64) []Interval {
	key := crewShare{c.ID, share}
	if windows, ok := t.crews[key]; ok {
		return windows
	}
	type change struct {
		at    Tick
		milli int64
	}
	var changes []change
	for _, s := range c.Shifts {
		windows, err := t.calendar(s.Calendar)
		if err != nil {
			windows = []Interval{t.span}
		}
		for _, w := range windows {
			milli := int64(s.Heads) * 1000
			changes = append(changes, change{w.Start, milli}, change{w.End, -milli})
		}
	}
	slices.SortFunc(changes, func(a, b change) int { return cmp.Compare(a.at, b.at) })
	var windows []Interval
	var there int64
	for i := 0; i < len(changes); {
		at := changes[i].at
		was := there >= share
		for ; i < len(changes) && changes[i].at == at; i++ {
			there += changes[i].milli
		}
		switch is := there >= share; {
		case is && !was:
			windows = append(windows, Interval{at, t.span.End})
		case was && !is:
			windows[len(windows)-1].End = at
		}
	}
	t.crews[key] = windows
	return windows
}

// attended is when the station is open and some one crew can give the need.
// Windows of different crews are kept apart, since a part is served by one
// crew from its beginning to its end; they may overlap.
func (t *pattern) attended(s *Station, skill string, share int64) []Interval {
	key := attendance{s.ID, skill, share}
	if windows, ok := t.there[key]; ok {
		return windows
	}
	var all []Interval
	open := t.open(s)
	for i := range t.plant.Crews {
		if c := &t.plant.Crews[i]; c.HasSkill(skill) {
			all = append(all, overlap(open, t.crew(c, share))...)
		}
	}
	t.there[key] = all
	return all
}

// overlap is what two lists of windows, each sorted and apart, have in common.
func overlap(a, b []Interval) []Interval {
	var both []Interval
	for i, j := 0, 0; i < len(a) && j < len(b); {
		w := Interval{max(a[i].Start, b[j].Start), min(a[i].End, b[j].End)}
		if w.Start < w.End {
			both = append(both, w)
		}
		if a[i].End < b[j].End {
			i++
		} else {
			j++
		}
	}
	return both
}

func longest(windows []Interval) Seconds {
	var most Seconds
	for _, w := range windows {
		most = max(most, w.Length())
	}
	return most
}
