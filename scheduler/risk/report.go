// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Options say how many histories are played.
type Options struct {
	Replications int     // at most; 0: DefaultReplications
	Seed         uint64  // the same seed, the same luck, whatever the plan
	Confidence   float64 // of the interval of each chance; 0: DefaultConfidence
	Width        float64 // stop when no interval is wider than this; 0: play them all
}

// The defaults.
const (
	DefaultReplications = 1000
	DefaultConfidence   = 0.95
	MaxReplications     = 100000
	// Batch is how many histories are played before the width is looked at.
	Batch = 200
)

// Or is o with what it leaves out filled in.
func (o Options) Or() Options {
	if o.Replications == 0 {
		o.Replications = DefaultReplications
	}
	if o.Confidence == 0 {
		o.Confidence = DefaultConfidence
	}
	return o
}

// Check says what is wrong with options that have been filled in.
func (o Options) Check() error {
	switch {
	case o.Replications < 1 || o.Replications > MaxReplications:
		return fmt.Errorf("%d replications: allowed are 1 to %d", o.Replications, MaxReplications)
	case !(o.Confidence > 0 && o.Confidence < 1):
		return fmt.Errorf("a confidence of %v: give more than 0 and less than 1, as nothing is certain", o.Confidence)
	case !(o.Width >= 0 && o.Width < 1):
		return fmt.Errorf("a width of %v: give 0 to less than 1", o.Width)
	}
	return nil
}

// Report is the risk of a plan.
type Report struct {
	Replications int         `json:"replications" doc:"histories played"`
	Seed         uint64      `json:"seed" doc:"of the histories"`
	Confidence   float64     `json:"confidence" doc:"of the intervals"`
	Orders       []OrderRisk `json:"orders" doc:"by order"`
	AllMade      float64     `json:"all_made" doc:"share of histories in which every order makes its date"`
	Lost         float64     `json:"lost" doc:"event orders lost, on average"`
	Breaches     float64     `json:"breaches" doc:"maximum waits overrun in a history, on average"`
	Forced       float64     `json:"forced" doc:"works begun against the rules to untie a knot, on average"`
}

// OrderRisk is what may become of one order.
type OrderRisk struct {
	Order   string       `json:"order" doc:"order number"`
	Due     Tick         `json:"due" doc:"of the line the plan leaves the least slack"`
	Event   bool         `json:"event" doc:"true: worthless when late"`
	Waiting bool         `json:"waiting" doc:"true: a piece is held, missing or lacks a material, so nobody can say; the rest is 0"`
	Planned Tick         `json:"planned" doc:"completion by the plan"`
	P50     Tick         `json:"p50" doc:"completion, not later in half of the histories; empty: beyond the calendars"`
	P80     Tick         `json:"p80" doc:"the same in 80 %"`
	P95     Tick         `json:"p95" doc:"the same in 95 %"`
	Made    int          `json:"made" doc:"histories in which it makes its date"`
	Chance  float64      `json:"chance" doc:"to make its date"`
	Low     float64      `json:"low" doc:"interval of the chance, by Wilson's score"`
	High    float64      `json:"high" doc:"its other end"`
	Spoiled float64      `json:"spoiled" doc:"share of histories in which a piece of it waits longer than it may"`
	Causes  []CauseShare `json:"causes" doc:"of being late, most frequent first, at most three"`
}

// CauseShare is how often something was what most made an order late.
type CauseShare struct {
	Kind  string  `json:"kind" doc:"in one word"`
	At    string  `json:"at,omitempty" doc:"station, tool or skill"`
	Share float64 `json:"share" doc:"of the histories in which it is late"`
	Text  string  `json:"text" doc:"for people"`
}

// Report tells of the first n histories of a sample.
func (s *Sample) Report(n int, confidence float64) *Report {
	g := s.g
	r := &Report{Replications: n, Seed: s.seed, Confidence: confidence, Orders: []OrderRisk{}}
	ends := make([]Tick, n)
	// Counted whole and divided once, so that the shares are round.
	lost, allMade, breaches, forced := 0, 0, int64(0), int64(0)
	for o := range g.orders {
		if g.orders[o].stock {
			continue
		}
		r.Orders = append(r.Orders, s.order(o, n, confidence, ends))
		for i := range n {
			if x := &s.rows[i*len(g.orders)+o]; !x.made && g.isEvent(o) && !g.orders[o].waiting {
				lost++
			}
		}
	}
	for i := range n {
		all := true
		for o := range g.orders {
			all = all && (s.rows[i*len(g.orders)+o].made || g.orders[o].waiting || g.orders[o].stock)
		}
		if all {
			allMade++
		}
		breaches += s.side[i].breaches
		forced += s.side[i].forced
	}
	r.Lost, r.AllMade = float64(lost)/float64(n), float64(allMade)/float64(n)
	r.Breaches, r.Forced = float64(breaches)/float64(n), float64(forced)/float64(n)
	slices.SortFunc(r.Orders, func(a, b OrderRisk) int { return cmp.Compare(a.Order, b.Order) })
	return r
}

func (s *Sample) order(o, n int, confidence float64, ends []Tick) OrderRisk {
	g := s.g
	x := OrderRisk{Order: g.p.Orders[o].ID, Event: g.isEvent(o), Waiting: g.orders[o].waiting, Causes: []CauseShare{}}
	least := noDate
	for _, l := range g.orders[o].lines {
		due, planned := g.p.Lines[l].Due, g.lines[l].planned
		if slack := due - planned; slack < least {
			least, x.Due = slack, due
		}
		x.Planned = max(x.Planned, planned)
	}
	if x.Waiting {
		x.Planned = 0
		return x
	}
	whys := map[cause]int{}
	bad := 0
	for i := range n {
		out := &s.rows[i*len(g.orders)+o]
		ends[i] = out.end
		if out.made {
			x.Made++
		} else {
			whys[out.why]++
		}
		if out.bad {
			bad++
		}
	}
	x.Chance, x.Spoiled = float64(x.Made)/float64(n), float64(bad)/float64(n)
	x.Low, x.High = Wilson(x.Made, n, confidence)
	slices.Sort(ends)
	x.P50, x.P80, x.P95 = quantile(ends, 0.5), quantile(ends, 0.8), quantile(ends, 0.95)
	x.Causes = g.shares(whys, n-x.Made)
	return x
}

// quantile is the earliest instant by which at least that share of the
// histories is complete; 0 when that is beyond the calendars.
func quantile(sorted []Tick, share float64) Tick {
	k := int(math.Ceil(share*float64(len(sorted))-1e-9)) - 1
	if at := sorted[min(max(k, 0), len(sorted)-1)]; at < noDate {
		return at
	}
	return 0
}

// Completion is the earliest instant by which an order is complete with the
// given chance, as the first n histories have it; false when that is beyond the
// calendars, the order is unknown, or a piece of it is held.
func (s *Sample) Completion(order string, n int, chance float64) (Tick, bool) {
	g := s.g
	for o := range g.orders {
		if g.p.Orders[o].ID != order || g.orders[o].waiting {
			continue
		}
		ends := make([]Tick, n)
		for i := range ends {
			ends[i] = s.rows[i*len(g.orders)+o].end
		}
		slices.Sort(ends)
		at := quantile(ends, chance)
		return at, at > 0
	}
	return 0, false
}

// Widest is the widest interval of any chance after n histories.
func (s *Sample) Widest(n int, confidence float64) float64 {
	widest := 0.0
	for o := range s.g.orders {
		if s.g.orders[o].waiting || s.g.orders[o].stock {
			continue
		}
		made := 0
		for i := range n {
			if s.rows[i*len(s.g.orders)+o].made {
				made++
			}
		}
		low, high := Wilson(made, n, confidence)
		widest = max(widest, high-low)
	}
	return widest
}

func (g *Program) isEvent(o int) bool {
	for _, l := range g.orders[o].lines {
		if g.p.Lines[l].Event {
			return true
		}
	}
	return false
}

// shares ranks causes, the three most frequent.
func (g *Program) shares(whys map[cause]int, late int) []CauseShare {
	all := []CauseShare{}
	for c, k := range whys {
		x := CauseShare{Share: float64(k) / float64(late)}
		x.Kind, x.At, x.Text = g.say(c)
		all = append(all, x)
	}
	slices.SortFunc(all, func(a, b CauseShare) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.At, b.At))
	})
	return all[:min(len(all), 3)]
}

func (g *Program) say(c cause) (kind, at, text string) {
	switch c.kind() {
	case causeTool:
		at = g.p.Pools[c.id()].ID
	case causePeople:
		at = g.p.Skills[c.id()].Name
	case causeNone, causePlan:
	default:
		at = g.p.Stations[c.id()].ID
	}
	switch c.kind() {
	case causePlan:
		return "plan", "", "the plan itself is late"
	case causeLonger:
		return "longer", at, "work at " + at + " took longer than stated"
	case causeBroken:
		return "breakdown", at, at + " broke down"
	case causeRework:
		return "rework", at, "a piece was done again at " + at
	case causeRemake:
		return "remake", at, "a piece was made anew and came late to " + at
	case causeQueue:
		return "queue", at, "other work held " + at
	case causeHours:
		return "hours", at, "too late for the day at " + at
	case causeTool:
		return "tool", at, "no " + at + " was free"
	case causePeople:
		return "people", at, "nobody was there for " + at
	case causeMember:
		return "load", at, "a load at " + at + " waited for a late piece"
	case causeNext:
		return "clock", at, "work at " + at + " was put off, as what must follow in time could not"
	case causeMixing:
		return "mix", at, "the mix for " + at + " had gone off"
	}
	return "other", "", "many small delays"
}

// Play plays a plan's histories one after another: what a caller does that has
// one core. It stops when the intervals are narrow enough; the answer is the
// same as that of many cores.
func Play(g *Program, o Options) (*Report, *Sample, error) {
	o = o.Or()
	if err := o.Check(); err != nil {
		return nil, nil, err
	}
	s, y := g.NewSample(o.Replications, o.Seed), g.NewPlayer()
	n := 0
	for n < o.Replications {
		to := min(o.Replications, n+Batch)
		for ; n < to; n++ {
			y.Play(s, n)
		}
		if o.Width > 0 && s.Widest(n, o.Confidence) <= o.Width {
			break
		}
	}
	return s.Report(n, o.Confidence), s, nil
}
