// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

type riskOptions struct {
	in      inputs
	plan    string
	now     string
	play    risk.Options
	workers int
	json    bool
}

func newRisk() *cobra.Command {
	var o riskOptions
	c := &cobra.Command{
		Use:   "risk --plant FILE --orders FILE [--plan FILE] [--replications N] [--seed N] [--now T] [--json]",
		Short: "Play a plan forward under random times and say what becomes of each date",
		Long: `risk plays the plan many times with times that vary, stations that break down,
people who are absent and pieces that fail, as the plant file has them. The plan's
loads and the order of work stay; people react by plain rules, e.g. how long a load
waits for a late tube. For each order it prints when it is complete in half, in
80 % and in 95 % of the histories, the chance to make its date with the interval
of that chance (Wilson's score), and what most often made it late.

The same seed gives every plan the same luck, so two plans can be compared.
--width stops when no interval is wider. An interrupt ends it and prints what was
played until then.

Without --plan a quick plan is made. Without --now it is played from the instant the
plan was made for, or, without a plan, from where the plant file says its clock begins.`,
		Example: `  towpath risk --plant plant.yaml --orders orders.csv
  towpath risk --plant plant.yaml --orders orders.csv --plan plan.json --replications 4000 --json
  towpath risk --plant plant.yaml --orders orders.csv --plan other.json --seed 7 --width 0.05`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "orders"); err != nil {
				return err
			}
			return runRisk(c, &o)
		},
	}
	o.in.flags(c)
	f := c.Flags()
	f.StringVar(&o.plan, "plan", "", "plan file, as written by towpath plan --out")
	f.StringVar(&o.now, "now", "", "instant to play from, RFC 3339 or local to the plant")
	f.IntVar(&o.play.Replications, "replications", risk.DefaultReplications, "histories to play at most")
	f.Uint64Var(&o.play.Seed, "seed", 1, "seed of the histories")
	f.Float64Var(&o.play.Confidence, "confidence", risk.DefaultConfidence, "of the interval of each chance, between 0 and 1")
	f.Float64Var(&o.play.Width, "width", 0, "stop when no interval is wider, e.g. 0.05; 0: play them all")
	f.IntVar(&o.workers, "workers", 0, "histories played side by side (default: one per core); the answer is the same")
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

// riskReport is the JSON of towpath risk.
type riskReport struct {
	*risk.Report
	Pieces    int   `json:"pieces"`
	Asked     int   `json:"asked"` // replications
	ElapsedMS int64 `json:"elapsed_ms"`
}

func runRisk(c *cobra.Command, o *riskOptions) error {
	if o.workers < 0 || o.play.Replications == 0 || o.play.Confidence == 0 {
		return usage("", "--workers must not be negative, --replications at least 1, --confidence more than 0")
	}
	if err := o.play.Check(); err != nil {
		return usage("", "%v", err)
	}
	if err := o.in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	state, now, plan, err := o.situation()
	if err != nil {
		return err
	}
	g, err := risk.Compile(state, now, plan)
	if err != nil {
		return impossible(err)
	}
	workers := o.workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	began := time.Now()
	next := began.Add(2 * time.Second)
	report, _, err := runner.Risk(c.Context(), g, o.play, runner.Hands{Cores: workers}, func(done, most int) {
		if t := time.Now(); t.After(next) && done < most {
			next = t.Add(2 * time.Second)
			fmt.Fprintf(c.ErrOrStderr(), "%d of %d histories, %.1f s\n", done, most, t.Sub(began).Seconds())
		}
	})
	stopped := errors.Is(err, context.Canceled)
	if err != nil && (!stopped || report == nil) {
		return trouble("", "risk: %v", err)
	}
	out := riskReport{Report: report, Pieces: len(state.Pieces), Asked: o.play.Replications, ElapsedMS: time.Since(began).Milliseconds()}
	if o.json {
		err = writeJSON(c.OutOrStdout(), out)
	} else {
		err = printRisk(c.OutOrStdout(), &out, o.in.plant.Zone)
	}
	if err == nil && stopped {
		return trouble("", "stopped before all was played")
	}
	return err
}

// situation is the state, the plan to play, and when.
func (o *riskOptions) situation() (*scheduler.State, resources.Tick, *scheduler.Plan, error) {
	state, err := scheduler.StateOf(o.in.plant, o.in.lines)
	if err != nil {
		return nil, 0, nil, trouble("", "%v", err)
	}
	if o.plan == "" {
		now, err := nowOf(o.now, o.in.plant)
		if err != nil {
			return nil, 0, nil, err
		}
		problem, err := scheduler.Compile(state, now)
		if err != nil {
			return nil, 0, nil, impossible(err)
		}
		plan, err := search.Construct(problem)
		if err != nil {
			return nil, 0, nil, impossible(err)
		}
		return state, now, plan, nil
	}
	plan, err := readPlan(o.plan)
	if err != nil {
		return nil, 0, nil, err
	}
	now := plan.Made
	if o.now != "" {
		if now, err = parseMoment("now", o.now, o.in.plant.Zone); err != nil {
			return nil, 0, nil, err
		}
	}
	if broken := scheduler.Check(state, now, plan); len(broken) > 0 {
		return nil, 0, nil, trouble("towpath verify lists them all; make a new plan with towpath plan --out",
			"%s does not fit plant and orders at that instant: %s, the first: %s", o.plan, plural(len(broken), "violation"), broken[0].String())
	}
	return state, now, plan, nil
}

func printRisk(out io.Writer, r *riskReport, zone *time.Location) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "order\tdue\tplanned\thalf by\t80 %% by\t95 %% by\tchance\t%.0f %% interval\tmost often late because\n", 100*r.Confidence)
	at := func(t resources.Tick) string {
		if t == 0 {
			return "nobody can say"
		}
		return time.Unix(int64(t), 0).In(zone).Format("2 Jan 15:04")
	}
	for _, x := range r.Orders {
		if x.Waiting {
			fmt.Fprintf(w, "%s\t%s\twaits for a piece that is held, missing or lacks a material\n", x.Order, at(x.Due))
			continue
		}
		why := "-"
		if len(x.Causes) > 0 {
			why = fmt.Sprintf("%s (%.0f %%)", x.Causes[0].Text, 100*x.Causes[0].Share)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%.1f %%\t%.1f to %.1f %%\t%s\n",
			x.Order, at(x.Due), at(x.Planned), at(x.P50), at(x.P80), at(x.P95), 100*x.Chance, 100*x.Low, 100*x.High, why)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "\n%d histories of %s, seed %d, %.2f s; every date made in %.1f %% of them, %.2f event orders lost on average\n",
		r.Replications, plural(r.Pieces, "piece"), r.Seed, float64(r.ElapsedMS)/1000, 100*r.AllMade, r.Lost)
	if err == nil && r.Breaches > 0 {
		_, err = fmt.Fprintf(out, "maximum waits overrun in a history, on average: %.1f; such pieces are counted and go on\n", r.Breaches)
	}
	return err
}
