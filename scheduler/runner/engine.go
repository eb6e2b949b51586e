// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// Budget bounds an improvement. With neither Time nor Iterations there is
// none. A bound by iterations alone gives the same plan for the same problem,
// Seed and number of Workers; a bound by time does not.
type Budget struct {
	Time       time.Duration
	Iterations int64 // of each worker
	Seed       uint64
	Workers    int   // searches side by side, each with a seed of its own; at least 1
	Along      Along // searches on other machines, when Time bounds it; nil: none
}

// Along has other machines search for a better plan than from, within the time
// of a budget and with seeds that none of its workers has. found gives what came
// of it, having waited, if asked to, for what should soon be here; it must be
// called.
type Along func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b Budget) (found func(wait bool) []search.Result)

// none says that nothing is to be improved.
func (b Budget) none() bool { return b.Time <= 0 && b.Iterations <= 0 }

// SeedOf is the seed of a worker. The first has the seed as given, so that one
// worker does what a plain search does.
func (b Budget) SeedOf(worker int) uint64 { return b.Seed + uint64(worker)*0x9e3779b97f4a7c15 }

// Found is the best of several searches.
type Found struct {
	Plan       *scheduler.Plan
	Cost       search.Cost
	Bound      search.Cost
	Bounds     []search.PartBound
	Iterations int64 // of all workers
	Optimal    bool
}

// Plan makes a plan: a construction, or the plan given, improved by the
// budget's workers side by side until the budget or ctx ends. The best is
// taken; of equals, that of the first worker.
func Plan(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b Budget) (Found, error) {
	if b.none() {
		// No iteration: it only tells cost and bound.
		b = Budget{Seed: b.Seed, Workers: 1}
	}
	began := time.Now()
	progress := func() float64 {
		switch {
		case ctx.Err() != nil:
			return 1
		case b.Time > 0:
			return float64(time.Since(began)) / float64(b.Time)
		case b.Iterations > 0:
			return 0
		}
		return 1
	}
	found := func(bool) []search.Result { return nil }
	if b.Along != nil && b.Time > 0 && b.Iterations == 0 {
		found = b.Along(ctx, p, from, b)
	}
	results := make([]search.Result, max(1, b.Workers))
	errs := make([]error, len(results))
	var wait sync.WaitGroup
	for i := range results {
		wait.Go(func() {
			errs[i] = Guarded(func() (err error) {
				results[i], err = search.Improve(p, search.Options{
					Seed: b.SeedOf(i), Iterations: b.Iterations, Progress: progress, Start: from,
				})
				return err
			})
		})
	}
	wait.Wait()
	away := found(!slices.ContainsFunc(results, func(r search.Result) bool { return r.Optimal }))
	for i, err := range errs {
		if err != nil {
			return Found{}, fmt.Errorf("search with seed %d: %w", b.SeedOf(i), err)
		}
	}
	last := &results[len(results)-1]
	f := best(results)
	f.Bound, f.Bounds = last.Bound, last.Bounds
	f.hear(p, away)
	return f, nil
}

// hear takes in what was found elsewhere. What is said of a plan only says which
// to look at first: its times are found again here, as a repair finds them, so
// that it is a plan of this problem and costs what it is said to.
func (f *Found) hear(p *scheduler.Problem, away []search.Result) {
	for _, r := range away {
		f.Iterations += max(0, r.Iterations)
	}
	away = slices.DeleteFunc(slices.Clone(away), func(r search.Result) bool { return r.Plan == nil })
	slices.SortStableFunc(away, func(a, b search.Result) int { return compare(a.Plan, a.Cost, b.Plan, b.Cost) })
	for _, said := range away {
		if compare(said.Plan, said.Cost, f.Plan, f.Cost) >= 0 {
			return // nor are those behind it
		}
		var is search.Result
		err := Guarded(func() (err error) {
			is, err = search.Improve(p, search.Options{Seed: said.Plan.Seed, Start: said.Plan, Progress: func() float64 { return 1 }})
			return err
		})
		if err == nil && compare(is.Plan, is.Cost, f.Plan, f.Cost) < 0 {
			is.Plan.Iterations = said.Plan.Iterations
			f.Plan, f.Cost, f.Optimal = is.Plan, is.Cost, f.Optimal || is.Optimal
		}
	}
}

// compare is below 0 when the first plan is the better.
func compare(a *scheduler.Plan, costs search.Cost, b *scheduler.Plan, other search.Cost) int {
	return cmp.Or(cmp.Compare(len(a.Breaches), len(b.Breaches)), slices.Compare(costs[:], other[:]))
}

// best is the best result, of equals the first, without bounds.
func best(results []search.Result) Found {
	var f Found
	for i := range results {
		r := &results[i]
		f.Iterations += r.Iterations
		f.Optimal = f.Optimal || r.Optimal
		if i == 0 || compare(r.Plan, r.Cost, f.Plan, f.Cost) < 0 {
			f.Plan, f.Cost = r.Plan, r.Cost
		}
	}
	return f
}

// Engine is the Planner of the shop: the scheduler and its search.
type Engine struct{}

// Compile lays the state out for a search.
func (Engine) Compile(s *scheduler.State, now resources.Tick) (*scheduler.Problem, error) {
	return scheduler.Compile(s, now)
}

// Repair moves times; it makes a first plan from nil, and a new one when the
// old order of things has become impossible.
func (Engine) Repair(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
	return repair(search.Repair, p, from)
}

// RepairWhole is Repair that times everything again.
func (Engine) RepairWhole(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
	return repair(search.RepairWhole, p, from)
}

func repair(how func(*scheduler.Problem, *scheduler.Plan) (*scheduler.Plan, error), p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
	if from != nil {
		if plan, err := how(p, from); err == nil || errors.Is(err, scheduler.ErrNothingPossible) {
			return plan, err
		}
	}
	return search.Construct(p)
}

// Improve searches side by side.
func (Engine) Improve(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b Budget) (*scheduler.Plan, error) {
	found, err := Plan(ctx, p, from, b)
	if err == nil {
		found.Plan.Optimal = found.Optimal
	}
	return found.Plan, err
}

// Bounds bounds the objective.
func (Engine) Bounds(p *scheduler.Problem) ([]search.PartBound, error) { return search.Bounds(p) }

// Commit verifies a plan and makes it an event.
func (Engine) Commit(s *scheduler.State, now resources.Tick, p *scheduler.Plan) (events.Event, []scheduler.Violation) {
	return scheduler.Commit(s, now, p)
}

// Measure scores a plan.
func (Engine) Measure(s *scheduler.State, p *scheduler.Plan) scheduler.Score {
	return scheduler.Measure(s, p)
}
