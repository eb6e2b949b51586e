// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"time"

	"towpath/resources"
)

// Tick and Seconds are the engine's time.
type (
	Tick    = resources.Tick
	Seconds = resources.Seconds
)

// MaxWeeks is how far capacity looks ahead.
const MaxWeeks = 52

// Week is one column: an ISO 8601 week in the plant's zone. The first begins
// now, so that only what is left of it counts.
type Week struct {
	Week string `json:"week" doc:"ISO 8601 week, e.g. 2026-W11"`
	From Tick   `json:"from" doc:"its beginning; of the first week, now"`
	To   Tick   `json:"to" doc:"its end"`
}

// grid is the weeks looked at.
type grid struct {
	now   Tick
	end   Tick
	weeks []Week
	names []resources.Week
}

func newGrid(zone *time.Location, now Tick, weeks int) grid {
	g := grid{now: now, end: now}
	w := resources.WeekOf(zone, now)
	for range weeks {
		next := w.Next()
		to := next.Start(zone)
		g.weeks = append(g.weeks, Week{Week: w.String(), From: g.end, To: to})
		g.names = append(g.names, w)
		w, g.end = next, to
	}
	return g
}

// of is the column of an instant: the first for all before it, -1 beyond the
// last.
func (g *grid) of(t Tick) int {
	if t >= g.end {
		return -1
	}
	low, high := 0, len(g.weeks)-1
	for low < high {
		middle := (low + high) / 2
		if t < g.weeks[middle].To {
			high = middle
		} else {
			low = middle + 1
		}
	}
	return low
}

// spread adds the hours of a span to the columns it touches, times n.
func (g *grid) spread(to []float64, from, until Tick, n float64) {
	g.each(from, until, func(week int, hours float64) { to[week] += n * hours })
}

// each visits the columns a span touches with the hours it has in them.
func (g *grid) each(from, until Tick, visit func(week int, hours float64)) {
	from = max(from, g.now)
	if from >= until || from >= g.end {
		return
	}
	for i := g.of(from); i < len(g.weeks) && from < until; i++ {
		if part := min(until, g.weeks[i].To) - from; part > 0 {
			visit(i, float64(part)/3600)
			from += part
		}
	}
}
