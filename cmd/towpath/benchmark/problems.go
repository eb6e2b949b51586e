// SPDX-License-Identifier: Apache-2.0

package benchmark

import (
	"encoding/json"
	"fmt"

	"towpath/resources"
	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// Ovens is an instance of the oven scheduling problem. It costs the published
// cost, divided by the instance's own upper bound.
func Ovens(name string, o *instance.Ovens) *Problem {
	c := o.Case()
	p := ofCase(name, c)
	p.score = func(s *scheduler.State, plan *scheduler.Plan, bound search.Cost) (scored, error) {
		sol, err := o.Solution(placed(plan))
		if err != nil {
			return scored{}, err
		}
		cost, err := reread(sol, o.Score)
		if err != nil {
			return scored{}, &FaultError{Text: fmt.Sprintf("the solution breaks the rules of the problem: %v", err)}
		}
		if err := agree(c, s, plan, cost.Cost); err != nil {
			return scored{}, err
		}
		value, floor := cost.Normalised(), float64(c.Value(bound))/float64(cost.Bound)
		return scored{cost: value, bound: floor, value: value, floor: floor, solution: sol}, nil
	}
	return p
}

// Shop is a job shop in the wide sense. It costs its makespan.
func Shop(name string, shop *instance.Shop) (*Problem, error) {
	c, err := shop.Makespan()
	if err != nil {
		return nil, err
	}
	p := ofCase(name, c)
	p.score = func(s *scheduler.State, plan *scheduler.Plan, bound search.Cost) (scored, error) {
		sol, err := shop.Solution(placed(plan))
		if err != nil {
			return scored{}, err
		}
		long, err := reread(sol, shop.Score)
		if err != nil {
			return scored{}, &FaultError{Text: fmt.Sprintf("the solution breaks the rules of the problem: %v", err)}
		}
		if err := agree(c, s, plan, long); err != nil {
			return scored{}, err
		}
		floor := c.Value(bound)
		return scored{cost: long, bound: floor, value: float64(long), floor: float64(floor), solution: sol}, nil
	}
	return p, nil
}

// Parts is what a plan of a whole shop costs, part by part.
type Parts struct {
	Orders       int      `json:"orders"`
	LateOrders   int      `json:"late_orders"`
	LostOrders   int      `json:"lost_orders"`
	LostWeight   int64    `json:"lost_weight"`
	Tardiness    int64    `json:"weighted_tardiness_seconds"`
	Churn        int      `json:"churn"`
	OvenSeconds  int64    `json:"oven_seconds"`
	Loads        int      `json:"loads"`
	SetupSeconds int64    `json:"changeover_seconds"`
	SetupCost    int64    `json:"changeover_cost"`
	Discarded    int64    `json:"discarded_grams"`
	FlowSeconds  int64    `json:"flow_seconds"`
	Makespan     int64    `json:"makespan_seconds"`
	Levels       [4]int64 `json:"levels"` // the plant's objective, level by level
}

// Levels is a bound of the objective, level by level.
type Levels struct {
	Levels [4]int64 `json:"levels"`
}

// Plant is a whole shop with its orders, planned for an instant. Its solution
// is the plan itself.
func Plant(name string, plant *resources.Plant, lines []resources.OrderLine, now resources.Tick) *Problem {
	p := &Problem{Name: name, Plant: plant, Lines: lines, Now: now}
	p.score = func(s *scheduler.State, plan *scheduler.Plan, bound search.Cost) (scored, error) {
		x := scheduler.Measure(s, plan)
		return scored{bound: Levels{Levels: bound}, cost: Parts{
			Orders: x.Orders, LateOrders: x.Late, LostOrders: x.Lost, LostWeight: x.LostWeight,
			Tardiness: x.WeightedTardinessSeconds, Churn: x.Churn, OvenSeconds: int64(x.OvenSeconds), Loads: x.Loads,
			SetupSeconds: int64(x.ChangeoverSeconds), SetupCost: x.ChangeoverCost, Discarded: x.DiscardedGrams,
			FlowSeconds: int64(x.FlowSeconds), Makespan: int64(x.MakespanSeconds), Levels: x.Levels,
		}}, nil
	}
	return p
}

func ofCase(name string, c *instance.Case) *Problem {
	return &Problem{Name: name, Plant: c.Plant, Lines: c.Lines, Now: instance.Start}
}

// placed is what the solution of a published problem speaks of in a plan.
func placed(plan *scheduler.Plan) []instance.Placed {
	out := make([]instance.Placed, len(plan.Work))
	for i := range plan.Work {
		w := &plan.Work[i]
		out[i] = instance.Placed{
			Line: w.Line, Operation: w.Operation, Station: w.Station, Load: w.Load, Run: w.Run, RunEnd: w.RunEnd,
		}
	}
	return out
}

// reread scores a solution as somebody does who has only what was written.
func reread[S, C any](sol S, score func(S) (C, error)) (C, error) {
	var none C
	text, err := json.Marshal(sol)
	if err != nil {
		return none, err
	}
	var back S
	if err := json.Unmarshal(text, &back); err != nil {
		return none, err
	}
	return score(back)
}

// agree is an error unless the plant's objective says what the problem's own
// scorer says.
func agree(c *instance.Case, s *scheduler.State, plan *scheduler.Plan, cost int64) error {
	if own := c.Value(scheduler.Measure(s, plan).Levels); own != cost {
		return &FaultError{Text: fmt.Sprintf("the plan costs %d by its objective, %d by the rules of the problem", own, cost)}
	}
	return nil
}
