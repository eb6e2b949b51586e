// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/scheduler"
	"towpath/scheduler/risk"
)

// Replications is how many histories an answer is played through where nothing
// else is asked: the chance is then known to some 4 points in either direction.
const Replications = 400

// Chances is what is known of an answer when its plan has been played through many
// possible histories.
type Chances struct {
	Known        bool     `json:"known" doc:"false: in too many histories it is not complete within the calendars; the date is then empty"`
	Date         Date     `json:"date" doc:"earliest shipment that holds at the asked confidence"`
	Meets        bool     `json:"meets" doc:"that shipment is in time for the wish"`
	Chance       float64  `json:"chance" doc:"share of the histories in which the earliest shipment holds"`
	Low          float64  `json:"low" doc:"lower end of the 95 % interval of that share, by Wilson's score"`
	High         float64  `json:"high" doc:"upper end"`
	Replications int      `json:"replications" doc:"histories played"`
	Others       []Risked `json:"others" doc:"orders whose chance falls by a point or more, most first"`
}

// Risked is another order's chance to make its date.
type Risked struct {
	Order string  `json:"order" doc:"order number"`
	Due   Tick    `json:"due" doc:"when it must be complete"`
	Was   float64 `json:"was" doc:"chance without the asked order"`
	Will  float64 `json:"will" doc:"chance with it"`
}

// Played plays a program through histories, of the same luck for the same
// order whatever the plan.
type Played func(*risk.Program) (*risk.Report, *risk.Sample, error)

// Sure plays the answer's plan, and the present one for comparison; the answer
// it gives back has Answer.Chances filled in.
func (a *Answer) Sure(play Played) (*Answer, error) {
	b := a.present
	after, err := b.Ordered(a)
	if err != nil {
		return nil, err
	}
	with, sample, err := b.played(after, a.fit.Plan, play)
	if err != nil {
		return nil, err
	}
	before, err := b.proven()
	if err != nil {
		return nil, err
	}
	without, _, err := b.played(b.State, before.Plan, play)
	if err != nil {
		return nil, err
	}
	u := &Chances{Replications: with.Replications, Others: lowered(without, with, a.Ask.Order)}
	if i := slices.IndexFunc(with.Orders, func(o risk.OrderRisk) bool { return o.Order == a.Ask.Order }); i >= 0 {
		u.Chance, u.Low, u.High = with.Orders[i].Chance, with.Orders[i].Low, with.Orders[i].High
	}
	if at, ok := sample.Completion(a.Ask.Order, with.Replications, a.Ask.Confidence); ok {
		ready := max(at, a.Earliest.Ready)
		ship := shipment(b.State, ready)
		u.Known, u.Meets = true, ship <= a.WishDue
		u.Date = Date{Ready: ready, Ship: ship, Slack: scheduler.Seconds(ship - ready)}
	}
	next := *a
	next.Chances, next.without = u, without
	return &next, nil
}

func (b *Present) played(s *scheduler.State, plan *scheduler.Plan, play Played) (*risk.Report, *risk.Sample, error) {
	g, err := risk.Compile(s, b.Now, plan)
	if err != nil {
		return nil, nil, fmt.Errorf("play the answer: %w", err)
	}
	return play(g)
}

// aPoint is a point of a chance; a difference of two shares that is one may come
// out a little less.
const aPoint = 0.01 - 1e-9

// lowered lists the orders whose chance falls, beside the asked one.
func lowered(without, with *risk.Report, asked string) []Risked {
	out := []Risked{}
	was := map[string]*risk.OrderRisk{}
	for i := range without.Orders {
		was[without.Orders[i].Order] = &without.Orders[i]
	}
	for i := range with.Orders {
		o := &with.Orders[i]
		before := was[o.Order]
		if before == nil || o.Order == asked || o.Waiting || before.Waiting || before.Chance-o.Chance < aPoint {
			continue
		}
		out = append(out, Risked{Order: o.Order, Due: o.Due, Was: before.Chance, Will: o.Chance})
	}
	slices.SortStableFunc(out, func(x, y Risked) int { return cmp.Compare(x.Will-x.Was, y.Will-y.Was) })
	return out
}
