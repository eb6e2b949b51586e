// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

type planOptions struct {
	in       inputs
	now      string
	previous string
	search   searchFlags
	out      string
	json     bool
}

func newPlan() *cobra.Command {
	var o planOptions
	c := &cobra.Command{
		Use:   "plan --plant FILE --orders FILE [--now T] [--previous FILE] [--budget 5s] [--seed N] [--out plan.json] [--json]",
		Short: "Plan the orders from files and say what the plan is worth",
		Long: `plan makes a plan for a plant and its orders, verifies it, and compares it with
plain due-date order from the same snapshot.

Without --now it plans for the instant at which the plant file says its clock
begins (starts_at), and for this machine's clock when it does not say.

--budget bounds the search by time; 0 gives the first plan at once. An interrupt
ends the search and prints the best plan so far. --iterations bounds it by work
instead: then the same files, --now, --seed, --iterations and --workers give the
same plan, byte for byte.

Of each part of the objective the summary says what the plan costs, what no plan
can go below, and which relaxation says so. "optimal" is said only where they
meet, or where an exact search has proven it.

With --previous it plans on from the plan that people follow now: the frozen
window of each station stays, what moves in the hours after it costs, and the
summary says how many operations moved and where another job comes next.`,
		Example: `  towpath plan --plant plant.yaml --orders orders.csv
  towpath plan --plant plant.yaml --orders orders.csv --budget 30s --out plan.json
  towpath plan --plant plant.yaml --orders orders.csv --iterations 2000 --seed 7 --json
  towpath plan --plant plant.yaml --orders more.csv --previous plan.json --out plan2.json`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "orders"); err != nil {
				return err
			}
			return plan(c, &o)
		},
	}
	o.in.flags(c)
	c.Flags().StringVar(&o.now, "now", "", "instant to plan for, RFC 3339 or local to the plant")
	c.Flags().StringVar(&o.previous, "previous", "", "plan people follow now, as written by towpath plan --out")
	o.search.flags(c, 5*time.Second)
	c.Flags().StringVar(&o.out, "out", "", "write the plan to this file")
	c.Flags().BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

func plan(c *cobra.Command, o *planOptions) error {
	budget, err := o.search.budget(c)
	if err != nil {
		return err
	}
	if err := o.in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	now, err := nowOf(o.now, o.in.plant)
	if err != nil {
		return err
	}
	began := time.Now()
	s, err := snapshot(&o.in, now, o.previous)
	if err == nil {
		err = s.search(c.Context(), budget)
	}
	if err != nil {
		return o.noPlan(c.OutOrStdout(), err)
	}
	report := s.report(time.Since(began))
	if err := s.compare(&report); err != nil {
		return err
	}
	if o.out != "" {
		if err := writePlan(o.out, s.plan); err != nil {
			return err
		}
	}
	if o.json {
		err = writeJSON(c.OutOrStdout(), report)
	} else {
		err = s.print(c.OutOrStdout(), &report, o)
	}
	if err != nil {
		return err
	}
	if !report.Verified {
		for _, v := range s.violations {
			fmt.Fprintln(c.ErrOrStderr(), v.String())
		}
		return trouble("this is a fault of the program, please report it with the files and the seed", "the plan fails verification: %s", plural(len(s.violations), "violation"))
	}
	return nil
}

// noPlan says why there is none, as JSON too when that was asked for.
func (o *planOptions) noPlan(out io.Writer, err error) error {
	var x *scheduler.Infeasible
	if o.json && errors.As(err, &x) {
		if err := writeJSON(out, map[string]any{"infeasible": x}); err != nil {
			return err
		}
	}
	if errors.Is(err, scheduler.ErrNothingPossible) {
		return impossible(err)
	}
	return err
}

// session is one planning from files.
type session struct {
	plant      *resources.Plant
	now        resources.Tick
	state      *scheduler.State
	problem    *scheduler.Problem
	plan       *scheduler.Plan
	found      runner.Found
	score      scheduler.Score
	violations []scheduler.Violation
}

// snapshot is plant and orders before anything has begun, with the plan in
// force when there is a file of one.
func snapshot(in *inputs, now resources.Tick, previous string) (*session, error) {
	state, err := scheduler.StateOf(in.plant, in.lines)
	if err != nil {
		return nil, trouble("", "%v", err)
	}
	if previous != "" {
		if state.Plan, err = readPlan(previous); err != nil {
			return nil, err
		}
	}
	problem, err := scheduler.Compile(state, now)
	if errors.Is(err, scheduler.ErrNothingPossible) {
		return nil, err
	}
	if err != nil {
		return nil, trouble("", "plan: %v", err)
	}
	return &session{plant: in.plant, now: now, state: state, problem: problem}, nil
}

// impossible says why there is no plan: the piece and the operation, what
// cannot hold together, a line each, and what would help.
func impossible(err error) error {
	var x *scheduler.Infeasible
	if errors.As(err, &x) && len(x.Together) > 0 {
		text := fmt.Sprintf("%v: %s\n  %s:", scheduler.ErrNothingPossible, x.Where(), x.Reason)
		for _, l := range x.Together {
			text += fmt.Sprintf("\n    %-10s  %s", l.Kind, l.Text)
		}
		return trouble(x.Hint(), "%s", text)
	}
	if errors.Is(err, scheduler.ErrNothingPossible) {
		return trouble("check capacities, calendars and dates of what is named; towpath check may say more", "%v", err)
	}
	return trouble("", "plan: %v", err)
}

func (s *session) search(ctx context.Context, b runner.Budget) error {
	found, err := runner.Plan(ctx, s.problem, s.state.Plan, b)
	if errors.Is(err, scheduler.ErrNothingPossible) {
		return err
	}
	if err != nil {
		return trouble("", "plan: %v", err)
	}
	s.found, s.plan = found, found.Plan
	s.plan.Churn = scheduler.ChurnOf(s.state, s.plan)
	s.score = scheduler.Measure(s.state, s.plan)
	s.violations = scheduler.Check(s.state, s.now, s.plan)
	if !s.plan.Judge(search.Gaps(found.Bounds, &s.score), found.Optimal) {
		return trouble("this is a fault of the program, please report it with the files and the seed", "the plan costs less than its lower bound")
	}
	return nil
}

// compare plans the same snapshot in plain due-date order.
func (s *session) compare(r *planReport) error {
	r.Baseline.Rule = string(search.DueDate)
	plain, err := search.ByRule(s.problem, search.DueDate)
	if errors.Is(err, scheduler.ErrNothingPossible) {
		r.Baseline.Impossible = err.Error()
		return nil
	}
	if err != nil {
		return trouble("", "plan in due-date order: %v", err)
	}
	score := scheduler.Measure(s.state, plain)
	r.Baseline.OnTime, r.Baseline.Late, r.Baseline.Lost = score.OnTime, score.Late, score.Lost
	r.Baseline.Tardiness = score.WeightedTardinessHours()
	r.Baseline.Verified = len(scheduler.Check(s.state, s.now, plain)) == 0
	return nil
}

// readPlan reads a plan file.
func readPlan(path string) (*scheduler.Plan, error) {
	text, err := readFile(path, maxPlanFile)
	if err != nil {
		return nil, err
	}
	plan, err := scheduler.DecodePlan(text)
	if err != nil {
		return nil, trouble("towpath plan --out writes such a file", "%s: %v", path, err)
	}
	return plan, nil
}

// writePlan writes a plan file.
func writePlan(path string, p *scheduler.Plan) error {
	text, err := scheduler.EncodePlan(p)
	if err != nil {
		return trouble("", "%v", err)
	}
	return writeWhole(path, text)
}

func writeJSON(out io.Writer, v any) error {
	enc := json.NewEncoder(out)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
