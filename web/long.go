// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"log/slog"
	"sync"
)

// long is work that goes on after the request that began it: what is known of it
// so far can be looked at, and it can be stopped. One is done at a time, as each
// takes the machine's cores for a while.
type long[J any] struct {
	mu     sync.Mutex
	job    J
	state  string // idle, running, done, stopped or failed
	text   string // why it failed
	cancel context.CancelFunc
}

// look is the work begun last as far as it is known, its state, and why it
// failed.
func (l *long[J]) look() (job J, state, text string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.state == "" {
		return l.job, "idle", ""
	}
	return l.job, l.state, l.text
}

// edit notes what has become known.
func (l *long[J]) edit(change func(*J)) {
	l.mu.Lock()
	defer l.mu.Unlock()
	change(&l.job)
}

// begin has work done until it ends, is stopped, or life ends. Failed says in words
// why it failed; work that panics has failed, and the log has its stack. False:
// other work is under way.
func (l *long[J]) begin(life context.Context, log *slog.Logger, job J, work func(context.Context) error, failed func(error) string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.state == "running" {
		return false
	}
	ctx, cancel := context.WithCancel(life)
	l.job, l.state, l.text, l.cancel = job, "running", "", cancel
	go func() {
		defer cancel()
		err := guarded(log, func() error { return work(ctx) })
		state, text := "done", ""
		switch {
		case ctx.Err() != nil:
			state = "stopped"
		case err != nil:
			state, text = "failed", failed(err)
		}
		l.mu.Lock()
		defer l.mu.Unlock()
		l.state, l.text = state, text
	}()
	return true
}

// stop gives up what is under way; what is known stays.
func (l *long[J]) stop() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.cancel != nil {
		l.cancel()
	}
}
