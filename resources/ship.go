// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"slices"
	"time"
)

// Due is the last instant at which goods can leave to be in time for shipBy:
// the last cut-off, on a ship day that is not closed, not after it. Without a
// cut-off the whole ship day counts, to its last second. A carrier that comes
// on no day within two years before shipBy leaves shipBy as it is.
func (p *Plant) Due(shipBy Tick) Tick {
	due, _ := p.lastShipment(shipBy)
	return due
}

func (p *Plant) lastShipment(shipBy Tick) (due Tick, ok bool) {
	const longest = 2 * 366 // days without a carrier
	s := &p.Shipping
	if len(s.Days) == 0 && s.CutOff == 0 && len(s.Closed) == 0 || shipBy < minTick || shipBy > maxTick {
		return shipBy, true
	}
	day := wallOf(p.Zone, shipBy).midnight()
	for range longest {
		at := day.time()
		if s.leavesOn(at) {
			due := p.lastOn(at)
			if s.CutOff == 0 {
				due = min(due, shipBy)
			}
			if due <= shipBy {
				return due, true
			}
		}
		day -= wall(Day)
	}
	return shipBy, false
}

// NextShipment is the first instant not before ready at which goods leave: the
// next cut-off on a ship day that is not closed, the last second of that day
// where there is no cut-off, ready itself where goods leave at any time. It is
// false when no carrier comes within two years.
func (p *Plant) NextShipment(ready Tick) (Tick, bool) {
	const longest = 2 * 366 // days without a carrier
	s := &p.Shipping
	if len(s.Days) == 0 && s.CutOff == 0 && len(s.Closed) == 0 {
		return ready, true
	}
	if ready < minTick || ready > maxTick {
		return ready, false
	}
	day := wallOf(p.Zone, ready).midnight()
	for range longest {
		if at := day.time(); s.leavesOn(at) {
			if due := p.lastOn(at); due >= ready {
				return due, true
			}
		}
		day += wall(Day)
	}
	return ready, false
}

// leavesOn tells whether the carrier comes on a date.
func (s *Shipping) leavesOn(date time.Time) bool {
	return (len(s.Days) == 0 || slices.Contains(s.Days, date.Weekday())) &&
		!slices.Contains(s.Closed, date.Format(time.DateOnly))
}

// lastOn is the cut-off of a date, or its last second when there is none.
func (p *Plant) lastOn(date time.Time) Tick {
	year, month, day := date.Date()
	if p.Shipping.CutOff > 0 {
		return LocalTick(p.Zone, year, month, day, p.Shipping.CutOff)
	}
	return LocalTick(p.Zone, year, month, day+1, 0) - 1
}
