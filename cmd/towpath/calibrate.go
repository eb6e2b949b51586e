// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"slices"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
	"towpath/testdata/demo"
)

type calibrateOptions struct {
	in        inputs
	now       string
	histories int
	plans     int
	size      int
	play      risk.Options
	workers   int
	json      bool
}

// Limits of a calibration.
const (
	maxHistories = 1000000
	maxPlans     = 1000
)

func newCalibrate() *cobra.Command {
	var o calibrateOptions
	c := &cobra.Command{
		Use:   "calibrate [--histories N] [--seed N] [--plant FILE --orders FILE] [--json]",
		Short: "Hold the chances that risk states against what happens in simulated histories",
		Long: `calibrate asks whether what is called 90 % happens 90 % of the time. It picks orders
at random, several times, plans them, and states for each order, as towpath risk does,
by when it is complete with a chance of 50, 80, 90 and 95 %, and the chance to make
its date. Then it plays other histories, with luck of their own, and counts how often
that came true: one order of each history, so that the events are independent, with the
exact interval of their share (Clopper and Pearson 1934).

With the interval's default confidence of 95 %, about one line in twenty lies outside
by chance alone. The histories follow the same plant file and the same rules of the
floor as the forecast: whether the file's spreads are those of a real floor is not
what this shows.

Without --plant and --orders it takes the invented shop of towpath demo.`,
		Example: `  towpath calibrate --histories 2000 --seed 1
  towpath calibrate --histories 2000 --seed 1 --json
  towpath calibrate --plant plant.yaml --orders orders.csv --plans 10 --size 20`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runCalibrate(c, &o) },
	}
	o.in.flags(c)
	f := c.Flags()
	f.StringVar(&o.now, "now", "", "instant to plan and play from, RFC 3339 or local to the plant")
	f.IntVar(&o.histories, "histories", 2000, "histories that happen, in all")
	f.IntVar(&o.plans, "plans", 20, "plans forecast")
	f.IntVar(&o.size, "size", 10, "orders in each plan")
	f.IntVar(&o.play.Replications, "replications", risk.DefaultReplications, "histories behind each forecast")
	f.Uint64Var(&o.play.Seed, "seed", 1, "seed of the orders picked and of all histories")
	f.Float64Var(&o.play.Confidence, "confidence", risk.DefaultConfidence, "of the interval of each share, between 0 and 1")
	f.IntVar(&o.workers, "workers", 0, "histories played side by side (default: one per core); the answer is the same")
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	return c
}

// calibrateReport is the JSON of towpath calibrate.
type calibrateReport struct {
	Histories    int          `json:"histories"`
	Plans        int          `json:"plans"`
	Size         int          `json:"size"`         // orders in each plan
	Replications int          `json:"replications"` // behind each forecast
	Seed         uint64       `json:"seed"`
	Confidence   float64      `json:"confidence"` // of the intervals
	Levels       []risk.Level `json:"levels"`     // complete by the instant stated
	Dates        []risk.Level `json:"dates"`      // made its date, by bands of the chance stated
	ElapsedMS    int64        `json:"elapsed_ms"`
}

func (o *calibrateOptions) check() error {
	switch {
	case (o.in.plantPath == "") != (o.in.ordersPath == ""):
		return usage("without both it takes the invented shop of towpath demo", "--plant and --orders go together")
	case o.histories < 1 || o.histories > maxHistories:
		return usage("", "%d histories: allowed are 1 to %d", o.histories, maxHistories)
	case o.plans < 1 || o.plans > min(maxPlans, o.histories):
		return usage("", "%d plans: allowed are 1 to %d, and no more than histories", o.plans, maxPlans)
	case o.size < 1:
		return usage("", "%d orders in each plan: at least 1", o.size)
	case o.workers < 0 || o.play.Replications == 0 || o.play.Confidence == 0:
		return usage("", "--workers must not be negative, --replications at least 1, --confidence more than 0")
	}
	if err := o.play.Check(); err != nil {
		return usage("", "%v", err)
	}
	return nil
}

func runCalibrate(c *cobra.Command, o *calibrateOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	if o.in.plantPath == "" {
		plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
		lines, more := resources.ReadOrders("orders.csv", demo.Orders, plant)
		if plant == nil || len(lines) == 0 {
			return trouble("", "the invented shop: %v", append(found, more...))
		}
		o.in.plant, o.in.lines = plant, lines
	} else if err := o.in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	began := time.Now()
	programs, size, err := o.programs()
	if err != nil {
		return err
	}
	workers := o.workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	next := began.Add(2 * time.Second)
	found, err := runner.Calibrate(c.Context(), programs, o.histories, o.play, workers, func(done, most int) {
		if t := time.Now(); t.After(next) && done < most {
			next = t.Add(2 * time.Second)
			fmt.Fprintf(c.ErrOrStderr(), "%d of %s, %.1f s\n", done, plural(most, "plan"), t.Sub(began).Seconds())
		}
	})
	if err != nil {
		return trouble("", "calibrate: %v", err)
	}
	out := calibrateReport{
		Histories: o.histories, Plans: o.plans, Size: size, Replications: o.play.Replications, Seed: o.play.Seed, Confidence: o.play.Confidence,
		Levels: found.Levels(o.play.Confidence), Dates: found.Dates(o.play.Confidence), ElapsedMS: time.Since(began).Milliseconds(),
	}
	if o.json {
		return writeJSON(c.OutOrStdout(), out)
	}
	return printCalibration(c.OutOrStdout(), &out)
}

// programs are plans of orders picked at random, and how many orders each has.
func (o *calibrateOptions) programs() ([]*risk.Program, int, error) {
	now, err := nowOf(o.now, o.in.plant)
	if err != nil {
		return nil, 0, err
	}
	var names []string
	for i := range o.in.lines {
		if name := o.in.lines[i].Order; !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	size := min(o.size, len(names))
	rng := rand.New(rand.NewPCG(o.play.Seed, uint64(size)))
	var programs []*risk.Program
	for range o.plans {
		rng.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
		var lines []resources.OrderLine
		for _, l := range o.in.lines {
			if slices.Contains(names[:size], l.Order) {
				lines = append(lines, l)
			}
		}
		state, err := scheduler.StateOf(o.in.plant, lines)
		if err != nil {
			return nil, 0, trouble("", "%v", err)
		}
		problem, err := scheduler.Compile(state, now)
		if err != nil {
			return nil, 0, impossible(err)
		}
		plan, err := search.Construct(problem)
		if err != nil {
			return nil, 0, impossible(err)
		}
		if broken := scheduler.Check(state, now, plan); len(broken) > 0 {
			return nil, 0, trouble("", "the plan made breaks a rule: %s", broken[0].String())
		}
		g, err := risk.Compile(state, now, plan)
		if err != nil {
			return nil, 0, impossible(err)
		}
		programs = append(programs, g)
	}
	return programs, size, nil
}

func printCalibration(out io.Writer, r *calibrateReport) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	table := func(of string, lines []risk.Level) {
		fmt.Fprintf(w, "%s: said\thappened\t%.0f %% interval\thistories\t\t\n", of, 100*r.Confidence)
		for _, l := range lines {
			verdict := "holds"
			if !l.Holds() {
				verdict = "outside"
			}
			fmt.Fprintf(w, "%.1f %%\t%.1f %%\t%.1f to %.1f %%\t%d\t%s\t\n", 100*l.Said, 100*l.Happened, 100*l.Low, 100*l.High, l.N, verdict)
		}
	}
	table("complete by the time stated", r.Levels)
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(out)
	table("makes its date", r.Dates)
	if err := w.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "\n%d histories of %s of %s, forecast by %d each, seed %d, %.1f s; one order of each history is looked at\n",
		r.Histories, plural(r.Plans, "plan"), plural(r.Size, "order"), r.Replications, r.Seed, float64(r.ElapsedMS)/1000)
	return err
}
