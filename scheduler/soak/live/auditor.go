// SPDX-License-Identifier: Apache-2.0

package live

import (
	"context"
	"fmt"
	"iter"
	"sync/atomic"
	"time"

	"towpath/events"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
	"towpath/scheduler/soak"
)

// auditor has an audit read the log while the trial goes on.
type auditor struct {
	log   runner.Log
	audit soak.Audit
	at    atomic.Uint64
	ids   map[string][]uint64 // sequences under which each ID was stored
	err   error
	done  chan struct{}
}

func newAuditor(log runner.Log) *auditor {
	return &auditor{log: log, audit: soak.Audit{Repair: search.Repair, Push: search.Pushed}, ids: map[string][]uint64{}, done: make(chan struct{})}
}

func (a *auditor) run(ctx context.Context) {
	defer close(a.done)
	a.audit.Tail = func(after, last uint64) iter.Seq[events.Event] { return a.tail(ctx, after, last) }
	feed, err := a.log.Follow(ctx, 0)
	if err != nil {
		a.err = err
		return
	}
	defer feed.Close()
	for {
		batch, err := feed.Next(ctx)
		if err != nil {
			if ctx.Err() == nil {
				a.err = err
			}
			return
		}
		for i := range batch {
			e := &batch[i]
			if err := a.audit.Take(e.Seq, e.Event, e.Err); err != nil {
				a.err = fmt.Errorf("audit: %w", err)
				return
			}
			if e.Err == nil {
				a.ids[e.Event.ID] = append(a.ids[e.Event.ID], e.Seq)
			}
			a.at.Store(e.Seq)
		}
	}
}

// tail reads the log once and hands it out as often as a fold asks.
func (a *auditor) tail(ctx context.Context, after, last uint64) iter.Seq[events.Event] {
	list, err := read(ctx, a.log, after, last)
	if err != nil && a.err == nil {
		a.err = err
	}
	return func(yield func(events.Event) bool) {
		for _, e := range list {
			if !yield(e) {
				return
			}
		}
	}
}

// read is the events of a stretch of the log.
func read(ctx context.Context, log runner.Log, after, last uint64) ([]events.Event, error) {
	if last <= after {
		return nil, nil
	}
	feed, err := log.Follow(ctx, after)
	if err != nil {
		return nil, err
	}
	defer feed.Close()
	var list []events.Event
	for {
		batch, err := feed.Next(ctx)
		if err != nil {
			return nil, err
		}
		for _, e := range batch {
			if e.Seq > last {
				return list, nil
			}
			if e.Err == nil {
				e.Event.Seq = e.Seq
				list = append(list, e.Event)
			}
			if e.Seq == last {
				return list, nil
			}
		}
	}
}

// wait until the audit has read up to a sequence.
func (a *auditor) wait(last uint64) error {
	for a.at.Load() < last {
		select {
		case <-a.done:
			return a.err
		case <-time.After(5 * time.Millisecond):
		}
	}
	return a.err
}
