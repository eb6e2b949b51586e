// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"towpath/events/natslog"
	"towpath/resources"
	"towpath/scheduler/learn"
)

type learnOptions struct {
	server, data, out string
	all, json         bool
	wait              time.Duration
}

func newLearn() *cobra.Command {
	var o learnOptions
	c := &cobra.Command{
		Use:   "learn (--server URL | --data DIR) [--out FILE] [--all] [--json]",
		Short: "Compare the plant file with what was done, and propose changes of it",
		Long: `learn compares the times, yields and breakdowns of the plant file with what was
reported: how often, from when to when, the median or share with its interval, and
an estimate between the two, for which the plant file counts as ten observations.
Where the plant's value lies outside the interval it proposes a change.

Nothing is changed. --out writes the plant file with the changes proposed, comments
kept: look at it, try it with towpath risk --plant or towpath plan, and start the
shop with it when you agree.

It asks a running shop with --server, or reads a data folder whose server is
stopped with --data.`,
		Example: `  towpath learn --server http://127.0.0.1:8080
  towpath learn --data ./data --all
  towpath learn --data ./data --out learned.yaml
  towpath risk --plant learned.yaml --orders orders.csv`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return learnFrom(c, &o) },
	}
	f := c.Flags()
	f.StringVar(&o.server, "server", "", "web address of the running shop")
	f.StringVar(&o.data, "data", "", "data folder of a shop that is stopped")
	f.StringVar(&o.out, "out", "", "write the plant file with the changes proposed here")
	f.BoolVar(&o.all, "all", false, "also print what agrees with the plant file and what was seen too seldom")
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of text")
	f.DurationVar(&o.wait, "timeout", 30*time.Second, "how long to wait for the server's answer")
	return c
}

func learnFrom(c *cobra.Command, o *learnOptions) error {
	if (o.server == "") == (o.data == "") {
		return usage("--server http://127.0.0.1:8080 for a running shop, --data DIR for one that is stopped", "give either --server or --data")
	}
	report, plant, err := o.read(c.Context())
	if err != nil {
		return err
	}
	if o.json {
		err = writeJSON(c.OutOrStdout(), report)
	} else {
		err = printLearned(c.OutOrStdout(), report, o.all)
	}
	if err != nil || o.out == "" {
		return err
	}
	text, err := learn.Revised(plant, report.Revisions())
	if err != nil {
		return trouble("", "%v", err)
	}
	if err := writeWhole(o.out, text); err != nil {
		return trouble("", "%v", err)
	}
	fmt.Fprintf(c.ErrOrStderr(), "%s has the plant file with %s\n", o.out, plural(len(report.Revisions()), "change"))
	return nil
}

// read gets what was learned, and the plant file it is about.
func (o *learnOptions) read(ctx context.Context) (*learn.Report, []byte, error) {
	if o.server == "" {
		return o.stored(ctx)
	}
	body, err := askServer(ctx, o.server, "/api/learn", nil, o.wait)
	if err != nil {
		return nil, nil, err
	}
	report := new(learn.Report)
	if err := json.Unmarshal(body, report); err != nil {
		return nil, nil, trouble("is it a towpath server?", "%s answered something else: %v", o.server, err)
	}
	if o.out == "" {
		return report, nil, nil
	}
	plant, err := askServer(ctx, o.server, "/api/plant.yaml", nil, o.wait)
	return report, plant, err
}

// stored reads a data folder: the state as it was last saved, and the stops in
// the log beside it, if there is one.
func (o *learnOptions) stored(ctx context.Context) (*learn.Report, []byte, error) {
	state, err := storedState(o.data)
	if err != nil {
		return nil, nil, err
	}
	if state.Plant == nil {
		return nil, nil, trouble("start towpath serve on it once with --plant", "%s holds no plant", o.data)
	}
	var how learn.Options
	dir := filepath.Join(o.data, "log")
	if _, err := os.Stat(dir); err == nil {
		log, err := natslog.Open(ctx, natslog.Config{Plant: state.Plant.ID, Dir: dir, Listen: natslog.InProcess, Logger: slog.New(slog.DiscardHandler)})
		if err != nil {
			return nil, nil, trouble("", "%v", err)
		}
		defer log.Close()
		if how.Stops, how.Since, err = stopsIn(ctx, log); err != nil {
			return nil, nil, trouble("", "%v", err)
		}
	}
	return learn.Learn(state, how), []byte(state.PlantFile), nil
}

func printLearned(out io.Writer, r *learn.Report, all bool) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "what\tof\tseen\tfrom\tto\tplant\tseen\tinterval\testimate\tchange")
	shown := 0
	for i := range r.Proposals {
		p := &r.Proposals[i]
		if !all && len(p.Revisions) == 0 {
			continue
		}
		shown++
		change := p.Why
		if len(p.Revisions) > 0 {
			var parts []string
			for _, v := range p.Revisions {
				parts = append(parts, v.Key+": "+v.Text)
			}
			change = strings.Join(parts, ", ")
		}
		day := func(t resources.Tick) string {
			if t == 0 {
				return "-"
			}
			return time.Unix(int64(t), 0).UTC().Format(time.DateOnly)
		}
		of := strings.Join(strings.Fields(p.Product+" "+p.Operation+" "+p.Station), " ")
		interval := "-"
		if p.Low > 0 || p.High > 0 {
			interval = amountText(p, p.Low) + " to " + amountText(p, p.High)
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p.About, of, p.N, day(p.From), day(p.To),
			amountText(p, p.Plant), amountText(p, p.Seen), interval, amountText(p, p.Estimate), change)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%s, %d of them shown; %s whose start and end were reported", plural(len(r.Proposals), "comparison"), shown, plural(r.Jobs, "job"))
	if r.Inside > 0 {
		fmt.Fprintf(out, ", %d left out of times as pieces may wait inside", r.Inside)
	}
	fmt.Fprintf(out, "\nThe plant file counts as %g observations; intervals of %.0f %%; nothing has been changed.\n", r.Weight, 100*r.Confidence)
	if !r.Log {
		fmt.Fprintln(out, "Breakdowns were not looked at: there is no log to read.")
	}
	return nil
}

// amountText is a share in percent, or a time to three digits or so.
func amountText(p *learn.Proposal, x float64) string {
	switch {
	case p.About == learn.Yield:
		return fmt.Sprintf("%.1f %%", 100*x)
	case x == 0:
		return "-"
	case math.Abs(x) < 120*60:
		return fmt.Sprintf("%.1f min", x/60)
	}
	return fmt.Sprintf("%.1f h", x/3600)
}
