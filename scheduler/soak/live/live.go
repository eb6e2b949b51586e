// SPDX-License-Identifier: Apache-2.0

// Package live runs a trial of package soak on a runner, a log and a store.
// The shop's time is moved by hand: a step of the clock, what people do in it,
// what they report, and then the runner is waited for until it has planned all
// it has to. So a trial is as fast as the planner, and what happens in it
// depends on the seed.
package live

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/simulate"
	"towpath/scheduler/soak"
)

// Bus is how stations report.
type Bus interface {
	// Send stores a report and says where; one whose ID the bus remembers is
	// not stored again.
	Send(ctx context.Context, e events.Event) (seq uint64, repeat bool, err error)
	// SendUnmarked stores a report without telling the bus its ID.
	SendUnmarked(ctx context.Context, e events.Event) (seq uint64, err error)
}

// Options are what a trial works with.
type Options struct {
	Plant     *resources.Plant
	PlantFile string
	Orders    []resources.OrderLine
	Days      int
	Seed      uint64
	Odds      simulate.Odds // nothing set: Ordinary
	Slips     soak.Slips    // nothing set: soak.Ordinary
	// Iterations of one improvement; 0: 60.
	Iterations int64
	Log        runner.Log
	Store      runner.Store
	Bus        Bus
	Logger     *slog.Logger
	// Progress is told after each day of the shop; may be nil.
	Progress func(day int, r *Report)
}

// Ordinary is how unruly the floor of a trial is: in 100 tests 5 are bad.
func Ordinary() simulate.Odds {
	return simulate.Odds{
		Spread: 0.07, Tardy: 90, Stop: 0.03, StopLong: 50 * resources.Minute, Fail: true, Bad: 0.05, Second: 0.6, Hold: 0.004,
		Absent: 0.05, AwayLong: 2 * resources.Hour, Told: 0.5, Unsaid: 0.2,
	}
}

// step is how far the clock moves at once.
const step = resources.Tick(5 * resources.Minute)

// trial is one under way.
type trial struct {
	o       Options
	clock   clock
	planner planner
	runner  *runner.Runner
	ended   chan error

	floor  *scheduler.State // as it really is, with the plan people were told
	people *simulate.Shop
	mouths *soak.Reporter
	bureau *soak.Office
	model  *soak.Model
	comes  []soak.Release
	report Report
	acked  map[string]uint64
	sent   uint64
	from   resources.Tick
}

// Run is a trial from beginning to end. When ctx ends first, the report is of
// what was done until then, with ctx's error.
func Run(ctx context.Context, o Options) (*Report, *scheduler.State, error) {
	if o.Iterations == 0 {
		o.Iterations = 60
	}
	if o.Odds == (simulate.Odds{}) {
		o.Odds = Ordinary()
	}
	if o.Slips == (soak.Slips{}) {
		o.Slips = soak.Ordinary()
	}
	began := time.Now()
	t := &trial{
		o: o, planner: planner{iterations: o.Iterations}, floor: scheduler.NewState(nil), people: simulate.New(o.Seed, o.Odds),
		mouths: soak.NewReporter(o.Seed, o.Slips), bureau: soak.NewOffice(o.Seed), model: soak.NewModel(o.Plant), acked: map[string]uint64{},
		from: o.Plant.StartsAt, ended: make(chan error, 1),
		report: Report{Days: o.Days, Seed: o.Seed},
	}
	t.comes = soak.Season(o.Orders, t.from, t.from+resources.Tick(o.Days)*resources.Tick(resources.Day))
	t.clock.set(t.from)
	var err error
	t.runner, err = runner.New(runner.Options{
		Log: o.Log, Store: o.Store, Clock: &t.clock, Planner: &t.planner, Logger: o.Logger, Seed: o.Seed,
		Workers: 1, Budget: time.Millisecond, Stepped: true,
	})
	if err != nil {
		return nil, nil, err
	}
	inner, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	go func() { t.ended <- t.runner.Run(inner) }()
	audit := newAuditor(o.Log)
	go audit.run(inner)
	err = t.live(ctx)
	stopped := errors.Is(err, context.Canceled)
	if err == nil || stopped {
		err = t.close(inner, audit)
	}
	stop()
	if ended := <-t.ended; err == nil {
		err = ended
	}
	<-audit.done
	if err != nil {
		return nil, nil, err
	}
	t.report.ElapsedMS = time.Since(began).Milliseconds()
	return &t.report, t.runner.Picture().State, ctx.Err()
}

// live is the month.
func (t *trial) live(ctx context.Context) error {
	select {
	case <-t.runner.Ready():
	case err := <-t.ended:
		t.ended <- err
		return fmt.Errorf("the runner has ended: %w", err)
	}
	plant := events.Event{
		ID: "plant", Kind: events.PlantDeclared, Plant: t.o.Plant.ID, At: t.from, By: "office", Data: events.PlantData{File: t.o.PlantFile},
	}
	if err := t.office(ctx, plant); err != nil {
		return err
	}
	for now := t.from; now < t.from+resources.Tick(t.o.Days)*resources.Tick(resources.Day); now += step {
		if err := t.step(ctx, now); err != nil {
			return err
		}
		t.progress(now)
	}
	return nil
}

func (t *trial) progress(now resources.Tick) {
	const day = resources.Tick(resources.Day)
	if done := now + step - t.from; done%day == 0 && t.o.Progress != nil {
		t.o.Progress(int(done/day), &t.report)
	}
}

// step is what happens until an instant.
func (t *trial) step(ctx context.Context, now resources.Tick) error {
	t.clock.set(now)
	for len(t.comes) > 0 && t.comes[0].At <= now {
		if err := t.release(ctx, now); err != nil {
			return err
		}
	}
	const day = resources.Tick(resources.Day)
	if since := now - t.from; since%day == day/2 {
		if err := t.rearrange(ctx, int(since/day), now); err != nil {
			return err
		}
	}
	t.floor.Plan = t.runner.Picture().State.Plan
	t.pieces()
	for _, e := range t.people.Step(t.floor, now) {
		if err := t.model.Did(e); err != nil {
			return fmt.Errorf("the simulated floor did what cannot be: %w", err)
		}
		t.mouths.Took(e, t.floor)
		t.report.Deeds++
		if e.Kind == events.CrewAbsent {
			t.report.Away++
		}
	}
	return t.tell(ctx, now, false)
}

// release brings in the orders that are due, on a floor where nothing is left
// to be told: what an order finds in stock depends on what is known.
func (t *trial) release(ctx context.Context, now resources.Tick) error {
	if err := t.flush(ctx, now); err != nil {
		return err
	}
	lines := t.comes[0].Lines
	t.comes = t.comes[1:]
	var batch []events.Event
	for _, x := range lines {
		batch = append(batch, soak.Added(t.o.Plant.ID, x, now))
	}
	return t.office(ctx, batch...)
}

// office reports what the office knows first; the floor hears of it at once.
func (t *trial) office(ctx context.Context, batch ...events.Event) error {
	out, err := t.runner.Report(ctx, batch...)
	if err != nil {
		return fmt.Errorf("report of the office: %w", err)
	}
	t.sent = max(t.sent, out.Seq)
	for _, e := range batch {
		if _, err := t.floor.Apply(e); err != nil {
			return fmt.Errorf("the floor and the office disagree: %w", err)
		}
	}
	return nil
}

// pieces tells the model of pieces it has not heard of.
func (t *trial) pieces() {
	for serial, p := range t.floor.Pieces {
		t.model.Piece(serial, p.Product, p.Parent)
	}
}

// flush has people tell everything they have not told yet.
func (t *trial) flush(ctx context.Context, now resources.Tick) error {
	for round := 0; t.mouths.Open() > 0 || round == 0; round++ {
		if round == maxFlush {
			return nil // the account will tell
		}
		if err := t.tell(ctx, now, true); err != nil {
			return err
		}
	}
	return nil
}

// maxFlush is how often people try to get rid of what they have to tell.
const maxFlush = 60

// tell sends what is due and waits until the shop has planned.
func (t *trial) tell(ctx context.Context, now resources.Tick, hurry bool) error {
	mended := false
	for _, x := range t.mouths.Due(now, hurry) {
		if x.Mends != "" {
			did, err := t.mend(ctx, x)
			if err != nil {
				return err
			}
			mended = mended || did
			continue
		}
		mended = mended || x.Event.Kind == events.EventVoided
		if err := t.send(ctx, x); err != nil {
			return err
		}
	}
	settled, err := t.runner.Settle(ctx, t.sent)
	if err != nil {
		return err
	}
	if settled.Err != nil {
		t.report.PlanningFailed++
		if text := settled.Err.Error(); t.report.PlanningFailed <= maxFindings {
			t.report.find("planning failed", []string{text})
		}
	}
	t.mouths.Heard(now, t.runner.Picture().State, t.stands, mended)
	return nil
}

// stands says whether the shop believes an event.
func (t *trial) stands(id string) bool {
	s := t.runner.Picture().State
	_, taken := s.Applied(id)
	_, void := s.VoidedBy(id)
	return taken && !void
}

// mend takes a wrong report back and puts the right one in its place, both or
// neither.
func (t *trial) mend(ctx context.Context, x soak.Sending) (bool, error) {
	void := x.Event
	void.ID, void.Kind = x.Event.ID+"-v", events.EventVoided
	void.Data = events.VoidData{Event: x.Mends, Why: "wrong serial scanned"}
	out, err := t.runner.Report(ctx, void, x.Event)
	var refused *runner.Refusal
	switch {
	case errors.As(err, &refused):
		return false, nil
	case err != nil:
		return false, fmt.Errorf("correct %s: %w", x.Mends, err)
	}
	t.sent = max(t.sent, out.Seq)
	t.report.Corrected++
	return true, nil
}

// send puts a report on the bus.
func (t *trial) send(ctx context.Context, x soak.Sending) error {
	seq, _, err := t.o.Bus.Send(ctx, x.Event)
	if err != nil {
		return fmt.Errorf("send %s: %w", x.Event.ID, err)
	}
	t.acked[x.Event.ID] = seq
	t.sent = max(t.sent, seq)
	switch {
	case x.Stored:
		seq, err = t.o.Bus.SendUnmarked(ctx, x.Event)
	case x.Twice:
		var repeat bool
		if seq, repeat, err = t.o.Bus.Send(ctx, x.Event); err == nil && !repeat {
			return fmt.Errorf("the bus stored %s twice", x.Event.ID)
		}
	}
	if err != nil {
		return fmt.Errorf("send %s again: %w", x.Event.ID, err)
	}
	t.sent = max(t.sent, seq)
	return nil
}
