// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"errors"
	"slices"
	"sync"

	"towpath/scheduler/promise"
	"towpath/web/view"
)

// mostQuestions is how many asked dates are remembered.
const mostQuestions = 50

// questions keeps the dates that were asked for. One second look is taken at a
// time, as each takes the machine's cores; the first answer never waits for it.
type questions struct {
	mu   sync.Mutex
	list []*asked // oldest first
	busy chan struct{}
}

// asked is a question with the way to give its second look up.
type asked struct {
	view.Question
	cancel  context.CancelFunc
	keeping bool // somebody is about to keep its capacity
}

func newQuestions() *questions { return &questions{busy: make(chan struct{}, 1)} }

// add remembers a question and forgets the oldest beyond the most.
func (q *questions) add(x view.Question, cancel context.CancelFunc) string {
	q.mu.Lock()
	defer q.mu.Unlock()
	x.ID = newID()[:12]
	q.list = append(q.list, &asked{Question: x, cancel: cancel})
	for len(q.list) > mostQuestions {
		q.list[0].cancel()
		q.list = q.list[1:]
	}
	return x.ID
}

// find is a copy of a question, nil when it is not remembered.
func (q *questions) find(id string, p *Picture) *view.Question {
	var out *view.Question
	q.edit(id, func(x *asked) {
		one := x.Question
		one.Before = before(q.list, x, func(o *asked) string { return o.State })
		one.Stale = p.Plan == nil || p.Plan.Version != one.Answer.Version
		out = &one
	})
	return out
}

// edit changes a question that is remembered.
func (q *questions) edit(id string, change func(*asked)) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if i := slices.IndexFunc(q.list, func(x *asked) bool { return x.ID == id }); i >= 0 {
		change(q.list[i])
	}
}

// enter waits for the turn of a question; false: it was given up before.
func (q *questions) enter(ctx context.Context, id string) bool {
	select {
	case q.busy <- struct{}{}:
	case <-ctx.Done():
		q.stopped(id)
		return false
	}
	q.edit(id, func(x *asked) { x.State = "running" })
	return true
}

func (q *questions) leave() { <-q.busy }

func (q *questions) told(id string, p promise.Progress) {
	q.edit(id, func(x *asked) { x.Answer, x.Doing, x.Done, x.Most = p.Answer, p.Doing, p.Done, p.Most })
}

// stop gives a second look up.
func (q *questions) stop(id string) { q.edit(id, func(x *asked) { x.cancel() }) }

// stopped notes that it was given up.
func (q *questions) stopped(id string) {
	q.edit(id, func(x *asked) {
		if x.Open() {
			x.State, x.Doing = "stopped", ""
		}
	})
}

// ended notes how a second look ended.
func (q *questions) ended(ctx context.Context, id string, last *promise.Answer, err error) {
	q.edit(id, func(x *asked) {
		x.Doing = ""
		if last != nil {
			x.Answer = last
		}
		switch {
		case ctx.Err() != nil || errors.Is(err, context.Canceled):
			x.State = "stopped"
		case err != nil:
			x.State, x.Text = "failed", "It cannot be looked at more closely: "+err.Error()
		default:
			x.State = "done"
		}
	})
}

// claim is asked before capacity is kept for a question: of several who ask at
// once, one may. The others are told the promise, empty while it is being made.
func (q *questions) claim(id string) (kept string, mine bool) {
	q.edit(id, func(x *asked) {
		if kept, mine = x.Kept, x.Kept == "" && !x.keeping; mine {
			x.keeping = true
		}
	})
	return kept, mine
}

// kept notes the promise that a claimed question became; empty: none, and it may
// be claimed again.
func (q *questions) kept(id, number string) {
	q.edit(id, func(x *asked) { x.Kept, x.keeping = number, false })
}
