// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"towpath/resources"
	"towpath/scheduler"
)

// Options are what a Runner works with. Log, Store, Clock and Planner are
// required; the rest has defaults.
type Options struct {
	Log     Log
	Store   Store
	Clock   Clock
	Planner Planner
	Logger  *slog.Logger
	Seed    uint64
	Workers int           // goroutines of one improvement; default: one per core but one
	Budget  time.Duration // wall time of one improvement; default 5 s, negative: never improve
	Along   Along         // other machines that search in an improvement; nil: none
	Repair  time.Duration // shortest wall time between two repairs; default 250 ms
	Show    time.Duration // shortest wall time between two pictures; default 250 ms

	// TrustStored rejects a record that claims to be from after the instant at
	// which the log took it. Leave it out where the shop's clock is not the
	// log's, as in a simulation.
	TrustStored bool

	// Keep is how much of the history stays at least, in shop time; 0: all of
	// it. What is older may be let go of once a snapshot holds what it meant; a
	// mistake in it can then no longer be voided.
	Keep resources.Seconds

	// Leads says whether this runner is the one that plans, of all on the log; nil:
	// it is alone. One that does not plan follows the log, shows it and takes
	// reports all the same, and begins to plan when the answer changes.
	Leads func() bool

	// Stepped: time passes in steps of the caller's, as in a simulation. The
	// clock is believed whatever it says, and planning waits for Settle.
	Stepped bool
}

func (o *Options) fill() error {
	if o.Log == nil || o.Store == nil || o.Clock == nil || o.Planner == nil {
		return errors.New("runner: log, store, clock and planner are required")
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Workers <= 0 {
		o.Workers = max(1, runtime.GOMAXPROCS(0)-1)
	}
	if o.Budget == 0 {
		o.Budget = 5 * time.Second
	}
	if o.Repair <= 0 {
		o.Repair = 250 * time.Millisecond
	}
	if o.Show <= 0 {
		o.Show = 250 * time.Millisecond
	}
	return nil
}

// Runner keeps the shop's state and plan true. One goroutine, the one in Run,
// owns the state; everybody else sees Pictures of it.
//
// The order of work is the contract:
//
//  1. A fact is in the log first. A station has put it there, or Report does,
//     with the sequence it expects to follow; Report has tried it on a copy of
//     the state before, so that a refusal leaves no trace.
//  2. Records come back from the log in order, those that wait together. Each
//     is applied to the state or rejected with a reason; a reject is kept and
//     shown and stops nothing. A void folds the log again from the newest
//     checkpoint, in memory or in the store, that it does not reach behind.
//  3. One transaction of the store holds the new state and the last sequence
//     applied. Until it has succeeded nothing below happens.
//  4. Whoever waits in Report is told: acknowledged, or rejected and why.
//  5. A new Picture is shown and subscribers are told; soon, where somebody
//     waited in Report, who will look at what has become of it.
//
// A crash between any two steps loses nothing and doubles nothing: on start
// the state is loaded, or folded from an empty one when the store has none,
// and what the log has beyond its sequence is applied as in step 2.
//
// A plan is a fact like any other. A repair or an improvement is only a
// proposal; it is checked against the state as it is, appended with the
// expected sequence, and comes back from the log as plan.published. When facts
// came between, it is repaired and tried again a few times, then dropped. Of
// several runners on one log that which Leads plans; that two do for a moment,
// while one takes over, costs them work and nothing else.
type Runner struct {
	opt       Options
	guard     guard
	unwell    time.Time // when the clock last misbehaved
	state     *scheduler.State
	past      checkpoints
	poison    map[uint64]error // records that are left out, and why
	entries   chan []Entry
	unread    chan string // why the log cannot be read; empty: it can be again
	asks      chan ask
	settles   chan *settle
	results   chan result
	waiting   map[string]*ask // by event ID, appended and not yet back
	promising chan struct{}   // one for each answer being computed
	parked    []*ask          // to be appended when the log stands still
	looked    resources.Tick  // when the age of the history was last looked at
	retained  uint64          // through which history has been let go of

	plan     planning
	bounding bounding
	shown    showing
	subs     subscribers
	pic      atomic.Pointer[Picture]
	ready    chan struct{}
	ended    chan struct{}
	search   sync.WaitGroup // searches under way
}

// New makes a Runner; Run starts it.
func New(o Options) (*Runner, error) {
	if err := o.fill(); err != nil {
		return nil, err
	}
	r := &Runner{
		opt:       o,
		guard:     guard{clock: o.Clock},
		poison:    map[uint64]error{},
		entries:   make(chan []Entry),
		unread:    make(chan string),
		asks:      make(chan ask, maxAsks),
		promising: make(chan struct{}, promisers),
		settles:   make(chan *settle),
		results:   make(chan result),
		waiting:   map[string]*ask{},
		ready:     make(chan struct{}),
		ended:     make(chan struct{}),
	}
	r.pic.Store(&Picture{Starting: true})
	return r, nil
}

// Ready is closed when the state has caught up with the log.
func (r *Runner) Ready() <-chan struct{} { return r.ready }

// Run works until ctx ends, then stops its searches, tells those who wait, and
// returns nil; or returns the error of a log or store that it cannot do
// without. Call it once.
func (r *Runner) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer func() {
		cancel()
		r.drain()
	}()
	if err := r.recoverState(ctx); err != nil {
		return ended(ctx, err)
	}
	r.past.passed(r.state)
	if err := r.follow(ctx); err != nil {
		return ended(ctx, err)
	}
	r.leads()
	r.show()
	close(r.ready)
	if r.opt.Stepped {
		return ended(ctx, r.stepped(ctx))
	}
	return ended(ctx, r.loop(ctx))
}

// loop is the owner of the state.
func (r *Runner) loop(ctx context.Context) error {
	tick := time.NewTicker(min(r.opt.Repair, r.opt.Show))
	defer tick.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return nil
		case batch := <-r.entries:
			err = r.ingest(ctx, batch)
		case why := <-r.unread:
			r.heard(why)
		case a := <-r.asks:
			err = r.answer(ctx, a)
		case res := <-r.results:
			err = r.consider(ctx, res)
		case <-r.shown.soon:
			r.shown.soon = nil
		case <-tick.C:
			r.plan.hold(r.state, r.now())
			r.lookIfDue()
			r.retain(ctx)
			if err = r.unpark(ctx); err == nil && r.leads() {
				err = r.expire(ctx)
			}
		}
		if err != nil {
			return err
		}
		r.schedule(ctx)
		r.showIfDue()
	}
}

// leads says whether this runner plans. One that has just come to it looks at the
// plan as after a start.
func (r *Runner) leads() bool {
	was := r.plan.leads
	r.plan.leads = r.opt.Leads == nil || r.opt.Leads()
	if r.plan.leads && !was {
		r.plan.start(r.now(), r.state.Seq)
	}
	return r.plan.leads
}

// now is the instant to plan for. An alert about the clock stays for a while
// after the clock is well again, so that people see it.
func (r *Runner) now() resources.Tick {
	if r.opt.Stepped {
		r.guard.last = r.opt.Clock.Now()
		return r.guard.last
	}
	now, alert := r.guard.now(time.Now())
	if alert != "" {
		r.alert("clock", alert)
		r.unwell = time.Now()
	} else if !r.unwell.IsZero() && time.Since(r.unwell) > keepClockAlert {
		r.clearAlert("clock")
		r.unwell = time.Time{}
	}
	return now
}

// keepClockAlert is how long an alert about the clock outlasts its cause.
const keepClockAlert = 10 * time.Minute

// drain waits for searches and feeds to stop and tells those who wait that
// their outcome is unknown.
func (r *Runner) drain() {
	done := make(chan struct{})
	go func() { r.search.Wait(); close(done) }()
	for waiting := true; waiting; {
		select {
		case <-r.results:
		case <-r.entries:
		case <-done:
			waiting = false
		}
	}
	close(r.ended)
	for _, a := range r.waiting {
		a.settle(Outcome{}, ErrStopped)
	}
	for _, a := range r.parked {
		a.settle(Outcome{}, ErrStopped)
	}
	r.subs.close()
}

// ended makes an orderly stop of whatever error a cancelled context caused.
func ended(ctx context.Context, err error) error {
	if err == nil || ctx.Err() != nil {
		return nil
	}
	return fmt.Errorf("runner: %w", err)
}
