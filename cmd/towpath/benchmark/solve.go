// SPDX-License-Identifier: Apache-2.0

package benchmark

import (
	"context"
	"fmt"
	"time"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

// Problem is a shop to be planned once, and how its result is told.
type Problem struct {
	Name  string
	Plant *resources.Plant
	Lines []resources.OrderLine
	Now   resources.Tick

	// score says what a plan costs in the problem's own unit, and what is
	// written down of it.
	score func(*scheduler.State, *scheduler.Plan, search.Cost) (scored, error)
}

// scored is a plan in the terms of its problem.
type scored struct {
	cost, bound  any     // as they are printed
	value, floor float64 // as they are compared; 0 where a cost is not one number
	solution     any     // as it is written to a file; nil: nothing
}

// Row is the result of one instance. Keys are stable: programs read them.
type Row struct {
	Instance   string `json:"instance"`
	Cost       any    `json:"cost"`
	Bound      any    `json:"bound"` // no plan costs less
	Iterations int64  `json:"iterations"`
	ElapsedMS  int64  `json:"elapsed_ms"` // compiling, planning and verifying
	Seed       uint64 `json:"seed"`       // as asked for

	Published float64 `json:"published,omitempty"` // best value published, when there is one to compare with
	Ratio     float64 `json:"ratio,omitempty"`     // cost by the best published
}

// Solved is a row with what stands behind it.
type Solved struct {
	Row
	Value, Floor float64 // cost and bound as numbers
	Score        scheduler.Score
	Plan         *scheduler.Plan
	Solution     any // to be written as JSON; nil: nothing
}

// FaultError says that the program contradicts itself: a plan that its verifier
// does not accept, or one that costs something else when it is read back.
type FaultError struct {
	Text       string
	Violations []scheduler.Violation
}

func (f *FaultError) Error() string { return f.Text }

// Solve plans the problem within a budget, which compiling is part of, and
// verifies the plan. The error is scheduler.ErrNothingPossible when no plan is
// found, a *FaultError when there is one that is not what it says.
func (p *Problem) Solve(ctx context.Context, b runner.Budget) (Solved, error) {
	began := time.Now()
	state, err := scheduler.StateOf(p.Plant, p.Lines)
	if err != nil {
		return Solved{}, err
	}
	problem, err := scheduler.Compile(state, p.Now)
	if err != nil {
		return Solved{}, err
	}
	if b.Time > 0 {
		b.Time = max(b.Time-time.Since(began), time.Millisecond)
	}
	found, err := runner.Plan(ctx, problem, nil, b)
	if err != nil {
		return Solved{}, err
	}
	if v := scheduler.Check(state, p.Now, found.Plan); len(v) > 0 {
		return Solved{}, &FaultError{Text: fmt.Sprintf("the plan breaks %d rules", len(v)), Violations: v}
	}
	took := time.Since(began)
	s, err := p.score(state, found.Plan, found.Bound)
	if err != nil {
		return Solved{}, err
	}
	return Solved{
		Row: Row{
			Instance: p.Name, Cost: s.cost, Bound: s.bound,
			Iterations: found.Iterations, ElapsedMS: took.Milliseconds(), Seed: b.Seed,
		},
		Value: s.value, Floor: s.floor, Plan: found.Plan, Solution: s.solution,
		Score: scheduler.Measure(state, found.Plan),
	}, nil
}
