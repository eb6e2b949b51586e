// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/resources/xlsx"
	"towpath/scheduler"
	"towpath/scheduler/capacity"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

type capacityOptions struct {
	in         inputs
	now        string
	weeks      int
	plan       string
	worth      int
	of         []string
	iterations int64
	seed       uint64
	workers    int
	csv, xlsx  string
	json       bool
}

func newCapacity() *cobra.Command {
	var o capacityOptions
	c := &cobra.Command{
		Use:   "capacity --plant FILE --orders FILE [--forecast FILE] [--weeks N] [--now T] [--worth N] [--json]",
		Short: "Set a season's work against the shop's hours, week by week",
		Long: `capacity counts the work that open orders and a season forecast ask of every
station, crew, skill, tool pool and cure recipe, week by week, against the hours
that are there; it names the bottleneck of each week, what waiting to expect, and
until when an order for a race weekend is safely taken.

--worth N solves the shop with one more of each of the N most loaded things (a
person, a Saturday shift, a mandrel, a fixture, an oven, …) and without, and ranks
them by the orders and the tardiness they save. --of names things to try instead,
as the list of --worth has them, e.g. --of tool:M-36 --of shift:bonders. It shows
its progress; an interrupt ends it and prints what is solved so far.

Without --plan a quick plan is made to put beside the numbers. Without --now it is
computed for the instant at which the plant file says its clock begins.`,
		Example: `  towpath capacity --plant plant.yaml --orders orders.csv --forecast forecast.csv
  towpath capacity --plant plant.yaml --orders orders.csv --forecast season.xlsx --weeks 52 --xlsx capacity.xlsx
  towpath capacity --plant plant.yaml --orders orders.csv --forecast forecast.csv --worth 20`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "orders"); err != nil {
				return err
			}
			if c.Flags().Changed("weeks") && (o.weeks < 1 || o.weeks > capacity.MaxWeeks) {
				return usage("", "--weeks %d: allowed are 1 to %d", o.weeks, capacity.MaxWeeks)
			}
			return runCapacity(c, &o)
		},
	}
	o.in.flags(c)
	f := c.Flags()
	f.StringVar(&o.in.forecastPath, "forecast", "", "season forecast (CSV or XLSX), by product and week")
	f.StringVar(&o.now, "now", "", "instant to compute for, RFC 3339 or local to the plant")
	f.IntVar(&o.weeks, "weeks", 0, "weeks to look at, 1 to 52 (default: as far as orders and forecast reach)")
	f.StringVar(&o.plan, "plan", "", "plan file to put beside the numbers, as written by towpath plan --out")
	f.IntVar(&o.worth, "worth", 0, "solve the shop with one more of each of so many things")
	f.StringArrayVar(&o.of, "of", nil, "a thing to solve with one more of; may be given again")
	f.Int64Var(&o.iterations, "iterations", capacity.DefaultIterations, "iterations of each search of --worth")
	f.Uint64Var(&o.seed, "seed", 1, "seed of the searches of --worth")
	f.IntVar(&o.workers, "workers", 0, "searches of --worth side by side (default: one per core)")
	f.StringVar(&o.csv, "csv", "", "write the hours by resource and week to this file")
	f.StringVar(&o.xlsx, "xlsx", "", "write all tables to this workbook")
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

// capacityReport is the JSON of towpath capacity.
type capacityReport struct {
	*capacity.Report
	ElapsedMS int64        `json:"elapsed_ms"` // of the report alone
	Worth     *worthReport `json:"worth,omitempty"`
}

// worthReport is what additions are worth.
type worthReport struct {
	Base       capacity.Standing `json:"base"`
	Pieces     int               `json:"pieces"`
	Iterations int64             `json:"iterations"`
	Seed       uint64            `json:"seed"`
	Asked      int               `json:"asked"`
	Additions  []capacity.Worth  `json:"additions"`
	ElapsedMS  int64             `json:"elapsed_ms"`
}

func runCapacity(c *cobra.Command, o *capacityOptions) error {
	if o.worth < 0 || o.iterations < 1 || o.workers < 0 {
		return usage("", "--worth and --workers must not be negative, --iterations at least 1")
	}
	if err := o.in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	in, err := o.input()
	if err != nil {
		return err
	}
	for _, f := range weeksElsewhere(&o.in, in.Now) {
		fmt.Fprintln(c.ErrOrStderr(), f.String())
	}
	began := time.Now()
	report, err := capacity.Of(in)
	if err != nil {
		return trouble("", "%v", err)
	}
	out := capacityReport{Report: report, ElapsedMS: time.Since(began).Milliseconds()}
	stopped := false
	if o.worth > 0 || len(o.of) > 0 {
		out.Worth, err = o.solveWorth(c.Context(), c.ErrOrStderr(), in, report)
		if stopped = errors.Is(err, context.Canceled); err != nil && !stopped {
			return err
		}
	}
	if err := o.write(&out); err != nil {
		return err
	}
	if o.json {
		err = writeJSON(c.OutOrStdout(), out)
	} else {
		err = printCapacity(c.OutOrStdout(), o, &out)
	}
	if err == nil && stopped {
		return trouble("", "stopped before all was solved")
	}
	return err
}

// input is the state with a plan beside it: the one given, or a quick one.
func (o *capacityOptions) input() (capacity.Input, error) {
	now, err := nowOf(o.now, o.in.plant)
	if err != nil {
		return capacity.Input{}, err
	}
	state, err := scheduler.StateOf(o.in.plant, o.in.lines)
	if err != nil {
		return capacity.Input{}, trouble("", "%v", err)
	}
	in := capacity.Input{State: state, Now: now, Forecast: o.in.forecast, Weeks: o.weeks}
	if o.plan != "" {
		in.Plan, err = readPlan(o.plan)
		return in, err
	}
	problem, err := scheduler.Compile(state, now)
	if err != nil {
		return in, impossible(err)
	}
	if in.Plan, err = search.ByRule(problem, search.Weighted); errors.Is(err, scheduler.ErrNothingPossible) {
		in.Plan, err = search.Construct(problem)
	}
	if err != nil {
		return in, impossible(err)
	}
	return in, nil
}

// chosen is the additions to solve with.
func (o *capacityOptions) chosen(plant *resources.Plant, r *capacity.Report) ([]capacity.Addition, error) {
	all := capacity.Additions(plant, r)
	if len(o.of) == 0 {
		return all[:min(len(all), o.worth)], nil
	}
	var list []capacity.Addition
	for _, key := range o.of {
		a, ok := capacity.Named(all, key)
		if !ok {
			var keys []string
			for _, a := range all {
				keys = append(keys, a.Key)
			}
			return nil, usage("one of: "+strings.Join(keys, ", "), "--of %q: there is no such addition", key)
		}
		list = append(list, a)
	}
	return list, nil
}

func (o *capacityOptions) solveWorth(ctx context.Context, errs io.Writer, in capacity.Input, r *capacity.Report) (*worthReport, error) {
	list, err := o.chosen(in.State.Plant, r)
	if err != nil {
		return nil, err
	}
	workers := o.workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	began := time.Now()
	fmt.Fprintf(errs, "solving the shop as it is …\n")
	q, found, err := runner.WorthOf(ctx, in, capacity.Effort{Iterations: o.iterations, Seed: o.seed}, list, workers, func(_ *capacity.Question, soFar []capacity.Worth) {
		fmt.Fprintf(errs, "%d of %d solved, %.1f s\n", len(soFar), len(list), time.Since(began).Seconds())
	})
	w := &worthReport{Iterations: o.iterations, Seed: o.seed, Asked: len(list), Additions: found, ElapsedMS: time.Since(began).Milliseconds()}
	if q != nil {
		w.Base, w.Pieces = q.Base, q.Pieces
	}
	if err != nil && !errors.Is(err, context.Canceled) {
		return nil, impossible(err)
	}
	return w, err
}

// write writes the tables asked for.
func (o *capacityOptions) write(r *capacityReport) error {
	var worths []capacity.Worth
	if r.Worth != nil {
		worths = r.Worth.Additions
	}
	sheets := r.Sheets(worths)
	if o.csv != "" {
		if err := writeWhole(o.csv, csvOf(&sheets[0], o.in.plant.Zone)); err != nil {
			return err
		}
	}
	if o.xlsx != "" {
		text, err := xlsx.Write(sheets, o.in.plant.Zone)
		if err != nil {
			return trouble("", "%v", err)
		}
		return writeWhole(o.xlsx, text)
	}
	return nil
}

// csvOf writes a table as RFC 4180 has it.
func csvOf(s *resources.Sheet, zone *time.Location) []byte {
	var b strings.Builder
	w := csv.NewWriter(&b)
	for _, row := range s.Rows {
		cells := make([]string, len(row))
		for i, v := range row {
			switch x := v.(type) {
			case resources.Tick:
				if x != 0 {
					cells[i] = time.Unix(int64(x), 0).In(zone).Format(time.RFC3339)
				}
			default:
				cells[i] = fmt.Sprint(v)
			}
		}
		_ = w.Write(cells) // into memory: it cannot fail
	}
	w.Flush()
	return []byte(b.String())
}
