// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/events"
	"towpath/resources"
)

const (
	day  = resources.Tick(resources.Day)
	week = 7 * day
	// ahead is how long before its date an order comes in.
	ahead = 2 * week
)

// Release is the order lines that come in at an instant.
type Release struct {
	At    resources.Tick
	Lines []resources.OrderLine
}

// Season spreads order lines over a trial that begins with from and lasts
// until to: each comes in on the weekday and at the time of from, two weeks or
// a little more before its date, those of the first weeks at once. When the
// file has no more, it comes again, with dates moved by as many whole weeks as
// it spans and orders named anew ("1001-2"). Order is by time, then as in the
// file.
func Season(lines []resources.OrderLine, from, to resources.Tick) []Release {
	if len(lines) == 0 {
		return nil
	}
	first, last := lines[0].ShipBy, lines[0].ShipBy
	for i := range lines {
		first, last = min(first, lines[i].ShipBy), max(last, lines[i].ShipBy)
	}
	span := ((last-first)/week + 1) * week
	at := map[resources.Tick][]resources.OrderLine{}
	for again := resources.Tick(0); first+again*span-ahead-week < to; again++ {
		for _, x := range lines {
			if again > 0 {
				x.Order = fmt.Sprintf("%s-%d", x.Order, again+1)
				x.ShipBy += again * span
				x.Due += again * span
				if x.EarliestStart != 0 {
					x.EarliestStart += again * span
				}
			}
			comes := from + max(0, (x.ShipBy-ahead-from)/week)*week
			if comes < to {
				at[comes] = append(at[comes], x)
			}
		}
	}
	var out []Release
	for when, list := range at {
		out = append(out, Release{when, list})
	}
	slices.SortFunc(out, func(a, b Release) int { return cmp.Compare(a.At, b.At) })
	return out
}

// Added is the event that brings an order line in.
func Added(plant string, x resources.OrderLine, at resources.Tick) events.Event {
	return events.Event{
		ID: "order-" + x.Order + "-" + x.Line, Kind: events.OrderAdded, Plant: plant, At: at, By: "office", Data: events.OrderDataOf(&x),
	}
}
