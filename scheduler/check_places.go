// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"

	"towpath/resources"
)

// checkPlaces: one stay at a time on a place, each after a long enough
// changeover from the one before.
func (v *verifier) checkPlaces() {
	order := slices.Clone(v.stays)
	slices.SortFunc(order, func(a, b *stay) int {
		if c := cmp.Or(cmp.Compare(a.name, b.name), cmp.Compare(a.place, b.place),
			cmp.Compare(a.setup, b.setup), cmp.Compare(a.end, b.end)); c != 0 {
			return c
		}
		return cmp.Compare(a.String(), b.String())
	})
	var busy, before *stay
	for i, y := range order {
		if i > 0 && (order[i-1].name != y.name || order[i-1].place != y.place) {
			busy, before = nil, nil
		}
		if busy != nil && y.setup < busy.end && y.setup < y.end && (y.planned() || busy.planned()) {
			v.add(BreaksOccupancy, y.at(y.setup), "%s: on %s place %d from %s, where %s is until %s",
				y, y.name, y.place, v.clock(y.setup), busy, v.clock(busy.end))
		}
		if busy == nil || y.end > busy.end {
			busy = y
		}
		if y.mix != nil {
			continue // a mix changes nothing about what the place is set up for
		}
		if y.planned() && y.station != nil {
			v.checkChangeover(before, y)
		}
		before = y
	}
}

// checkChangeover compares with the stay before on the same place or, for the
// first, with what the station is set up for now.
func (v *verifier) checkChangeover(before, y *stay) {
	if len(y.station.Setups) == 0 {
		return
	}
	var least Seconds
	after := "what it is set up for"
	if before != nil {
		after = before.String()
		for _, from := range before.tasks {
			for _, to := range y.tasks {
				least = max(least, v.changeover(y.station, from.op, to.op))
			}
		}
	} else {
		for _, to := range y.tasks {
			least = max(least, v.changeover(y.station, nil, to.op))
		}
	}
	if got := Seconds(y.start - y.setup); got < least {
		v.add(BreaksChangeover, y.at(y.setup), "%s: the changeover of %s lasts %s, after %s it takes %s",
			y, y.name, long(got), after, long(least))
	}
}

type changeoverKey struct {
	station  *resources.Station
	from, to *resources.Operation // from nil: the state it is in now
}

func (v *verifier) changeover(station *resources.Station, from, to *resources.Operation) Seconds {
	key := changeoverKey{station, from, to}
	if d, ok := v.changeovers[key]; ok {
		return d
	}
	d, _ := station.Changeover(setupBefore(v.s, station, from), to.SetupAttributes())
	v.changeovers[key] = d
	return d
}

// setupBefore is what a station is set up for after an operation, or, for
// none, now.
func setupBefore(s *State, station *resources.Station, from *resources.Operation) map[string]string {
	if from != nil {
		return from.SetupAttributes()
	}
	if st := s.Stations[station.ID]; st != nil && st.Setup != nil {
		return st.Setup
	}
	return station.Initial
}
