// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"time"

	"github.com/spf13/cobra"

	"towpath/resources"
	"towpath/scheduler/runner"
)

// serveOptions are the flags of serve, most of them of demo too.
type serveOptions struct {
	in      inputs
	data    string
	addr    string
	nats    string
	bus     string
	mqtt    string
	copies  int
	seed    uint64
	budget  time.Duration
	keep    int // days
	verbose bool
}

// common adds the flags that serve and demo share; seed says what theirs is for.
func (o *serveOptions) common(c *cobra.Command, seed string) {
	f := c.Flags()
	f.StringVar(&o.addr, "addr", "127.0.0.1:8080", "where the web server listens; port 0 takes a free one")
	f.StringVar(&o.bus, "bus", "127.0.0.1:0", "where stations reach the embedded message bus; port 0 takes a free one")
	f.StringVar(&o.mqtt, "mqtt", "", "where stations that speak MQTT 3.1.1 reach the embedded message bus, e.g. 127.0.0.1:1883; empty: nowhere")
	f.Uint64Var(&o.seed, "seed", 1, seed)
	f.DurationVar(&o.budget, "budget", 5*time.Second, "wall time of one improvement; 0: never improve, only repair")
	f.BoolVar(&o.verbose, "verbose", false, "log in detail")
}

// improvement is the runner's budget: there 0 asks for the default.
func (o *serveOptions) improvement() (time.Duration, error) {
	switch {
	case o.budget < 0:
		return 0, usage("", "--budget must not be negative")
	case o.budget == 0:
		return -1, nil
	}
	return o.budget, nil
}

// leastKept is the shortest history that may be asked for, in days: voids of
// last week's mistakes must still find what they void.
const leastKept = 7

// history is how much of it stays; 0: all.
func (o *serveOptions) history() (resources.Seconds, error) {
	if o.keep != 0 && o.keep < leastKept {
		return 0, usage("0 keeps the history for ever", "--keep-days %d: want 0, or %d or more", o.keep, leastKept)
	}
	return resources.Seconds(o.keep) * resources.Day, nil
}

// replicated checks how many servers shall keep the log.
func (o *serveOptions) replicated() error {
	switch {
	case o.copies != 0 && o.nats == "":
		return usage("the bus inside the program keeps the log once", "--replicas goes with --nats")
	case o.copies != 0 && o.copies != 1 && o.copies != 3 && o.copies != 5:
		return usage("", "--replicas %d: want 0, 1, 3 or 5", o.copies)
	}
	return nil
}

// newLogger writes what is of a level or above; verbose: everything.
func newLogger(errs io.Writer, verbose bool, level slog.Level) *slog.Logger {
	if verbose {
		level = slog.LevelDebug
	}
	return slog.New(slog.NewTextHandler(errs, &slog.HandlerOptions{Level: level}))
}

func newServe() *cobra.Command {
	var o serveOptions
	c := &cobra.Command{
		Use:   "serve --plant FILE --data DIR [--orders FILE] [--forecast FILE] [--addr A] [--nats URL]",
		Short: "Plan a real shop and serve its pages",
		Long: `serve keeps the plan of a shop true from the reports of its stations, and serves
pages and JSON. The data folder keeps the log of facts and what follows from it;
a restart goes on where the shop was, also after a crash.

Order lines of the orders file that the shop does not know yet are added; lines
it knows stay as they are.

With --keep-days the log forgets what is older once a snapshot holds what it
meant. Pieces, orders and results stay; a mistake from before can no longer be
voided.

The message bus is inside the program unless --nats names one elsewhere. Several
programs, each with a data folder of its own, may serve one plant from it: one
plans, the others follow, and one of them takes over within seconds when it is gone.
There is no login: keep both addresses on a network where everyone may report.`,
		Example: `  towpath serve --plant plant.yaml --orders orders.csv --data ./data
  towpath serve --plant plant.yaml --data ./data --addr 127.0.0.1:9000 --bus 127.0.0.1:4222
  towpath serve --plant plant.yaml --data ./data --mqtt 127.0.0.1:1883
  towpath serve --plant plant.yaml --data ./data --nats nats://broker:4222 --replicas 3`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "data"); err != nil {
				return err
			}
			return serve(c, &o)
		},
	}
	o.in.flags(c)
	c.Flags().StringVar(&o.in.forecastPath, "forecast", "", "season forecast (CSV or XLSX) for the capacity page")
	o.common(c, "seed of the search")
	c.Flags().StringVar(&o.data, "data", "", "data folder")
	c.Flags().IntVar(&o.keep, "keep-days", 0, "days of history that stay at least, 7 or more; older facts are let go of once a snapshot holds what they meant; 0: all of it for ever")
	c.Flags().StringVar(&o.nats, "nats", "", "external message bus, e.g. nats://broker:4222")
	c.Flags().IntVar(&o.copies, "replicas", 0, "with --nats: servers of its cluster that keep the log, 1, 3 or 5; 0: as it is, 1 for a new log")
	return c
}

func serve(c *cobra.Command, o *serveOptions) error {
	budget, err := o.improvement()
	if err != nil {
		return err
	}
	keep, err := o.history()
	if err != nil {
		return err
	}
	if err := o.replicated(); err != nil {
		return err
	}
	if err := o.in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	conf := shopConfig{
		dir: o.data, nats: o.nats, copies: o.copies, bus: o.bus, mqtt: o.mqtt, addr: o.addr,
		plant: o.in.plant, text: o.in.plantText, lines: o.in.lines, season: o.in.forecast,
		clock: runner.SystemClock{}, seed: o.seed, budget: budget, keep: keep, real: true,
		logger: newLogger(c.ErrOrStderr(), o.verbose, slog.LevelInfo),
	}
	shop, err := openShop(c.Context(), conf)
	if err != nil {
		return err
	}
	defer shop.close()
	shop.announce(c.OutOrStdout(), c.ErrOrStderr())
	return shop.run(c.Context(), func(ctx context.Context) error {
		<-ctx.Done()
		return nil
	})
}

// announce says where the shop can be reached.
func (s *openedShop) announce(out, errs io.Writer) {
	warnOpen(errs, "the web address", s.conf.addr)
	fmt.Fprintf(out, "%s is at %s\n", s.conf.plant.Name, s.address())
	if s.conf.nats == "" {
		warnOpen(errs, "the bus", s.conf.bus)
	}
	if mqtt := s.log.MQTT(); mqtt != "" {
		warnOpen(errs, "the MQTT listener", s.conf.mqtt)
		fmt.Fprintf(out, "stations that speak MQTT 3.1.1 report to %s\n", mqtt)
	}
	fmt.Fprintf(out, "stations report to %s as plant %s\n", s.log.URL(), s.conf.plant.ID)
}
