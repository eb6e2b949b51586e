// SPDX-License-Identifier: Apache-2.0

package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
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
	json   bool
}

func newPromise() *cobra.Command {
	var o promiseOptions
	c := &cobra.Command{
		Use:   "promise --plant FILE --orders FILE --product P --quantity N --wish DATE [--now T] [--json]",
		Short: "Say when an order that is asked for could leave without breaking a promised date",
		Long: `promise fits an order that is only asked for into a plan of the orders there are,
and says the earliest shipment that makes no other order miss its date; one that
is late already does not become later. The plan is the one of --plan, else a new
one made within --budget. What is answered has passed the verifier.

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
		return impossible(err)
	}
	out.AnsweredMS = time.Since(began).Milliseconds()
	if o.json {
		return writeJSON(c.OutOrStdout(), out)
	}
	return printPromise(c.OutOrStdout(), o.in.plant, &out)
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

// shownMoved is how many moved orders are printed; the JSON has all.
const shownMoved = 12

// printPromise writes the answer for people.
func printPromise(out io.Writer, plant *resources.Plant, r *promiseReport) error {
	w, zone := &lines{out: out}, plant.Zone
	w.add("%s, asked %s", cmp.Or(plant.Name, plant.ID), moment(r.Now, zone))
	w.add("%d × %s, wished by %s (last carrier %s)", r.Ask.Quantity, r.Ask.Product, moment(r.Ask.Wish, zone), moment(r.WishDue, zone))
	if r.Pieces > r.Ask.Quantity {
		w.add("%s in work for it, with tubes, samples and spares", plural(r.Pieces, "piece"))
	}
	w.add("")
	verdict := "in time for the wish"
	if !r.Meets {
		verdict = "NOT in time for the wish"
	}
	w.add("  earliest shipment   %s   %s", moment(r.Earliest.Ship, zone), verdict)
	w.add("  all packed          %s   %.1f h before the carrier", moment(r.Earliest.Ready, zone), float64(r.Earliest.Slack)/3600)
	w.add("")
	if len(r.Moved) == 0 {
		w.add("no other order is complete at another time")
	} else {
		w.add("%s complete at another time, none beyond its date:", plural(len(r.Moved), "order line"))
	}
	for _, m := range r.Moved[:min(len(r.Moved), shownMoved)] {
		w.add("  %-10s %s instead of %s, due %s", m.Order+"/"+m.Line, moment(m.Will, zone), moment(m.Was, zone), moment(m.Due, zone))
	}
	if n := len(r.Moved) - shownMoved; n > 0 {
		w.add("  and %d more; --json has all", n)
	}
	w.add("verified; present plan made in %.1f s, answered in %d ms; nothing is reserved", float64(r.PlannedMS)/1000, r.AnsweredMS)
	return w.err
}
