// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"cmp"
	"slices"

	"towpath/scheduler/chance"
)

// Levels are the chances at which completions are stated when calibrating: "by
// this instant it is complete with that chance".
var Levels = []float64{0.50, 0.80, 0.90, 0.95}

// bands is how many bands of chance the dates are sorted into.
const bands = 10

// Calibration holds what was said against what happened. Of each history one
// order is looked at, whichever its own luck picks: orders of one history go
// well or ill together, and counting them all would make a few histories look
// like many. So the events of a line are independent, and the interval of its
// share is the binomial one.
type Calibration struct {
	seed      uint64
	histories uint64
	levels    []tally
	dates     [bands]tally
}

// tally counts events of a kind.
type tally struct {
	said float64 // sum of the chances said
	n, k int     // events, and those that happened
}

// Level is one line of a calibration.
type Level struct {
	Said     float64 `json:"said"`     // chance stated; of dates the mean of those in its band
	Happened float64 `json:"happened"` // share of the events that came true
	Low      float64 `json:"low"`      // exact interval of that share, Clopper and Pearson
	High     float64 `json:"high"`
	N        int     `json:"n"` // events, each of a history of its own
}

// Holds says whether what was said lies in the interval of what happened.
func (l Level) Holds() bool { return l.Low <= l.Said && l.Said <= l.High }

// NewCalibration has counted nothing. The seed picks the orders looked at.
func NewCalibration(seed uint64) *Calibration {
	return &Calibration{seed: seed, levels: make([]tally, len(Levels))}
}

// Add holds the first n histories of a forecast against the first m of another
// sample of the same program, which must have been played with another seed.
func (c *Calibration) Add(forecast *Sample, n int, happened *Sample, m int) {
	g := forecast.g
	var known []int
	for o := range g.orders {
		if !g.orders[o].waiting && !g.orders[o].stock {
			known = append(known, o)
		}
	}
	if len(known) == 0 || n == 0 {
		return
	}
	said := make([]stated, len(known))
	for i, o := range known {
		said[i] = forecast.stated(o, n)
	}
	for r := range m {
		pick := int(chance.Scramble(c.seed^chance.Scramble(c.histories+1)) % uint64(len(known)))
		c.histories++
		out := &happened.rows[r*len(g.orders)+known[pick]]
		for i := range Levels {
			if by := said[pick].by[i]; by < noDate {
				c.levels[i].add(Levels[i], out.end <= by)
			}
		}
		chance := said[pick].chance
		c.dates[min(int(chance*bands), bands-1)].add(chance, out.made)
	}
}

// stated is what a forecast says of an order.
type stated struct {
	by     []Tick // for each of Levels; noDate: beyond the calendars
	chance float64
}

func (s *Sample) stated(o, n int) stated {
	ends := make([]Tick, n)
	made := 0
	for r := range n {
		out := &s.rows[r*len(s.g.orders)+o]
		ends[r] = out.end
		if out.made {
			made++
		}
	}
	slices.Sort(ends)
	x := stated{by: make([]Tick, len(Levels)), chance: float64(made) / float64(n)}
	for i, level := range Levels {
		x.by[i] = cmp.Or(quantile(ends, level), noDate)
	}
	return x
}

func (t *tally) add(said float64, happened bool) {
	t.said += said
	t.n++
	if happened {
		t.k++
	}
}

func (t *tally) level(confidence float64) Level {
	l := Level{N: t.n, Said: t.said / float64(t.n), Happened: float64(t.k) / float64(t.n)}
	l.Low, l.High = ClopperPearson(t.k, t.n, confidence)
	return l
}

// Levels is how often an order was complete by the instant stated for each of
// the package's Levels; levels nothing was said at are left out. The intervals
// have the given confidence.
func (c *Calibration) Levels(confidence float64) []Level {
	lines := []Level{}
	for i := range c.levels {
		if t := &c.levels[i]; t.n > 0 {
			l := t.level(confidence)
			l.Said = Levels[i] // the mean of equal numbers, without its rounding
			lines = append(lines, l)
		}
	}
	return lines
}

// Dates is how often an order made its date, by bands of a tenth of the chance
// stated for that; bands without an event are left out.
func (c *Calibration) Dates(confidence float64) []Level {
	lines := []Level{}
	for i := range c.dates {
		if t := &c.dates[i]; t.n > 0 {
			lines = append(lines, t.level(confidence))
		}
	}
	return lines
}
