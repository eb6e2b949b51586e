// SPDX-License-Identifier: Apache-2.0

package simulate

import (
	"math"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// awayWhy are the reasons people are reported away with.
var awayWhy = []string{"not in", "called away", "fire drill", "course"}

// manned is the first instant from at on when the crews of a part of work are
// there.
func (s *Shop) manned(at resources.Tick, people []scheduler.PeopleUse) resources.Tick {
	for i := range people {
		at = max(at, s.back(people[i].Crew, at))
	}
	return at
}

// back is at, or when a crew that is away then is back.
func (s *Shop) back(crew string, at resources.Tick) resources.Tick {
	if s.odds.Absent == 0 || crew == "" {
		return at
	}
	for d := at/day - 1; d <= at/day; d++ {
		if gone, is := s.gone(crew, d); is && gone.Start <= at && at < gone.End {
			at = gone.End
		}
	}
	return at
}

// gone is when a crew is away that goes on a day, if it does.
func (s *Shop) gone(crew string, d resources.Tick) (resources.Interval, bool) {
	if s.luck.Uniform("away", crew, d) >= s.odds.Absent {
		return resources.Interval{}, false
	}
	from := d*day + resources.Tick(s.luck.Uniform("away from", crew, d)*float64(day))
	long := float64(s.odds.AwayLong) * math.Exp(0.5*s.luck.Normal("away long", crew, d))
	return resources.Interval{Start: from, End: from + resources.Tick(min(long, float64(day)/2))}, true
}

// absences lists the crews of whom somebody tells that they go, and of those the
// ones that are back other than was said.
func (s *Shop) absences(acts []act) []act {
	if s.odds.Absent == 0 || s.odds.Told == 0 {
		return acts
	}
	for i := range s.state.Plant.Crews {
		crew := &s.state.Plant.Crews[i]
		for d := s.last/day - 1; d <= s.now/day; d++ {
			gone, is := s.gone(crew.ID, d)
			if !is || s.luck.Uniform("away told", crew.ID, d) >= s.odds.Told {
				continue
			}
			if s.last < gone.Start && gone.Start <= s.now {
				acts = append(acts, act{at: gone.Start, name: crew.ID, do: func() bool { return s.leave(crew, d, gone) }})
			}
			if s.last < gone.End && gone.End <= s.now {
				acts = append(acts, act{at: gone.End, name: crew.ID, do: func() bool { return s.comeBack(crew.ID, gone) }})
			}
		}
	}
	return acts
}

// leave reports that a crew is away: until when they come back, until half an hour
// or less later, as people guess, or nobody knows.
func (s *Shop) leave(crew *resources.Crew, d resources.Tick, gone resources.Interval) bool {
	data := events.AbsentData{Crew: crew.ID, People: crew.Heads(), Why: awayWhy[s.luck.Bits("away why", crew.ID, d)%uint64(len(awayWhy))]}
	switch u := s.luck.Uniform("away until", crew.ID, d); {
	case data.People == 0 || gone.End <= gone.Start:
		return false
	case u < s.odds.Unsaid:
	case u < (1+s.odds.Unsaid)/2:
		data.Until = gone.End
	default:
		data.Until = gone.Start + ((gone.End-gone.Start)/1800+1)*1800
	}
	return s.report(events.CrewAbsent, "", gone.Start, data)
}

// comeBack reports that a crew is back, where nobody said so before.
func (s *Shop) comeBack(crew string, gone resources.Interval) bool {
	for _, id := range sorted(s.state.Absences) {
		if a := s.state.Absences[id]; a.Crew == crew && a.From == gone.Start && !a.Over(gone.End) {
			return s.report(events.CrewPresent, "", gone.End, events.PresentData{Crew: crew, Absence: id})
		}
	}
	return false
}
