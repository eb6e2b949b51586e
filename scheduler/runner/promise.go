// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
)

// Bounds of reserving.
const (
	promisers    = 2                // answers computed at a time
	reserveTries = 20               // of one reservation against a moving shop
	strictTries  = 4                // of them that give way to a newer plan
	reserveAge   = 30 * time.Second // wall time for which an answer may be reserved
)

// ErrBusy says that the shop changed under each try to reserve.
var ErrBusy = errors.New("the shop changes faster than a promise can be fitted in; ask again")

// Hold is how capacity is to be kept for an answer.
type Hold struct {
	For      resources.Seconds // 0: promise.DefaultHold
	ShipBy   resources.Tick    // shipment to promise, as it was answered before; 0: the one that is offered
	PerMille int64             // in how many of 1000 courses it was said to hold then; 0: as it is known now
	By       string            // who gives the promise

	// Instead is the alternative that is to be kept, as it was found before; nil:
	// the answer itself. It is solved again by the plan as it is then. ShipBy goes
	// with it.
	Instead *promise.Alternative
}

// Promise answers when an asked order could leave, by the shop's plan as it is
// now. Played, its plan is played through many histories too, for the date at
// the asked confidence. Nothing is kept for it.
func (r *Runner) Promise(ctx context.Context, ask promise.Ask, played bool) (*promise.Answer, error) {
	leave, err := r.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	return r.answerTo(ctx, r.Picture(), ask, played)
}

// enter waits for its turn to compute.
func (r *Runner) enter(ctx context.Context) (leave func(), err error) {
	select {
	case r.promising <- struct{}{}:
		return func() { <-r.promising }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-r.ended:
		return nil, ErrStopped
	}
}

func (r *Runner) answerTo(ctx context.Context, pic *Picture, ask promise.Ask, played bool) (a *promise.Answer, err error) {
	if pic.Starting || pic.State == nil || pic.State.Plant == nil {
		return nil, errors.New("there is no plant yet; declare it first")
	}
	err = Guarded(func() (err error) {
		a, err = promise.To(pic.State, max(pic.Now, r.opt.Clock.Now()), ask)
		return err
	})
	if err == nil && played {
		a, err = Deepen(ctx, a, Depth{Seed: r.opt.Seed, Workers: r.opt.Workers}, nil)
	}
	return a, err
}

// Reserve answers and keeps the capacity that the answer takes. The answer and
// the plan with the asked work in it go to the log together, and only if no
// order and no other promise came between; else it is computed again. So two
// who ask at once never get the same hours: the log's order decides. An empty
// number is filled in.
//
// The shipment promised is the earliest, or, played, the one at the asked
// confidence, or hold.ShipBy; when that has become impossible nothing is kept,
// and the Refusal names the shipment that is possible now.
func (r *Runner) Reserve(ctx context.Context, ask promise.Ask, how Hold, played bool) (*promise.Held, error) {
	hold, err := promise.HoldOf(how.For)
	if err != nil {
		return nil, err
	}
	leave, err := r.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	numbered := ask.Order != ""
	for try := range reserveTries {
		// The number and the answer are of one picture: a number that was free
		// in an older one may be another promise's by now.
		pic := r.Picture()
		if !numbered {
			ask.Order = promise.FreeNumber(pic.State)
		}
		ask.From = max(pic.Now, r.opt.Clock.Now()) + resources.Tick(hold)
		a, err := r.answerTo(ctx, pic, ask, played)
		if err != nil {
			return nil, err
		}
		fit, tell, err := r.offer(ctx, a, how)
		if err != nil {
			return nil, err
		}
		out, err := r.reserve(ctx, a, fit.Plan, tell, try < strictTries)
		var refused *scheduler.Refusal
		switch {
		case err == nil:
			return &promise.Held{Answer: a, ShipBy: tell.ShipBy, Promise: a.Ask.Order, Expires: a.Ask.From, Seq: out.Seq}, nil
		case errors.As(err, &refused) && refused.Reason == scheduler.RefusedStale:
			if err := r.moved(ctx, a.Base); err != nil {
				return nil, err
			}
		default:
			return nil, err
		}
	}
	return nil, ErrBusy
}

// offer is the plan that is kept for an answer, and what is told with it: that of
// the answer, or, where the shipment asked for is sooner, that of the alternative
// that is to be kept. A Refusal when neither is in time.
func (r *Runner) offer(ctx context.Context, a *promise.Answer, how Hold) (fit *promise.Fit, tell Hold, err error) {
	by := cmp.Or(how.ShipBy, a.Offered())
	if by >= a.Earliest.Ship {
		return a.Fit(), Hold{ShipBy: by, PerMille: cmp.Or(how.PerMille, a.PerMille(by)), By: how.By}, nil
	}
	if how.Instead != nil {
		var again *promise.Alternative
		err := Guarded(func() (err error) {
			again, err = a.Again(how.Instead, promise.Effort{Seed: r.opt.Seed, Stop: func() bool { return ctx.Err() != nil }})
			return err
		})
		if err != nil {
			return nil, tell, err
		}
		if again != nil && again.Fit().Ships[0] <= by {
			return again.Fit(), Hold{ShipBy: by, PerMille: how.PerMille, By: how.By}, nil
		}
	}
	return nil, tell, &Refusal{Err: &scheduler.Refusal{
		Reason: scheduler.RefusedStale, About: "promise", Hint: "ask again",
		Text: "the date is no longer free; the earliest shipment is " + shopTime(r.Picture().State, a.Earliest.Ship) + " now",
	}}
}

// moved waits for a picture of the shop after the one of a sequence.
func (r *Runner) moved(ctx context.Context, seq uint64) error {
	news, cancel := r.Subscribe()
	defer cancel()
	patience := time.NewTimer(2 * time.Second)
	defer patience.Stop()
	for r.Picture().Seq <= seq {
		select {
		case _, open := <-news:
			if !open {
				return ErrStopped
			}
		case <-patience.C:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// shopTime writes an instant for people of the shop.
func shopTime(s *scheduler.State, at resources.Tick) string {
	zone := time.UTC
	if s != nil && s.Plant != nil && s.Plant.Zone != nil {
		zone = s.Plant.Zone
	}
	return time.Unix(int64(at), 0).In(zone).Format("Mon 2 Jan 15:04")
}

// reservation is what makes a report one: the plan with the asked work in it.
type reservation struct {
	plan    *scheduler.Plan
	version int64 // of the published plan it was fitted into
	strict  bool  // refuse it when there is a newer one
}

// reserve tells the shop of a promise and its plan, both or neither.
func (r *Runner) reserve(ctx context.Context, a *promise.Answer, plan *scheduler.Plan, how Hold, strict bool) (Outcome, error) {
	q := a.Ask
	return r.send(ctx, &ask{
		reserve: &reservation{plan: plan, version: a.Version, strict: strict},
		events: []events.Event{{ID: NewID(), Kind: events.PromiseReserved, By: how.By, Data: events.ReserveData{
			Promise: q.Order, Customer: q.Customer, Product: q.Product, Quantity: q.Quantity, Wish: q.Wish,
			ShipBy: how.ShipBy, Due: how.ShipBy, Weight: q.Weight, Kind: q.Kind, Expires: q.From,
			Base: a.Base, Plan: a.Version, PerMille: how.PerMille,
		}}},
	})
}

// tryPlan puts the plan of a reservation to the copy of the state that has the
// promise already: it must pass the verifier there.
func (r *Runner) tryPlan(trial *scheduler.State, a *ask, now resources.Tick) error {
	x := a.reserve
	stale := func(text string) error {
		return &Refusal{Err: &scheduler.Refusal{Reason: scheduler.RefusedStale, About: events.About(a.events[0]), Text: text, Hint: "ask again"}}
	}
	version := int64(0)
	if trial.Plan != nil {
		version = trial.Plan.Version
	}
	if x.strict && version != x.version || r.plan.published > r.state.Seq {
		return stale("there is a newer plan than the one it was fitted into")
	}
	if now-x.plan.Made > resources.Tick(reserveAge.Seconds()*r.opt.Clock.Speed()) {
		return stale("it took too long to compute")
	}
	var event events.Event
	var broken []scheduler.Violation
	err := Guarded(func() (err error) {
		if event, broken = r.opt.Planner.Commit(trial, x.plan.Made, x.plan); len(broken) == 0 {
			event.At = min(event.At, now)
			_, err = trial.Apply(event)
		}
		return err
	})
	if err != nil {
		return &Refusal{Err: err}
	}
	if len(broken) > 0 {
		return stale("the shop has moved on since it was computed")
	}
	a.fresh = append(a.fresh, event)
	a.left = len(a.fresh)
	return nil
}

// expire lets go of what is kept for promises whose time is over.
func (r *Runner) expire(ctx context.Context) error {
	if r.state.Plant == nil {
		return nil
	}
	now := r.now()
	var waiting []*ask
	for _, key := range r.state.Overdue(now) {
		line := r.state.Lines[key]
		e := events.Event{
			ID: r.expiry(line), Kind: events.PromiseExpired,
			Data: events.PromiseData{Promise: line.Order},
		}
		a := &ask{events: []events.Event{e}, reply: make(chan answered, 1)}
		if !r.known(e.ID) {
			waiting = append(waiting, a)
		}
	}
	if len(waiting) == 0 {
		return nil
	}
	return r.append(ctx, waiting)
}

// expiry is the ID of the event that a promise has expired: the same, whoever
// notices first. Where that was taken back, the promise is kept again and its
// time is still over; as an ID counts once, the next one has the number of the
// void in the log too.
func (r *Runner) expiry(line *scheduler.Line) string {
	name := "expired-" + line.Order
	if !events.ValidID(name) || len(name) > events.MaxID-50 { // two numbers follow
		name = fmt.Sprintf("expired-%x", sha256.Sum256([]byte(line.Order)))
	}
	name += fmt.Sprintf("-%d", line.Promise.Expires)
	for id := name; ; {
		void, gone := r.state.VoidedBy(id)
		if !gone {
			return id
		}
		seq, _ := r.state.Applied(void)
		id = fmt.Sprintf("%s-%d", name, seq)
	}
}

// known says whether an event of that ID is on its way.
func (r *Runner) known(id string) bool {
	if r.waiting[id] != nil {
		return true
	}
	for _, a := range r.parked {
		for i := range a.events {
			if a.events[i].ID == id {
				return true
			}
		}
	}
	return false
}
