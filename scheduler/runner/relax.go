// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"errors"
	"sync"

	"towpath/scheduler"
	"towpath/scheduler/relax"
)

// Relax finds what would save an order that a plan has late or lost, changes
// side by side. It tells after each what is known so far; told may be nil and is
// called by one goroutine at a time. What it returns does not depend on the
// number of workers; when ctx ends first, it is what was solved until then,
// with ctx's error.
func Relax(ctx context.Context, s *scheduler.State, now scheduler.Tick, plan *scheduler.Plan, order string, e relax.Effort, workers int, told func(*relax.Answer)) (*relax.Answer, error) {
	e.Stop = func() bool { return ctx.Err() != nil }
	var q *relax.Question
	err := Guarded(func() (err error) {
		q, err = relax.Ask(s, now, plan, order, e)
		return err
	})
	if err != nil {
		return nil, err
	}
	r := relaxing{q: q, told: told}
	for list := q.First; len(list) > 0 && ctx.Err() == nil; list = q.Next(r.done) {
		r.asked += len(list)
		if err := r.round(ctx, list, workers); err != nil {
			return r.answer(), err
		}
	}
	return r.answer(), ctx.Err()
}

// relaxing is one question on its way.
type relaxing struct {
	q     *relax.Question
	told  func(*relax.Answer)
	mu    sync.Mutex
	asked int
	done  []relax.Relaxation
	next  int
	fault error
}

func (r *relaxing) answer() *relax.Answer { return r.q.Answer(r.done, r.asked) }

// round solves some changes; all of them unless something fails.
func (r *relaxing) round(ctx context.Context, list []relax.Candidate, workers int) error {
	var wait sync.WaitGroup
	found := make([]*relax.Relaxation, len(list))
	before := r.done
	r.next, r.fault = 0, nil
	for range max(1, min(workers, len(list))) {
		wait.Go(func() {
			for i, ok := r.take(ctx, len(list)); ok; i, ok = r.take(ctx, len(list)) {
				var x relax.Relaxation
				err := Guarded(func() (err error) {
					x, err = r.q.Try(list[i])
					return err
				})
				r.mu.Lock()
				switch {
				case err == nil:
					found[i] = &x
					// In the order of the list, whoever was ready first.
					r.done = before[:len(before):len(before)]
					for _, f := range found {
						if f != nil {
							r.done = append(r.done, *f)
						}
					}
					if r.told != nil {
						r.told(r.answer())
					}
				case errors.Is(err, relax.ErrStopped):
				default:
					r.fault = errors.Join(r.fault, err)
				}
				r.mu.Unlock()
			}
		})
	}
	wait.Wait()
	return r.fault
}

// take hands out the next number below n.
func (r *relaxing) take(ctx context.Context, n int) (int, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.next >= n || r.fault != nil || ctx.Err() != nil {
		return 0, false
	}
	r.next++
	return r.next - 1, true
}
