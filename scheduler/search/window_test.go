// SPDX-License-Identifier: Apache-2.0

package search

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
)

// What facts speak against the place that an activity was told: each limit to the
// second, and the other place of the same station is not meant.
func TestWhatTouchesAnOldPlace(t *testing.T) {
	was := scheduler.Work{Setup: 90, Start: 100, End: 200, Place: 2}
	for _, x := range []struct {
		name    string
		act     scheduler.Act
		station scheduler.StationP
		end     Tick
		touched bool
	}{
		{name: "nothing"},
		{name: "released in time", act: scheduler.Act{Release: 100}},
		{name: "released later", act: scheduler.Act{Release: 101}, touched: true},
		{name: "in time", act: scheduler.Act{Deadline: 100}},
		{name: "too late", act: scheduler.Act{Deadline: 99}, touched: true},
		{name: "over with the plan", end: 200},
		{name: "beyond the plan", end: 199, touched: true},
		{name: "down until its changeover", station: scheduler.StationP{Stops: []resources.Interval{{Start: 0, End: 90}}}},
		{name: "down as its changeover begins", station: scheduler.StationP{Stops: []resources.Interval{{Start: 0, End: 91}}}, touched: true},
		{name: "down after it", station: scheduler.StationP{Stops: []resources.Interval{{Start: 200, End: 300}}}},
		{name: "down at its end", station: scheduler.StationP{Stops: []resources.Interval{{Start: 199, End: 300}}}, touched: true},
		{name: "free by then", station: scheduler.StationP{Busy: []scheduler.Busy{{Place: 1, Until: 90}}}},
		{name: "taken", station: scheduler.StationP{Busy: []scheduler.Busy{{Place: 1, Until: 91}}}, touched: true},
		{name: "the other place is taken", station: scheduler.StationP{Busy: []scheduler.Busy{{Place: 0, Until: 500}, {Place: 2, Until: 500}}}},
		{name: "as many places as told", station: scheduler.StationP{Places: 2}},
		{name: "a place less", station: scheduler.StationP{Places: 1}, touched: true},
	} {
		if x.station.Places == 0 {
			x.station.Places = 3
		}
		if x.end == 0 {
			x.end = 1000
		}
		p := &scheduler.Problem{Stations: []scheduler.StationP{{}, x.station}, Modes: []scheduler.Mode{{Station: 1}}, End: x.end}
		w := &window{p: p}
		require.Equal(t, x.touched, w.touched(&x.act, &was, 0), x.name)
	}
}
