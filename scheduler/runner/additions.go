// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"errors"
	"sync"

	"towpath/scheduler"
	"towpath/scheduler/capacity"
)

// firstWorkers is how many searches solve the shop as it is: a number of its
// own, so that the answer does not depend on the machine.
const firstWorkers = 2

// WorthOf solves the shop as it is, and then with each of some additions, side
// by side. It tells after each what is done; told is called by one
// goroutine at a time, first with none done. What it returns is ranked; when
// ctx ends first, that is what was done until then, with ctx's error.
func WorthOf(ctx context.Context, in capacity.Input, e capacity.Effort, list []capacity.Addition, workers int, told func(q *capacity.Question, soFar []capacity.Worth)) (*capacity.Question, []capacity.Worth, error) {
	e.Stop = func() bool { return ctx.Err() != nil }
	e.First = func(p *scheduler.Problem, iterations int64, seed uint64) (*scheduler.Plan, error) {
		f, err := Plan(ctx, p, nil, Budget{Iterations: iterations, Seed: seed, Workers: firstWorkers})
		return f.Plan, err
	}
	var q *capacity.Question
	err := Guarded(func() (err error) {
		q, err = capacity.Ask(in, e)
		return err
	})
	if err != nil {
		return nil, nil, stoppedBy(ctx, err)
	}
	told(q, nil)
	var (
		mu    sync.Mutex
		wait  sync.WaitGroup
		found []capacity.Worth
		fault error
		next  int
	)
	for range max(1, min(workers, len(list))) {
		wait.Go(func() {
			for {
				mu.Lock()
				i := next
				next++
				over := i >= len(list) || fault != nil || ctx.Err() != nil
				mu.Unlock()
				if over {
					return
				}
				var w capacity.Worth
				err := Guarded(func() (err error) {
					w, err = q.Worth(list[i])
					return err
				})
				mu.Lock()
				if err != nil {
					fault = errors.Join(fault, stoppedBy(ctx, err))
				} else {
					found = append(found, w)
					capacity.Rank(found)
					told(q, append([]capacity.Worth(nil), found...))
				}
				mu.Unlock()
			}
		})
	}
	wait.Wait()
	if ctx.Err() != nil {
		fault = ctx.Err()
	}
	return q, found, fault
}

// stoppedBy says that the context ended where that is why a search gave up.
func stoppedBy(ctx context.Context, err error) error {
	if errors.Is(err, capacity.ErrStopped) && ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}
