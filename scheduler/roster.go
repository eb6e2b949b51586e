// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"

	"towpath/resources"
)

// Roster is how many people of a crew are at work from an instant on, in
// thousandths: those of its shifts, less those reported away. windows says when a
// calendar is open, at most until to; its error is passed on. Where nobody knows
// when people will be back, they are taken to be away for a shift from now.
func (s *State) Roster(crew *resources.Crew, now, to Tick, windows func(calendar string) ([]resources.Interval, error)) ([]CapStep, error) {
	heads := []CapStep{{At: now}}
	for _, calendar := range crew.Calendars() {
		open, err := windows(calendar)
		if err != nil {
			return nil, err
		}
		all := crew.HeadsBy(calendar)
		heads = withHeads(heads, open, int64(all)*1000)
		if calendar == "" {
			continue // who is away from whichever shift comes below
		}
		for _, a := range s.away(crew.ID, calendar, now, to) {
			heads = withHeads(heads, within(open, a.Interval), -int64(min(a.people, all))*1000)
		}
	}
	for _, a := range s.away(crew.ID, "", now, to) {
		heads = withHeads(heads, []resources.Interval{a.Interval}, -int64(a.people)*1000)
	}
	return atLeastNobody(heads), nil
}

// Counted is until when a plan made at an instant counts without them: as was
// said, or, where nobody knows, for a shift.
func (a *Absence) Counted(now Tick) Tick {
	return cmp.Or(a.Until, max(a.From, now)+Tick(openEnd))
}

// fewer is a stretch in which so many people are away.
type fewer struct {
	resources.Interval
	people int
}

// away is the stretches between two instants in which people of a crew are
// reported away from one of its shifts, with how many, in order and apart. ""
// are those of whom nobody said which shift they belong to.
func (s *State) away(crew, calendar string, now, to Tick) []fewer {
	var all []fewer
	var turns []Tick
	for _, id := range sortedKeys(s.Absences) {
		a := s.Absences[id]
		if a.Crew != crew || a.Calendar != calendar || a.Over(now) {
			continue
		}
		span := resources.Interval{Start: max(a.From, now), End: min(a.Counted(now), to)}
		if span.Start < span.End {
			all = append(all, fewer{span, a.People})
			turns = append(turns, span.Start, span.End)
		}
	}
	slices.Sort(turns)
	turns = slices.Compact(turns)
	var out []fewer
	for i := 1; i < len(turns); i++ {
		at, people := resources.Interval{Start: turns[i-1], End: turns[i]}, 0
		for _, a := range all {
			if a.Start <= at.Start && at.End <= a.End {
				people += a.people
			}
		}
		if people > 0 {
			out = append(out, fewer{at, people})
		}
	}
	return out
}

// within is what lies of sorted windows in one stretch.
func within(open []resources.Interval, at resources.Interval) []resources.Interval {
	var out []resources.Interval
	for _, w := range open {
		if w = (resources.Interval{Start: max(w.Start, at.Start), End: min(w.End, at.End)}); w.Start < w.End {
			out = append(out, w)
		}
	}
	return out
}

// atLeastNobody raises what lies below zero to it, and joins steps that are
// equal then.
func atLeastNobody(heads []CapStep) []CapStep {
	out := heads[:0]
	for _, h := range heads {
		h.Cap = max(0, h.Cap)
		if n := len(out); n == 0 || out[n-1].Cap != h.Cap {
			out = append(out, h)
		}
	}
	return out
}

// withHeads adds people who work in windows, sorted and apart, to a head count
// that begins no later than they do.
func withHeads(heads []CapStep, windows []resources.Interval, more int64) []CapStep {
	out := make([]CapStep, 0, len(heads)+2*len(windows))
	level, extra := int64(0), int64(0) // of heads and of the windows at the instant reached
	next, begun := 0, false            // the window, and whether its start is behind
	for i := 0; i < len(heads) || next < len(windows); {
		at := Tick(0)
		if i < len(heads) {
			at = heads[i].At
		}
		if next < len(windows) {
			turn := windows[next].Start
			if begun {
				turn = windows[next].End
			}
			if i == len(heads) || turn <= at {
				at = turn
				if extra += more; begun {
					extra -= 2 * more
					next++
				}
				begun = !begun
			}
		}
		if i < len(heads) && heads[i].At == at {
			level = heads[i].Cap
			i++
		}
		switch n := len(out); {
		case n > 0 && out[n-1].At == at:
			out[n-1].Cap = level + extra
			if n > 1 && out[n-2].Cap == level+extra {
				out = out[:n-1]
			}
		case n == 0 || out[n-1].Cap != level+extra:
			out = append(out, CapStep{At: at, Cap: level + extra})
		}
	}
	return out
}
