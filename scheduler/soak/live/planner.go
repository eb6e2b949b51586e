// SPDX-License-Identifier: Apache-2.0

package live

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

// clock is the shop's time, moved by hand.
type clock struct{ at atomic.Int64 }

func (c *clock) Now() resources.Tick    { return resources.Tick(c.at.Load()) }
func (c *clock) Speed() float64         { return 1 }
func (c *clock) set(now resources.Tick) { c.at.Store(int64(now)) }

// planner is the shop's own, with a watch beside it. Its improvements end after
// so many iterations, so that their plans do not depend on the machine.
type planner struct {
	runner.Engine
	iterations int64

	mu      sync.Mutex
	repairs []time.Duration
	runs    int
}

func (p *planner) Repair(problem *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
	began := time.Now()
	plan, err := p.Engine.Repair(problem, from)
	took := time.Since(began)
	p.mu.Lock()
	defer p.mu.Unlock()
	if from != nil {
		p.repairs = append(p.repairs, took)
	}
	return plan, err
}

func (p *planner) Improve(ctx context.Context, problem *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error) {
	p.mu.Lock()
	p.runs++
	p.mu.Unlock()
	return p.Engine.Improve(ctx, problem, from, runner.Budget{Iterations: p.iterations, Seed: b.Seed, Workers: 1})
}

// told is how long the slowest hundredth of repairs takes at least, and how
// many improvements ran.
func (p *planner) told() (p99 time.Duration, runs int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.repairs) == 0 {
		return 0, p.runs
	}
	all := slices.Clone(p.repairs)
	slices.Sort(all)
	return all[(len(all)*99+99)/100-1], p.runs
}
