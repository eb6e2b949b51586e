// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
)

// Kind says what sort of alternative it is.
type Kind string

// The kinds, in the order in which they are tried.
const (
	Split  Kind = "split"  // two shipments
	Loads  Kind = "loads"  // oven loads formed otherwise
	Orders Kind = "orders" // named orders make way, within their dates
	Replan Kind = "replan" // everything is planned anew, within its dates
	Shift  Kind = "shift"  // people stay longer, or come in, once
)

// Kinds lists them.
func Kinds() []Kind { return []Kind{Split, Loads, Orders, Replan, Shift} }

// Alternative is another way to serve a wish that the plan cannot meet. The
// plan behind it has passed the verifier, and no order misses a date in it that
// it makes in the present plan; one that is late already is no later.
type Alternative struct {
	Kind  Kind   `json:"kind" doc:"split (two shipments), loads (oven loads formed otherwise), orders (named orders make way), shift (people come in or stay longer) or replan (everything is planned anew)"`
	Words string `json:"words" doc:"what would be done"`

	Meets  bool       `json:"meets" doc:"true: all pieces leave in time for the wish"`
	ByWish int        `json:"by_wish" doc:"pieces that leave in time for the wish"`
	Parts  []Delivery `json:"parts" doc:"shipments, the first one first"`

	PersonHours float64 `json:"person_hours" doc:"hours asked of people beyond their shifts"`
	OvenHours   float64 `json:"oven_hours" doc:"hours that ovens run more than in the plan with the earliest shipment; below 0: less"`
	Pieces      int     `json:"more_pieces" doc:"pieces started more than for one shipment: samples and spares"`

	LaterHours float64 `json:"later_hours" doc:"hours by which other orders are complete later than by the present plan, added up"`
	Moved      []Moved `json:"moved" doc:"orders complete at another time than by the present plan, all within their dates"`

	MakeWay []string `json:"make_way,omitempty" doc:"orders that make way, where that is the way"`

	Chances *AlternativeChances `json:"chances,omitempty" doc:"what is known after playing it; left out when that was not asked"`

	fit    *Fit
	shifts []resources.Change
}

// Delivery is a shipment of some of the pieces.
type Delivery struct {
	Quantity int `json:"quantity" doc:"pieces"`
	Date
}

// AlternativeChances is what is known of an alternative when its plan has been
// played through many possible histories.
type AlternativeChances struct {
	Chance       float64  `json:"chance" doc:"share of the histories in which it leaves in time for the wish, or, what is not in time by the plan, with its shipment"`
	Low          float64  `json:"low" doc:"lower end of the 95 % interval of that share, by Wilson's score"`
	High         float64  `json:"high" doc:"upper end"`
	Replications int      `json:"replications" doc:"histories played"`
	Others       []Risked `json:"others" doc:"orders whose chance falls by a point or more against the present plan, most first"`
}

// Otherwise is what else could be done for a wish that cannot be met.
type Otherwise struct {
	Tried        int           `json:"tried" doc:"ways that were solved"`
	Alternatives []Alternative `json:"alternatives" doc:"those that come nearer to the wish, those that meet it first"`
}

// Fit is the plan behind an alternative.
func (x *Alternative) Fit() *Fit { return x.fit }

// Keepable tells whether another plan is all that the alternative needs, so that
// its capacity can be kept as that of the answer can. Two shipments are two
// promises, and hours that are not in the plant's calendars are for people to give.
func (x *Alternative) Keepable() bool {
	return x.Kind == Loads || x.Kind == Orders || x.Kind == Replan
}

// Changes is what the alternative would change in the shop, where that is more
// than another plan: the asked order, under a number and in its parts, and the
// extra shifts. It can be tried as a what-if, and adopted from there; empty where
// the alternative can be kept as it is.
func (x *Alternative) Changes(a *Answer, order string) []resources.Change {
	if x.Keepable() {
		return nil
	}
	ask := a.Ask
	ask.Order, ask.From = order, 0
	asked := resources.Asked{Wish: ask.Wish, Plan: a.Version, PerMille: x.PerMille()}
	list := make([]resources.Change, 0, len(x.Parts)+len(x.shifts))
	for i := range x.Parts {
		line := ask.line(fmt.Sprint(i+1), x.Parts[i].Quantity, max(x.Parts[i].Ship, a.WishDue))
		list = append(list, resources.Change{AddOrder: &resources.NewOrder{OrderLine: line, Asked: &asked}})
	}
	return append(list, x.shifts...)
}

// Promised is the shipment that is promised when it is kept: what was wished,
// where it meets that, else its own.
func (x *Alternative) Promised(a *Answer) Tick {
	if x.Meets {
		return a.WishDue
	}
	return x.last()
}

// PerMille is in how many of 1000 courses that shipment holds; 0 when it was not
// played.
func (x *Alternative) PerMille() int64 {
	if x.Chances == nil {
		return 0
	}
	return min(999, int64(x.Chances.Chance*1000))
}

// alternative measures a fit that serves the wish in parts.
func (a *Answer) alternative(kind Kind, fit *Fit, quantities ...int) Alternative {
	x := Alternative{Kind: kind, Moved: fit.Moved, fit: fit}
	if x.Moved == nil {
		x.Moved = []Moved{}
	}
	for i, n := range quantities {
		x.Parts = append(x.Parts, Delivery{n, Date{Ready: fit.Ready[i], Ship: fit.Ships[i], Slack: scheduler.Seconds(fit.Ships[i] - fit.Ready[i])}})
		if fit.Ships[i] <= a.WishDue {
			x.ByWish += n
		}
	}
	x.Meets = x.ByWish == a.Ask.Quantity
	for _, m := range fit.Moved {
		x.LaterHours += float64(max(0, m.Later)) / 3600
	}
	was, will := scheduler.Measure(a.fit.State, a.fit.Plan), scheduler.Measure(fit.State, fit.Plan)
	x.OvenHours = float64(will.OvenSeconds-was.OvenSeconds) / 3600
	x.Pieces = len(fit.State.Pieces) - len(a.fit.State.Pieces)
	return x
}

// last is when all of it has left.
func (x *Alternative) last() Tick {
	var at Tick
	for i := range x.Parts {
		at = max(at, x.Parts[i].Ship)
	}
	return at
}

// rank sorts: what meets the wish first, then what asks least of people and of
// other orders. What does not meet it follows by how many pieces it brings in
// time and by when the last one leaves.
func rank(list []Alternative) {
	meets := func(x *Alternative) int {
		if x.Meets {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(list, func(x, y Alternative) int {
		if c := cmp.Compare(meets(&x), meets(&y)); c != 0 {
			return c
		}
		least := cmp.Or(cmp.Compare(x.PersonHours, y.PersonHours), cmp.Compare(x.LaterHours, y.LaterHours),
			cmp.Compare(slices.Index(Kinds(), x.Kind), slices.Index(Kinds(), y.Kind)))
		if x.Meets {
			return least
		}
		return cmp.Or(cmp.Compare(y.ByWish, x.ByWish), cmp.Compare(x.last(), y.last()), least)
	})
}

// Risks plays the plan of each alternative that meets the wish, for its chance
// and for what it does to the chances of others; the answer it gives back has
// Alternative.Chances filled in. It is asked after Sure and Alternatives.
func (a *Answer) Risks(play Played) (*Answer, error) {
	if a.Otherwise == nil || a.without == nil {
		return a, nil
	}
	next, o := *a, *a.Otherwise
	o.Alternatives = slices.Clone(o.Alternatives)
	next.Otherwise = &o
	for i := range o.Alternatives {
		x := &o.Alternatives[i]
		if !x.worthPlaying() {
			continue
		}
		c, err := a.chances(x, play)
		if err != nil {
			return &next, err
		}
		x.Chances = c
	}
	return &next, nil
}

// worthPlaying tells whether somebody might take the alternative.
func (x *Alternative) worthPlaying() bool { return x.Meets || x.ByWish > 0 }

// Plays is how many alternatives Risks plays.
func (o *Otherwise) Plays() (n int) {
	for i := range o.Alternatives {
		if o.Alternatives[i].worthPlaying() {
			n++
		}
	}
	return n
}

func (a *Answer) chances(x *Alternative, play Played) (*AlternativeChances, error) {
	s := x.fit.State.Clone()
	for i := range x.Parts {
		key := scheduler.LineKey(a.Ask.Order, fmt.Sprint(i+1))
		line := *s.Lines[key]
		line.Due = max(x.Parts[i].Ship, a.WishDue)
		s.Lines[key] = &line
	}
	with, _, err := a.present.played(s, x.fit.Plan, play)
	if err != nil {
		return nil, err
	}
	c := &AlternativeChances{Replications: with.Replications, Others: lowered(a.without, with, a.Ask.Order)}
	if i := slices.IndexFunc(with.Orders, func(o risk.OrderRisk) bool { return o.Order == a.Ask.Order }); i >= 0 {
		c.Chance, c.Low, c.High = with.Orders[i].Chance, with.Orders[i].Low, with.Orders[i].High
	}
	return c, nil
}
