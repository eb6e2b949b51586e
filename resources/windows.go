// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Limits of what Windows lays out, far beyond any shop's horizon.
const (
	maxWindow = 20 * 366 * Day
	maxShift  = 7 * Day
)

// Windows lists when the calendar is open between from and to, in the zone's
// local time: sorted, apart from each other (touching ones are joined, but not
// at the ends of an exception that is Apart) and clipped to [from, to). A nil calendar is always open, one without shifts and
// exceptions never. An empty range has no windows.
//
// It is an error to ask for more than 20 years or for years outside 1 to
// 9999, and when a shift or an exception cannot be laid out; the error says
// which one and what to do.
func (c *Calendar) Windows(zone *time.Location, from, to Tick) ([]Interval, error) {
	if to <= from {
		return nil, nil
	}
	if from < minTick || to > maxTick {
		return nil, fmt.Errorf("windows are laid out for the years 1 to 9999 only")
	}
	if Seconds(to-from) > maxWindow {
		return nil, fmt.Errorf("windows are laid out for at most 20 years at a time; ask for a shorter range")
	}
	if c == nil {
		return []Interval{{from, to}}, nil
	}
	open, err := c.shiftWindows(zone, from, to)
	if err != nil {
		return nil, fmt.Errorf("calendar %q: %w", c.ID, err)
	}
	var seams []Tick
	for i := range c.Exceptions {
		e := &c.Exceptions[i]
		spans, err := e.spans(zone, from, to)
		if err != nil {
			return nil, fmt.Errorf("calendar %q: exception %d: %w", c.ID, i+1, err)
		}
		switch {
		case !e.Open:
			open = without(open, joined(spans))
			continue
		case e.Apart:
			for _, span := range spans {
				seams = append(seams, span.Start, span.End)
			}
		}
		open = joined(append(open, spans...))
	}
	return divided(open, seams), nil
}

// divided cuts windows at seams without taking anything away.
func divided(open []Interval, seams []Tick) []Interval {
	if len(seams) == 0 {
		return open
	}
	slices.Sort(seams)
	out := make([]Interval, 0, len(open)+len(seams))
	next := 0
	for _, w := range open {
		for next < len(seams) && seams[next] <= w.Start {
			next++
		}
		for ; next < len(seams) && seams[next] < w.End; next++ {
			if seams[next] > w.Start {
				out = append(out, Interval{w.Start, seams[next]})
				w.Start = seams[next]
			}
		}
		out = append(out, w)
	}
	return out
}

// shiftWindows lays out the weekly shifts alone.
func (c *Calendar) shiftWindows(zone *time.Location, from, to Tick) ([]Interval, error) {
	var latest Seconds
	work := make([][]Interval, len(c.Shifts))
	for i := range c.Shifts {
		s := &c.Shifts[i]
		if s.Start < 0 || s.Start >= Day || s.End <= s.Start || s.End > maxShift {
			return nil, fmt.Errorf("shift %d: a shift starts between 0:00 and 24:00 and ends after that, at most 7 days on", i+1)
		}
		latest = max(latest, s.End)
		work[i] = s.work()
	}
	line := newZoneline(zone, from-Tick(latest), to)
	first := wallOf(zone, from).midnight() - wall(latest/Day+1)*wall(Day)
	last := wallOf(zone, to).midnight()
	var open []Interval
	for day := first; day <= last; day += wall(Day) {
		weekday := day.time().Weekday()
		for i := range c.Shifts {
			if !slices.Contains(c.Shifts[i].Days, weekday) {
				continue
			}
			for _, w := range work[i] {
				span := Interval{line.tick(day + wall(w.Start)), line.tick(day + wall(w.End))}
				open = appendClipped(open, span, from, to)
			}
		}
	}
	return joined(open), nil
}

// work is what the breaks leave of a shift, as seconds after midnight.
func (s *Shift) work() []Interval {
	breaks := make([]Interval, len(s.Breaks))
	for i, b := range s.Breaks {
		breaks[i] = Interval{Tick(b.Start), Tick(b.End)}
	}
	return without([]Interval{{Tick(s.Start), Tick(s.End)}}, joined(breaks))
}

// appendClipped adds what lies of a span between from and to. A span a clock
// change turned round, both ends in the missing hour, is nothing.
func appendClipped(list []Interval, span Interval, from, to Tick) []Interval {
	span.Start = max(span.Start, from)
	span.End = min(span.End, to)
	if span.Start >= span.End {
		return list
	}
	return append(list, span)
}

// joined sorts spans, drops empty ones and joins those that touch or overlap.
// It reuses the list.
func joined(list []Interval) []Interval {
	list = slices.DeleteFunc(list, func(i Interval) bool { return i.Start >= i.End })
	slices.SortFunc(list, func(a, b Interval) int { return cmp.Compare(a.Start, b.Start) })
	out := list[:0]
	for _, span := range list {
		if n := len(out); n > 0 && span.Start <= out[n-1].End {
			out[n-1].End = max(out[n-1].End, span.End)
			continue
		}
		out = append(out, span)
	}
	return out
}

// without is the first list less the second; both sorted and apart.
func without(list, cuts []Interval) []Interval {
	if len(cuts) == 0 {
		return list
	}
	out := make([]Interval, 0, len(list)+len(cuts))
	next := 0
	for _, span := range list {
		for next < len(cuts) && cuts[next].End <= span.Start {
			next++
		}
		for i := next; i < len(cuts) && cuts[i].Start < span.End; i++ {
			if span.Start < cuts[i].Start {
				out = append(out, Interval{span.Start, cuts[i].Start})
			}
			span.Start = max(span.Start, cuts[i].End)
		}
		if span.Start < span.End {
			out = append(out, span)
		}
	}
	return out
}
