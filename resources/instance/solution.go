// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"towpath/resources"
)

// Placed is one operation of a plan, as much of it as a solution of a
// published problem speaks of.
type Placed struct {
	Line      string // of the order
	Operation string
	Station   string
	Load      string
	Run       resources.Tick
	RunEnd    resources.Tick
}

// ShopSolution is a schedule of a shop; numbers as in the instance, from 0.
type ShopSolution struct {
	Ops []ShopOp `json:"ops"`
}

// ShopOp is one step of a job on its machine.
type ShopOp struct {
	Job      int   `json:"job"`
	Op       int   `json:"op"`
	Machine  int   `json:"machine"`
	Start    int64 `json:"start"`
	Duration int64 `json:"duration"`
}

// Solution writes a plan of the shop's case as a schedule, by job and step.
func (s *Shop) Solution(placed []Placed) (ShopSolution, error) {
	out := ShopSolution{Ops: make([]ShopOp, 0, len(placed))}
	for _, w := range placed {
		op := ShopOp{
			Job: number("J", w.Line), Op: number("O", w.Operation), Machine: number("M", w.Station),
			Start: units(w.Run), Duration: units(w.RunEnd) - units(w.Run),
		}
		if op.Job < 0 || op.Op < 0 || op.Machine < 0 {
			return ShopSolution{}, fmt.Errorf("%s: %s of %s on %s is not of this instance", s.Name, w.Operation, w.Line, w.Station)
		}
		out.Ops = append(out.Ops, op)
	}
	slices.SortFunc(out.Ops, func(a, b ShopOp) int { return cmp.Or(cmp.Compare(a.Job, b.Job), cmp.Compare(a.Op, b.Op)) })
	return out, nil
}

// Score checks a schedule against the rules of the shop, knowing nothing of
// plants and plans, and gives its makespan. The error joins every rule broken.
func (s *Shop) Score(sol ShopSolution) (int64, error) {
	var errs []error
	var last int64
	byMachine := make([][]ShopOp, s.Machines)
	byJob := make([]map[int]ShopOp, len(s.Jobs))
	for _, op := range sol.Ops {
		if err := s.allowed(op); err != nil {
			errs = append(errs, err)
			continue
		}
		if byJob[op.Job] == nil {
			byJob[op.Job] = map[int]ShopOp{}
		}
		if _, twice := byJob[op.Job][op.Op]; twice {
			errs = append(errs, fmt.Errorf("job %d, op %d is there twice", op.Job, op.Op))
		}
		byJob[op.Job][op.Op] = op
		byMachine[op.Machine] = append(byMachine[op.Machine], op)
		last = max(last, op.Start+op.Duration)
	}
	for j, steps := range s.Jobs {
		for k := range steps {
			op, ok := byJob[j][k]
			if !ok {
				errs = append(errs, fmt.Errorf("job %d, op %d is missing", j, k))
				continue
			}
			before, ok := byJob[j][k-1]
			gap := op.Start - before.Start - before.Duration
			if w := steps[k].Wait; ok && (gap < w.Min || w.HasMax && gap > w.Max) {
				errs = append(errs, fmt.Errorf("job %d, op %d starts %d after the op before it", j, k, gap))
			}
		}
	}
	for m, ops := range byMachine {
		slices.SortFunc(ops, func(a, b ShopOp) int {
			return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Duration, b.Duration))
		})
		for i := 1; i < len(ops); i++ {
			if ops[i].Start < ops[i-1].Start+ops[i-1].Duration {
				errs = append(errs, fmt.Errorf("machine %d: job %d and job %d overlap at %d", m, ops[i-1].Job, ops[i].Job, ops[i].Start))
			}
		}
	}
	return last, errors.Join(errs...)
}

func (s *Shop) allowed(op ShopOp) error {
	if op.Job < 0 || op.Job >= len(s.Jobs) || op.Op < 0 || op.Op >= len(s.Jobs[op.Job]) {
		return fmt.Errorf("job %d, op %d does not exist", op.Job, op.Op)
	}
	if op.Start < 0 || op.Start > limit*limit {
		return fmt.Errorf("job %d, op %d starts at %d", op.Job, op.Op, op.Start)
	}
	for _, o := range s.Jobs[op.Job][op.Op].Options {
		if o.Machine == op.Machine && o.Time == op.Duration {
			return nil
		}
	}
	return fmt.Errorf("job %d, op %d lasts %d on machine %d", op.Job, op.Op, op.Duration, op.Machine)
}
