// SPDX-License-Identifier: Apache-2.0

package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler/soak/live"
	"towpath/testdata/demo"
)

type soakOptions struct {
	in   inputs
	days int
	seed uint64
	json bool
}

// mostDays of a trial: a year.
const mostDays = 366

func newSoak() *cobra.Command {
	var o soakOptions
	c := &cobra.Command{
		Use:   "soak [--days 30] [--seed N] [--plant FILE --orders FILE] [--json]",
		Short: "Try the whole program for a simulated month and account for every fact",
		Long: `soak has an invented floor work by the plan for so many days, with 5 % bad tests,
breakdowns, people who are away, and people who report late, twice, in another order,
or with a wrong serial that is taken back later, while the office changes the plant every
third day. All goes over the real message bus
and the real store, in a temporary folder. The shop's clock is moved in steps, as fast
as the planner allows, so that what happens depends on the seed.

Without --plant and --orders the demo's season is taken. Orders come in two to three
weeks before their date; when the file has no more it comes again, with later dates
and new numbers. There is ten times as much of every material in stock as the plant
file says, since nobody buys more when pieces have to be made again.

Then everything that was really done is held against what the shop believes: nothing
lost, nothing counted twice; the state equal to a replay of the log and to a small
model kept apart; every published plan verified again; and every change of a station's
next job with an event that explains it. The exit code is 1 when one of these fails.

An interrupt ends the month early; the account is then of what was done until then.`,
		Example: `  towpath soak --days 30 --seed 1 --json
  towpath soak --days 3 --seed 7
  towpath soak --plant plant.yaml --orders orders.csv --days 10`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runSoak(c, &o) },
	}
	o.in.flags(c)
	f := c.Flags()
	f.IntVar(&o.days, "days", 30, "days of the shop")
	f.Uint64Var(&o.seed, "seed", 1, "seed of everything that is left to chance")
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

func runSoak(c *cobra.Command, o *soakOptions) error {
	if o.days < 1 || o.days > mostDays {
		return usage("", "--days must be from 1 to %d", mostDays)
	}
	if err := o.files(c.ErrOrStderr()); err != nil {
		return err
	}
	report, err := o.try(c)
	stopped := errors.Is(err, c.Context().Err()) && c.Context().Err() != nil
	if err != nil && !(stopped && report != nil) {
		return trouble("", "soak: %v", err)
	}
	if o.json {
		err = writeJSON(c.OutOrStdout(), report)
	} else {
		err = printSoak(c.OutOrStdout(), report)
	}
	switch {
	case err != nil:
		return err
	case !report.Sound():
		return findings()
	case stopped:
		return trouble("", "stopped before the end of the month")
	}
	return nil
}

// files reads what is asked for, or the demo.
func (o *soakOptions) files(errs io.Writer) error {
	if (o.in.plantPath == "") != (o.in.ordersPath == "") {
		return usage("leave both out to take the demo's season", "--plant and --orders go together")
	}
	if o.in.plantPath != "" {
		if err := o.in.read(errs); err != nil {
			return err
		}
	} else {
		o.in.plantText = demo.Plant
	}
	text := stockUp(o.in.plantText)
	plant, found := resources.ReadPlant("plant.yaml", text)
	if plant == nil {
		return trouble("", "the plant cannot be read: %v", found)
	}
	o.in.plant, o.in.plantText = plant, text
	if o.in.plantPath == "" {
		o.in.lines, _ = resources.ReadOrders("orders.csv", demo.Orders, plant)
	}
	return nil
}

var stockLine = regexp.MustCompile(`(?m)^(\s+stock:\s+)(\d+)\b`)

// stockUp has ten times as much of every material in stock. Buying more when
// pieces have to be made again is no part of the trial, and a shop whose
// material is used up cannot be planned.
func stockUp(plant []byte) []byte { return stockLine.ReplaceAll(plant, []byte("${1}${2}0")) }

// try runs the trial in a temporary folder.
func (o *soakOptions) try(c *cobra.Command) (*live.Report, error) {
	dir, err := os.MkdirTemp("", "towpath-soak-")
	if err != nil {
		return nil, err
	}
	defer func() { _ = os.RemoveAll(dir) }()
	began := time.Now()
	return soakIn(c.Context(), dir, live.Options{
		Plant: o.in.plant, PlantFile: string(o.in.plantText), Orders: o.in.lines, Days: o.days, Seed: o.seed,
		Progress: func(day int, r *live.Report) {
			fmt.Fprintf(c.ErrOrStderr(), "day %d of %d: %d deeds, %d corrected, %.0f s\n", day, o.days, r.Deeds, r.Corrected, time.Since(began).Seconds())
		},
	})
}
