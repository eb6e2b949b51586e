// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"slices"

	"towpath/events"
	"towpath/resources"
)

// Stop is a time during which a station was reported down.
type Stop struct {
	Station string
	resources.Interval
}

// Stops pairs the reports of stations going down and up again. A report that
// was voided or came twice does not count, nor does a second "down" before an
// "up"; a stop that is not over is not there. The answer is by station and
// start.
func Stops(log []events.Event) []Stop {
	voided := map[string]bool{}
	for i := range log {
		if d, ok := log[i].Data.(events.VoidData); ok {
			voided[d.Event] = true
		}
	}
	var told []events.Event
	seen := map[string]bool{}
	for _, e := range log {
		if (e.Kind == events.StationDown || e.Kind == events.StationUp) && !voided[e.ID] && !seen[e.ID] {
			seen[e.ID] = true
			told = append(told, e)
		}
	}
	// By when it happened: reports may be late.
	slices.SortStableFunc(told, func(a, b events.Event) int { return int(a.At - b.At) })
	since := map[string]resources.Tick{}
	var stops []Stop
	for _, e := range told {
		from, down := since[e.Station]
		switch {
		case e.Kind == events.StationDown && !down:
			since[e.Station] = e.At
		case e.Kind == events.StationUp && down:
			delete(since, e.Station)
			if e.At > from {
				stops = append(stops, Stop{e.Station, resources.Interval{Start: from, End: e.At}})
			}
		}
	}
	slices.SortFunc(stops, func(a, b Stop) int {
		if a.Station != b.Station {
			if a.Station < b.Station {
				return -1
			}
			return 1
		}
		return int(a.Start - b.Start)
	})
	return stops
}

// stopped is how long a station stood within a time.
func stopped(stops []Stop, station string, in resources.Interval) resources.Seconds {
	sum := resources.Seconds(0)
	for i := range stops {
		if s := &stops[i]; s.Station == station {
			sum += resources.Seconds(max(0, min(s.End, in.End)-max(s.Start, in.Start)))
		}
	}
	return sum
}
