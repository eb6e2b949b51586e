// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"time"

	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/whatif"
	"towpath/web"
)

// webTrier lets the what-if page ask the runner's searches, with the budget of
// the live plan.
type webTrier struct {
	runner *runner.Runner
	seed   uint64
	budget time.Duration // below 0: nothing is improved
}

// Try plans and plays beside the planning of the shop, on half of the cores.
func (t webTrier) Try(ctx context.Context, q *whatif.Question, from *scheduler.Plan, told func(web.TryProgress)) (*web.Trial, error) {
	workers := max(1, runtime.GOMAXPROCS(0)/2)
	budget := runner.Budget{Time: max(0, t.budget), Seed: t.seed, Workers: workers}
	stop := every(time.Second/4, func(spent time.Duration) {
		told(web.TryProgress{
			Doing: "planning the shop with and without the changes",
			Done:  int(min(spent, budget.Time).Milliseconds()), Most: int(budget.Time.Milliseconds()),
		})
	})
	planned := sync.OnceFunc(stop)
	defer planned()
	x, err := runner.WhatIf(ctx, q, from, budget, &runner.Playing{
		Options: risk.Options{Replications: whatifHistories, Seed: t.seed}, Workers: workers,
		Told: func(done, most int) {
			planned()
			told(web.TryProgress{Doing: "playing both plans forward on the same luck", Done: done, Most: most})
		},
	})
	if x == nil {
		return nil, err
	}
	return &web.Trial{Comparison: x.Comparison, Before: x.Before, After: x.After}, err
}

// Adopt tells the shop the changes.
func (t webTrier) Adopt(ctx context.Context, q *whatif.Question, mark, by string) (web.Outcome, error) {
	out, err := t.runner.Adopt(ctx, q, mark, by)
	return adopted(out, err, "Nothing was changed. Try the set again, and adopt what comes out.")
}

// TakeOff declares the plant without a set on top of its file.
func (t webTrier) TakeOff(ctx context.Context, key, by string) (web.Outcome, error) {
	out, err := t.runner.TakeOff(ctx, key, by)
	return adopted(out, err, "Nothing was changed. Look again what stands on top of the plant file.")
}

// adopted puts what became of it in the words of the pages; hint is for a refusal
// that has none.
func adopted(out runner.Outcome, err error, hint string) (web.Outcome, error) {
	if err == nil {
		return web.Outcome{Seq: out.Seq, Notes: out.Notes, Repeat: out.Repeat}, nil
	}
	err = webRefusal(err)
	var refused *web.Refusal
	if errors.As(err, &refused) && refused.Hint == "" {
		refused.Hint = hint
	}
	return web.Outcome{}, err
}

// every calls from a goroutine of its own how much time has passed, until it is
// stopped; after that it calls no more.
func every(step time.Duration, call func(spent time.Duration)) (stop func()) {
	done, ended := make(chan struct{}), make(chan struct{})
	began := time.Now()
	go func() {
		defer close(ended)
		tick := time.NewTicker(step)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
				call(time.Since(began))
			}
		}
	}()
	return func() {
		close(done)
		<-ended
	}
}
