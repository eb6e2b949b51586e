// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/whatif"
)

// whatifHistories are enough to see a chance change by a few in a hundred.
const whatifHistories = 400

// maxChangesFile is far more than a set of changes can have.
const maxChangesFile = 2 << 20

type whatifOptions struct {
	in      inputs
	changes string
	plan    string
	now     string
	search  searchFlags
	play    risk.Options
	json    bool
}

func newWhatIf() *cobra.Command {
	var o whatifOptions
	c := &cobra.Command{
		Use:   "whatif --plant FILE --orders FILE --changes FILE [--plan FILE] [--budget 10s] [--now T] [--json]",
		Short: "Plan the shop with a set of changes and say what they would do to each date",
		Long: `whatif makes a set of changes on a copy of the shop: orders added, changed or
dropped, more or fewer stations, people and tools, a station down, people away,
an extra shift, other run times, yields, recipes and calendars. It plans the shop
as it is and as it would be, verifies both plans, and prints which orders would
be won and which lost, which dates move and by how much, what it takes in
people's hours, oven loads and resin, what the floor would find changed, and how
each order's chance to make its date would change, as towpath risk plays it, on
the same luck for both. Nothing else is touched.

The answer is there when --budget is over. Its first half goes to the shop as it
is, from --plan or a first plan; in the second both are searched side by side
from what was found, with the same seed and for as long, so that what differs
comes from the changes, and then played: --replications histories of each, or as
many as there is time for, 100 at least. An interrupt ends the search and prints
the comparison of the best plans until then.

The format of the file is in the page on plant and order files. Every mistake in
it is told at once, with its line.`,
		Example: `  towpath whatif --plant plant.yaml --orders orders.csv --changes rush-order.yaml
  towpath plan --plant plant.yaml --orders orders.csv --out plan.json
  towpath whatif --plant plant.yaml --orders orders.csv --plan plan.json --changes oven-down.yaml --budget 30s --json`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "orders", "changes"); err != nil {
				return err
			}
			return runWhatIf(c, &o)
		},
	}
	o.in.flags(c)
	c.Flags().StringVar(&o.changes, "changes", "", "set of changes (YAML)")
	c.Flags().StringVar(&o.plan, "plan", "", "plan people follow now, as written by towpath plan --out")
	c.Flags().StringVar(&o.now, "now", "", "instant of the question, RFC 3339 or local to the plant")
	o.search.flags(c, 10*time.Second)
	c.Flags().IntVar(&o.play.Replications, "replications", whatifHistories, "histories to play of each plan for the chances, at most; 0: none")
	c.Flags().BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

// whatifReport is the JSON of towpath whatif.
type whatifReport struct {
	*whatif.Comparison
	Verified  bool  `json:"verified"`
	Whole     bool  `json:"whole"` // false: interrupted
	ElapsedMS int64 `json:"elapsed_ms"`
}

func runWhatIf(c *cobra.Command, o *whatifOptions) error {
	budget, err := o.search.budget(c)
	if err != nil {
		return err
	}
	o.play.Seed = budget.Seed
	if o.play.Replications != 0 {
		if err := o.play.Or().Check(); err != nil {
			return usage("", "%v", err)
		}
	}
	if err := o.in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	began := time.Now()
	q, from, err := o.question(c.ErrOrStderr())
	if err != nil {
		return err
	}
	stop := waiting(c.ErrOrStderr(), budget.Time)
	budget.Time = max(budget.Time/2, budget.Time-time.Since(began)) // the answer is there when it is over
	var play *runner.Playing
	if o.play.Replications > 0 {
		play = &runner.Playing{Options: o.play, Workers: runtime.GOMAXPROCS(0)}
	}
	tried, err := runner.WhatIf(c.Context(), q, from, budget, play)
	stop()
	stopped := errors.Is(err, context.Canceled)
	switch {
	case err != nil && tried == nil:
		return impossible(err)
	case err != nil && !stopped:
		return trouble("--replications 0 compares without the chances", "risk: %v", err)
	}
	out := whatifReport{Comparison: tried.Comparison, Verified: true, Whole: !stopped, ElapsedMS: time.Since(began).Milliseconds()}
	if o.json {
		err = writeJSON(c.OutOrStdout(), out)
	} else {
		err = printWhatIf(c.OutOrStdout(), o.in.plant, &out)
	}
	if err == nil && stopped {
		return trouble("", "stopped before the budget was spent")
	}
	return err
}

// question reads the changes and makes them on a copy.
func (o *whatifOptions) question(errs io.Writer) (*whatif.Question, *scheduler.Plan, error) {
	state, err := scheduler.StateOf(o.in.plant, o.in.lines)
	if err != nil {
		return nil, nil, trouble("", "%v", err)
	}
	var from *scheduler.Plan
	if o.plan != "" {
		if from, err = readPlan(o.plan); err != nil {
			return nil, nil, err
		}
		state.Plan = from
	}
	now, err := o.instant(from)
	if err != nil {
		return nil, nil, err
	}
	if from != nil {
		if broken := scheduler.Check(state, now, from); len(broken) > 0 {
			return nil, nil, trouble("towpath verify lists them all; make a new plan with towpath plan --out",
				"%s does not fit plant and orders at that instant: %s, the first: %s", o.plan, plural(len(broken), "violation"), broken[0].String())
		}
	}
	text, err := readFile(o.changes, maxChangesFile)
	if err != nil {
		return nil, nil, err
	}
	set, found := resources.ReadChanges(o.changes, text, o.in.plant, whatif.Lines(state), now)
	failed := 0
	for _, f := range found {
		fmt.Fprintln(errs, f.String())
		if f.Severity == resources.Error {
			failed++
		}
	}
	if failed > 0 {
		return nil, nil, trouble("the page on plant and order files says what a change may be", "%s in the changes; nothing was done", plural(failed, "error"))
	}
	q, err := whatif.Ask(state, now, set)
	if err != nil {
		return nil, nil, impossible(err)
	}
	return q, from, nil
}

// instant is that of the question: as given, else that of the plan.
func (o *whatifOptions) instant(from *scheduler.Plan) (resources.Tick, error) {
	if o.now == "" && from != nil {
		return from.Made, nil
	}
	return nowOf(o.now, o.in.plant)
}

// waiting tells every two seconds how much of the time is over, until it is
// stopped.
func waiting(errs io.Writer, budget time.Duration) (stop func()) {
	return every(2*time.Second, func(spent time.Duration) {
		if budget > 0 {
			fmt.Fprintf(errs, "searching, %.0f of %.0f s\n", min(spent, budget).Seconds(), budget.Seconds())
		} else {
			fmt.Fprintf(errs, "searching, %.0f s\n", spent.Seconds())
		}
	})
}
