// SPDX-License-Identifier: Apache-2.0

package webtest

import (
	"context"
	"fmt"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/risk"
	"towpath/web"
)

// Promiser answers for dates with the engine and keeps capacity in a Shop, one
// caller after the other.
type Promiser struct {
	Shop         *Shop
	Hold         chan struct{} // a second look is begun as it is received from; nil: at once
	Replications int           // histories of it
}

// Promise fits the asked order into the shop's plan.
func (f *Promiser) Promise(_ context.Context, ask promise.Ask) (*promise.Answer, error) {
	p := f.Shop.Picture()
	return answer(p.State, p.Now, ask)
}

func answer(s *scheduler.State, now resources.Tick, ask promise.Ask) (*promise.Answer, error) {
	b, err := promise.Begin(s, now)
	if err != nil {
		return nil, err
	}
	return b.Answer(ask)
}

// Deepen plays the answer.
func (f *Promiser) Deepen(ctx context.Context, a *promise.Answer, told func(promise.Progress)) (*promise.Answer, error) {
	told(promise.Progress{Answer: a, Doing: "playing it forward", Done: 0, Most: f.Replications})
	if f.Hold != nil {
		select {
		case <-f.Hold:
		case <-ctx.Done():
			return a, ctx.Err()
		}
	}
	play := func(g *risk.Program) (*risk.Report, *risk.Sample, error) {
		return risk.Play(g, risk.Options{Replications: f.Replications, Seed: 1})
	}
	a, err := a.Sure(play)
	if err != nil {
		return a, err
	}
	a, err = a.Alternatives(promise.Effort{Iterations: 4, Stop: func() bool { return ctx.Err() != nil }})
	if err != nil {
		return a, err
	}
	return a.Risks(play)
}

// Keep reserves under the shop's lock, so that nobody comes between.
func (f *Promiser) Keep(_ context.Context, ask promise.Ask, k web.Keep) (*promise.Held, error) {
	s := f.Shop
	s.mu.Lock()
	defer s.mu.Unlock()
	ask.Order = promise.FreeNumber(s.state)
	ask.From = s.now + resources.Tick(k.For)
	a, err := answer(s.state, s.now, ask)
	if err != nil {
		return nil, err
	}
	fit := a.Fit()
	if k.ShipBy < a.Earliest.Ship && k.Instead != nil {
		again, err := a.Again(k.Instead, promise.Effort{Iterations: 4})
		if err != nil {
			return nil, err
		}
		if again != nil {
			fit = again.Fit()
		}
	}
	if k.ShipBy < fit.Ships[0] {
		return nil, &web.Refusal{Reason: "the date is no longer free", Hint: "ask again"}
	}
	q := a.Ask
	reserved := events.Event{
		ID: "reserve-" + q.Order, Kind: events.PromiseReserved, Plant: s.state.PlantName(), At: s.now, By: k.By,
		Data: events.ReserveData{
			Promise: q.Order, Customer: q.Customer, Product: q.Product, Quantity: q.Quantity, Wish: q.Wish, ShipBy: k.ShipBy, Due: k.ShipBy,
			Weight: q.Weight, Kind: q.Kind, Expires: q.From, Base: a.Base, Plan: a.Version, PerMille: k.PerMille,
		},
	}
	if err := s.take(reserved); err != nil {
		return nil, err
	}
	event, broken := scheduler.Commit(s.state, s.now, fit.Plan)
	if len(broken) > 0 {
		return nil, fmt.Errorf("the plan with the promise fails verification: %s", broken[0])
	}
	event.ID = "plan-" + q.Order
	if err := s.take(event); err != nil {
		return nil, err
	}
	s.show("idle")
	return &promise.Held{Answer: a, ShipBy: k.ShipBy, Promise: q.Order, Expires: q.From, Seq: s.seq - 1}, nil
}
