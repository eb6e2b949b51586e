// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/runner"
)

type promiseOptions struct {
	in     inputs
	ask    promise.Ask
	wish   string
	now    string
	plan   string
	search searchFlags
	quick  bool
	json   bool
}

func newPromise() *cobra.Command {
	var o promiseOptions
	c := &cobra.Command{
		Use:   "promise --plant FILE --orders FILE --product P --quantity N --wish DATE [--confidence 0.9] [--quick] [--now T] [--json]",
		Short: "Say when an order that is asked for could leave without breaking a promised date",
		Long: `promise fits an order that is only asked for into a plan of the orders there are,
and says the earliest shipment that makes no other order miss its date; one that
is late already does not become later. The plan is the one of --plan, else a new
one made within --budget. What is answered has passed the verifier.

The plan is then played through many histories, for the shipment that holds at
--confidence. Where the wish cannot be met, alternatives are solved and played too:
two shipments, other oven loads, named orders that make way, an extra shift,
everything planned anew; each with what it asks for and what it does to others,
none with a broken date. --quick leaves all that out; an interrupt ends it and
prints what is known until then.

--wish is the ship-by wished: a date (its cut-off is meant), a date and time, or
RFC 3339. Nothing is reserved; towpath serve reserves what its page promises.`,
		Example: `  towpath promise --plant plant.yaml --orders orders.csv --product HS-M --quantity 6 --wish 2026-03-19
  towpath plan --plant plant.yaml --orders orders.csv --out plan.json
  towpath promise --plant plant.yaml --orders orders.csv --plan plan.json --product HS-M --quantity 6 --wish 2026-03-19 --json`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "orders", "product", "wish"); err != nil {
				return err
			}
			if !c.Flags().Changed("quantity") {
				return usage("towpath promise --help shows an example", "--quantity is required")
			}
			return runPromise(c, &o)
		},
	}
	o.in.flags(c)
	f := c.Flags()
	f.StringVar(&o.ask.Product, "product", "", "product asked for")
	f.IntVar(&o.ask.Quantity, "quantity", 0, fmt.Sprintf("pieces, 1 to %d", promise.MaxPieces))
	f.StringVar(&o.wish, "wish", "", "ship-by wished")
	f.Float64Var(&o.ask.Confidence, "confidence", promise.DefaultConfidence, "share of possible courses in which the second date holds, 0.5 to 0.99")
	f.BoolVar(&o.quick, "quick", false, "answer with the earliest shipment alone")
	f.StringVar(&o.ask.Kind, "kind", "firm", "firm (late costs per day) or event (worthless when late)")
	f.Int64Var(&o.ask.Weight, "weight", 1, "weight it would have as an order")
	f.StringVar(&o.now, "now", "", "instant of the question, RFC 3339 or local to the plant")
	f.StringVar(&o.plan, "plan", "", "present plan, as written by towpath plan --out")
	o.search.flags(c, 5*time.Second)
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

// promiseReport is the JSON of towpath promise.
type promiseReport struct {
	*promise.Answer
	PlannedMS  int64 `json:"planned_ms"`  // making the present plan; 0: it was given
	AnsweredMS int64 `json:"answered_ms"` // fitting the order in, verified
	DeepenedMS int64 `json:"deepened_ms"` // playing it and looking for alternatives; 0: --quick
	Whole      bool  `json:"whole"`       // false: interrupted, or --quick
}

func runPromise(c *cobra.Command, o *promiseOptions) error {
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
	var ok bool
	if o.ask.Wish, ok = o.in.plant.ReadShipBy(o.wish); !ok {
		return usage("", "--wish %q cannot be read as a date; allowed: %s", o.wish, resources.ShipByForms)
	}
	if skipped := o.in.plant.SkippedTime(o.wish); skipped != "" {
		return usage("ask for a time that they show", "--wish %q: %s", o.wish, skipped)
	}
	state, err := scheduler.StateOf(o.in.plant, o.in.lines)
	if err != nil {
		return trouble("", "%v", err)
	}
	if err := checkAsk(o.ask, state, now); err != nil {
		return err
	}
	var out promiseReport
	began := time.Now()
	if err := o.present(c.Context(), state, now, budget); err != nil {
		return err
	}
	if o.plan == "" {
		out.PlannedMS = time.Since(began).Milliseconds()
	}
	began = time.Now()
	b, err := promise.Begin(state, now)
	if err != nil {
		return impossible(err)
	}
	if out.Answer, err = b.Answer(o.ask); err != nil {
		var short *promise.Short
		if errors.As(err, &short) {
			return trouble(short.Hint(), "%v", err)
		}
		return impossible(err)
	}
	out.AnsweredMS = time.Since(began).Milliseconds()
	if !o.quick {
		if err := out.deepen(c.Context(), budget); err != nil {
			return impossible(err)
		}
	}
	if o.json {
		return writeJSON(c.OutOrStdout(), out)
	}
	return printPromise(c.OutOrStdout(), o.in.plant, &out)
}

// deepen takes the second look; an interrupt ends it.
func (r *promiseReport) deepen(ctx context.Context, how runner.Budget) error {
	began := time.Now()
	next, err := runner.Deepen(ctx, r.Answer, runner.Depth{Seed: how.Seed, Workers: how.Workers, Otherwise: true, Iterations: how.Iterations}, nil)
	if err != nil && ctx.Err() == nil {
		return err
	}
	r.Answer, r.Whole, r.DeepenedMS = next, err == nil, time.Since(began).Milliseconds()
	return nil
}

// checkAsk says everything wrong with a question, a line each.
func checkAsk(ask promise.Ask, s *scheduler.State, now scheduler.Tick) error {
	ask.Fill()
	var fault *promise.Fault
	if err := ask.Check(s, now); errors.As(err, &fault) {
		var text []string
		for _, f := range fault.Findings {
			line := fmt.Sprintf("--%s: %s; found %q; allowed: %s", f.Field, f.Text, f.Found, f.Allowed)
			if f.Hint != "" {
				line += "; " + f.Hint
			}
			text = append(text, line)
		}
		return usage("nothing was computed", "%s", strings.Join(text, "\n"))
	}
	return nil
}

// present puts the present plan into the state as the published one.
func (o *promiseOptions) present(ctx context.Context, s *scheduler.State, now scheduler.Tick, budget runner.Budget) error {
	if o.plan != "" {
		var err error
		s.Plan, err = readPlan(o.plan)
		return err
	}
	problem, err := scheduler.Compile(s, now)
	if err != nil {
		return impossible(err)
	}
	found, err := runner.Plan(ctx, problem, nil, budget)
	if err != nil {
		return impossible(err)
	}
	s.Plan = found.Plan
	return nil
}
