// SPDX-License-Identifier: Apache-2.0

package resources

import "time"

// wall is a reading of the clock on the shop's wall, as the seconds since 1970
// that the same reading would be in UTC. Adding days to it keeps the time of
// day, whatever the zone does in between.
type wall int64

func wallDate(year int, month time.Month, day int) wall {
	return wall(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix())
}

// wallOf is what the clock on the wall shows at t.
func wallOf(zone *time.Location, t Tick) wall {
	_, offset := time.Unix(int64(t), 0).In(orUTC(zone)).Zone()
	return wall(int64(t) + int64(offset))
}

// time gives the reading as a UTC time, for its date, weekday and clock only.
func (w wall) time() time.Time { return time.Unix(int64(w), 0).UTC() }

// midnight is the reading at the beginning of the same day.
func (w wall) midnight() wall {
	day := wall(Day)
	return w - ((w%day)+day)%day
}

func orUTC(zone *time.Location) *time.Location {
	if zone == nil {
		return time.UTC
	}
	return zone
}

// LocalTick is the instant at which the clocks of the zone show the given
// date and the given time of day, in seconds after midnight; 24 h and more is
// a time of a later day. Where a clock change repeats a local time its first
// occurrence is meant, and a missing one is read with the offset before the
// gap (RFC 5545, section 3.3.5). A nil zone is UTC.
func LocalTick(zone *time.Location, year int, month time.Month, day int, clock Seconds) Tick {
	w := wallDate(year, month, day) + wall(clock)
	return newZoneline(zone, Tick(w), Tick(w)).tick(w)
}

// localForms are the ways to write a date and a time of day.
var localForms = []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05"}

// readLocal reads a date and a time of day as the clocks of the zone show it.
// Skipped says what they show instead where they go forward over it; else it is
// empty.
func readLocal(zone *time.Location, text string) (at Tick, skipped string, ok bool) {
	for _, layout := range localForms {
		t, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		clock := Seconds(t.Hour())*Hour + Seconds(t.Minute())*Minute + Seconds(t.Second())
		at = LocalTick(zone, t.Year(), t.Month(), t.Day(), clock)
		if w := wallOf(zone, at); w != wall(t.Unix()) {
			skipped = "the clocks go forward over this time, to " + w.time().Format("2006-01-02 15:04")
		}
		return at, skipped, sane(t)
	}
	return 0, "", false
}

// stretch is a time during which a zone keeps one offset from UTC.
type stretch struct {
	Interval
	offset Tick
}

// zoneline lists a zone's stretches in time order, so that many local times
// can be turned into instants without asking the zone each time.
type zoneline []stretch

// newZoneline covers the instants of every wall reading between from and to.
func newZoneline(zone *time.Location, from, to Tick) zoneline {
	const reach = 2 * Tick(Day) // no zone is that far from UTC
	var line zoneline
	at := time.Unix(int64(from-reach), 0).In(orUTC(zone))
	for {
		_, offset := at.Zone()
		start, end := at.ZoneBounds()
		s := stretch{Interval{Start: minTick, End: maxTick}, Tick(offset)}
		if !start.IsZero() {
			s.Start = Tick(start.Unix())
		}
		if !end.IsZero() {
			s.End = Tick(end.Unix())
		}
		if s.End <= Tick(at.Unix()) {
			// Past the zone's table ZoneBounds takes every year for one of 365
			// days and gets stuck on the last day of a leap year.
			s.End = Tick(at.Unix()) + stuckStep
		}
		line = append(line, s)
		if s.End > to+reach {
			return line
		}
		at = time.Unix(int64(s.End), 0).In(at.Location())
	}
}

// stuckStep is how far to go on where a zone does not say how far its offset
// holds.
const stuckStep = 3600

// First and last instant there can be: the years 1 and 9999.
const (
	minTick Tick = -62135596800
	maxTick Tick = 253402300799
)

// tick is the instant of a wall reading, by the rule told at LocalTick.
func (z zoneline) tick(w wall) Tick {
	for i, s := range z {
		t := Tick(w) - s.offset
		switch {
		case t < s.Start && i > 0:
			return Tick(w) - z[i-1].offset
		case t < s.End:
			return t
		}
	}
	return Tick(w) - z[len(z)-1].offset
}
