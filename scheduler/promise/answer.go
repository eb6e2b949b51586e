// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"towpath/scheduler"
	"towpath/scheduler/risk"
)

// Answer is what can be said on the telephone.
type Answer struct {
	Ask     Ask    `json:"ask" doc:"the question, with what it left out"`
	Now     Tick   `json:"now" doc:"instant it was answered for"`
	Version int64  `json:"plan_version" doc:"plan it was fitted into; 0: none was published"`
	Base    uint64 `json:"base" doc:"sequence of the state it was computed from"`
	WishDue Tick   `json:"wish_due" doc:"last carrier for the wish"`
	Pieces  int    `json:"pieces" doc:"pieces started for it: with spares and samples"`

	Earliest Date `json:"earliest" doc:"earliest shipment that breaks no promised date"`
	Meets    bool `json:"meets" doc:"the earliest shipment is in time for the wish"`

	Chances *Chances `json:"chances,omitempty" doc:"what is known after playing it; left out when that was not asked"`

	Moved []Moved `json:"moved" doc:"orders complete at another time then, all within their dates"`

	Otherwise *Otherwise `json:"otherwise,omitempty" doc:"what else could be done for a wish that is not met; left out when that was not asked, or the wish is met"`

	present *Present
	fit     *Fit
	without *risk.Report // of the present plan, when it was played
}

// Date is a shipment.
type Date struct {
	Ready Tick              `json:"ready" doc:"all pieces packed"`
	Ship  Tick              `json:"ship" doc:"the carrier that takes them"`
	Slack scheduler.Seconds `json:"slack" doc:"seconds between"`
}

// Offered is the shipment to promise: the one at the asked confidence where that
// is known, else the earliest.
func (a *Answer) Offered() Tick {
	if a.Chances != nil && a.Chances.Known {
		return a.Chances.Date.Ship
	}
	return a.Earliest.Ship
}

// PerMille is in how many of 1000 courses a shipment by some instant holds, as
// far as that is known: the asked confidence, or the chance of the earliest; 0
// when nothing was played.
func (a *Answer) PerMille(by Tick) int64 {
	switch {
	case a.Chances == nil:
		return 0
	case a.Chances.Known && by >= a.Chances.Date.Ship:
		return int64(a.Ask.Confidence*1000 + 0.5)
	}
	return min(999, int64(a.Chances.Chance*1000))
}

// Fit is the plan behind an answer.
func (a *Answer) Fit() *Fit { return a.fit }

// Answer fits the asked order in.
func (b *Present) Answer(ask Ask) (*Answer, error) {
	ask.Fill()
	if err := ask.Check(b.State, b.Now); err != nil {
		return nil, err
	}
	wishDue := b.State.Plant.Due(ask.Wish)
	after, keys, err := ask.with(b.State, b.Now, part{ask.Quantity, wishDue})
	if err != nil {
		return nil, err
	}
	fit, err := b.Fit(after, keys)
	if err != nil {
		return nil, err
	}
	out := &Answer{
		Ask: ask, Now: b.Now, Base: b.State.Seq, WishDue: wishDue, Pieces: len(after.Lines[keys[0]].Pieces),
		Earliest: Date{Ready: fit.Ready[0], Ship: fit.Ships[0], Slack: scheduler.Seconds(fit.Ships[0] - fit.Ready[0])},
		Meets:    fit.Ships[0] <= wishDue, Moved: fit.Moved, present: b, fit: fit,
	}
	if b.State.Plan != nil {
		out.Version = b.State.Plan.Version
	}
	if out.Moved == nil {
		out.Moved = []Moved{}
	}
	return out, nil
}

// Ordered is the shop after an answer has become an order with the answered
// date: its state, with the plan behind the answer as the published one.
func (b *Present) Ordered(a *Answer) (*scheduler.State, error) {
	after, _, err := a.Ask.with(b.State, b.Now, part{a.Ask.Quantity, a.Earliest.Ship})
	if err != nil {
		return nil, err
	}
	plan := *a.fit.Plan
	plan.Version = a.Version + 1
	after.Plan = &plan
	return after, nil
}
