// SPDX-License-Identifier: Apache-2.0

package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/relax"
	"towpath/scheduler/runner"
)

type explainOptions struct {
	in      inputs
	order   string
	plan    string
	now     string
	budget  time.Duration
	effort  relax.Effort
	workers int
	json    bool
}

func newExplain() *cobra.Command {
	var o explainOptions
	c := &cobra.Command{
		Use:   "explain --plant FILE --orders FILE [--order O] [--plan FILE] [--budget 30s] [--seed N] [--now T] [--json]",
		Short: "Say why orders are late or lost, and the cheapest changes that would save them",
		Long: `explain takes each order that the plan has late or lost, or the one of --order:
it prints the chain of work its date hangs on, with what every step waited for,
and then the changes that would save it, found by solving the shop with each:
another order of work, starting earlier, an extra shift, one more person, one
more mandrel or fixture, one more place or station, and two of these together
where one is not enough. Changes are tried where the chain has waited longest.

What saves the order comes first; of that, what costs no other order its date,
asks for fewest things and for fewest people's hours. Every plan behind an
answer has passed the verifier. What is not found may exist all the same.

The plan is the one of --plan, else one made in the first quarter of --budget.
--budget 0 prints the chains alone. When the time is over, or at an interrupt,
what was solved until then is printed, with how much was left.`,
		Example: `  towpath explain --plant plant.yaml --orders orders.csv
  towpath plan --plant plant.yaml --orders orders.csv --out plan.json
  towpath explain --plant plant.yaml --orders orders.csv --plan plan.json --order 1007 --budget 60s --json`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "orders"); err != nil {
				return err
			}
			return runExplain(c, &o)
		},
	}
	o.in.flags(c)
	f := c.Flags()
	f.StringVar(&o.order, "order", "", "only this order")
	f.StringVar(&o.plan, "plan", "", "plan in question, as written by towpath plan --out")
	f.StringVar(&o.now, "now", "", "instant of the question, RFC 3339 or local to the plant")
	f.DurationVar(&o.budget, "budget", 30*time.Second, "time for all of it; 0: the chains alone")
	f.Int64Var(&o.effort.Iterations, "iterations", relax.DefaultIterations, "iterations of the search behind each change")
	f.Uint64Var(&o.effort.Seed, "seed", 1, "seed of the searches")
	f.IntVar(&o.workers, "workers", 0, "changes solved side by side (default: one per core); the answers are the same")
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

// explainReport is the JSON of towpath explain.
type explainReport struct {
	Now       resources.Tick  `json:"now"`
	Troubled  int             `json:"troubled"` // orders late or lost in the plan
	Orders    []*relax.Answer `json:"orders"`
	Whole     bool            `json:"whole"` // everything worth trying was tried
	ElapsedMS int64           `json:"elapsed_ms"`
}

func runExplain(c *cobra.Command, o *explainOptions) error {
	if o.budget < 0 || o.effort.Iterations < 1 || o.workers < 0 {
		return usage("", "--budget and --workers must not be negative, --iterations at least 1")
	}
	if err := o.in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	o.workers = cmp.Or(o.workers, runtime.GOMAXPROCS(0))
	began := time.Now()
	state, now, plan, err := o.situation(c.Context())
	if err != nil {
		return err
	}
	list, troubled, err := o.wanted(state, plan)
	if err != nil {
		return err
	}
	out := explainReport{Now: now, Troubled: troubled, Orders: []*relax.Answer{}, Whole: true}
	end := began.Add(o.budget)
	for i, id := range list {
		// What is left of the time is shared out evenly.
		ctx, cancel := context.WithTimeout(c.Context(), max(0, time.Until(end))/time.Duration(len(list)-i))
		a, err := runner.Relax(ctx, state, now, plan, id, o.effort, o.workers, nil)
		cancel()
		stopped := errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled)
		if err != nil && (!stopped || a == nil) {
			return trouble("", "order %s: %v", id, err)
		}
		out.Whole = out.Whole && !stopped
		out.Orders = append(out.Orders, a)
	}
	out.ElapsedMS = time.Since(began).Milliseconds()
	if o.json {
		return writeJSON(c.OutOrStdout(), out)
	}
	return printExplain(c.OutOrStdout(), &out, o.in.plant, o.budget > 0)
}

// situation is the state with the plan in question.
func (o *explainOptions) situation(ctx context.Context) (*scheduler.State, resources.Tick, *scheduler.Plan, error) {
	if o.plan != "" {
		r := riskOptions{in: o.in, plan: o.plan, now: o.now}
		return r.situation()
	}
	now, err := nowOf(o.now, o.in.plant)
	if err != nil {
		return nil, 0, nil, err
	}
	state, err := scheduler.StateOf(o.in.plant, o.in.lines)
	if err != nil {
		return nil, 0, nil, trouble("", "%v", err)
	}
	problem, err := scheduler.Compile(state, now)
	if err != nil {
		return nil, 0, nil, impossible(err)
	}
	found, err := runner.Plan(ctx, problem, nil, runner.Budget{Time: o.budget / 4, Seed: o.effort.Seed, Workers: o.workers})
	if err != nil {
		return nil, 0, nil, impossible(err)
	}
	if broken := scheduler.Check(state, now, found.Plan); len(broken) > 0 {
		return nil, 0, nil, trouble("this is a fault of the program, please report it with the files and the seed", "the plan fails verification: %s", broken[0])
	}
	return state, now, found.Plan, nil
}

// wanted lists the orders to explain, and how many are in trouble.
func (o *explainOptions) wanted(s *scheduler.State, plan *scheduler.Plan) ([]string, int, error) {
	var list []string
	for _, x := range relax.Troubled(s, plan) {
		list = append(list, x.Order)
	}
	if o.order == "" {
		return list, len(list), nil
	}
	if slices.Contains(list, o.order) {
		return []string{o.order}, len(list), nil
	}
	known := slices.ContainsFunc(scheduler.MeasureOrders(s, plan), func(x scheduler.OrderScore) bool { return x.Order == o.order })
	if !known {
		return nil, 0, usage("", "--order %q is in no line of the orders file", o.order)
	}
	return nil, len(list), nil
}

func printExplain(out io.Writer, r *explainReport, plant *resources.Plant, tried bool) error {
	w := &lines{out: out}
	w.add("%s, explained for %s", cmp.Or(plant.Name, plant.ID), moment(r.Now, plant.Zone))
	if len(r.Orders) == 0 {
		w.add("")
		w.add("no order to explain: %s late or lost in this plan", plural(r.Troubled, "order"))
	}
	for _, a := range r.Orders {
		w.add("")
		w.order(a, plant.Zone, tried)
	}
	w.add("")
	w.add("verified; %.1f s", float64(r.ElapsedMS)/1000)
	return w.err
}

// shownRelaxations is how many changes are printed; the JSON has all.
const shownRelaxations = 8

// order writes one order: why, and what would save it.
func (w *lines) order(a *relax.Answer, zone *time.Location, tried bool) {
	what := "late"
	if a.Lost {
		what = "lost"
	}
	w.add("order %s is %s: due %s, complete %s, %s after it", a.Order, what, moment(a.Due, zone), moment(a.Completion, zone), resources.Spell(resources.Seconds(a.Completion-a.Due)))
	w.add("  the chain its date hangs on:")
	for i := range a.Chain {
		l := &a.Chain[i]
		why := l.Because
		if l.Waited > 60 && l.Kind != scheduler.CauseWait {
			why = resources.Spell(l.Waited) + ": " + why
		}
		w.add("    %s  %-14s %-12s on %-9s %s", moment(l.Start, zone), l.Piece, l.Operation, l.Station, why)
	}
	if !tried {
		return
	}
	saving := a.Saving()
	if len(saving) == 0 {
		w.add("  nothing tried saves it; what helps most:")
	} else {
		w.add("  what would save it, the cheapest first:")
	}
	list := a.Relaxations
	if len(saving) > 0 {
		list = saving
	}
	for i := range list[:min(len(list), shownRelaxations)] {
		w.relaxation(&list[i])
	}
	if len(list) > shownRelaxations {
		w.add("    and %d more, in --json", len(list)-shownRelaxations)
	}
	if a.Tried < a.Asked {
		w.add("  %d of %d changes solved; a longer --budget solves more", a.Tried, a.Asked)
	}
}

func (w *lines) relaxation(r *relax.Relaxation) {
	asks := []string{}
	if r.Things > 0 {
		asks = append(asks, plural(r.Things, "thing")+" to buy or borrow")
	}
	if r.Hours > 0 {
		asks = append(asks, fmt.Sprintf("%.0f person-hours", r.Hours))
	}
	if len(asks) == 0 {
		asks = append(asks, "asks for nothing")
	}
	effect := resources.Spell(r.Slack) + " to spare"
	switch {
	case r.Slack < 0 && r.Earlier > 0:
		effect = resources.Spell(r.Earlier) + " sooner, still " + resources.Spell(-r.Slack) + " late"
	case r.Slack < 0:
		effect = "no sooner"
	}
	w.add("    %s: %s; %s", r.Words, strings.Join(asks, ", "), effect)
	if len(r.Hurt) > 0 {
		w.add("      at the cost of %s", strings.Join(r.Hurt, ", "))
	}
	if len(r.Helped) > 0 {
		w.add("      saves %s too", strings.Join(r.Helped, ", "))
	}
}
