// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"time"

	"github.com/spf13/cobra"

	"towpath/events/station"
	"towpath/resources"
	"towpath/scheduler/runner"
	"towpath/scheduler/simulate"
	"towpath/testdata/demo"
)

type demoOptions struct {
	serveOptions
	speed float64
}

func newDemo() *cobra.Command {
	var o demoOptions
	c := &cobra.Command{
		Use:   "demo [--addr 127.0.0.1:8080] [--data DIR] [--speed 120] [--seed N]",
		Short: "Show an invented shop at work",
		Long: `demo runs an invented shop: its plant, a season of orders, and simulated stations
that follow the plan and report over the real message bus, with durations that
vary, breakdowns and failed tests. Open the printed address in a browser.

The season begins on the last Monday and its clock runs fast. The data goes to a
temporary folder that is removed at the end; with --data it stays, and the next
demo on it goes on where this one stopped.`,
		Example: `  towpath demo
  towpath demo --speed 600 --seed 7
  towpath demo --data ./demo --addr 127.0.0.1:9000`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runDemo(c, &o) },
	}
	o.common(c, "seed of the search and of the simulated shop")
	c.Flags().StringVar(&o.data, "data", "", "data folder (default: a temporary one)")
	c.Flags().Float64Var(&o.speed, "speed", 120, "seconds of the shop in one second")
	return c
}

func runDemo(c *cobra.Command, o *demoOptions) error {
	budget, err := o.improvement()
	if err != nil {
		return err
	}
	dir, remove, err := demoDir(o.data)
	if err != nil {
		return err
	}
	defer remove()
	memory, err := recall(dir, o.seed, time.Now())
	if err != nil {
		return err
	}
	if c.Flags().Changed("seed") && memory.Seed != o.seed {
		fmt.Fprintf(c.ErrOrStderr(), "towpath: warning: the demo in %s goes on with its own seed, %d\n", dir, memory.Seed)
	}
	conf := shopConfig{
		dir: dir, bus: o.bus, mqtt: o.mqtt, addr: o.addr, seed: memory.Seed, budget: budget,
		text: shiftDates(demo.Plant, memory.Days), logger: newLogger(c.ErrOrStderr(), o.verbose, slog.LevelWarn),
	}
	if err := demoFiles(&conf, memory.Days); err != nil {
		return err
	}
	memory.Clock = max(memory.Clock, conf.plant.StartsAt)
	if conf.clock, err = runner.NewScaledClock(memory.Clock, o.speed); err != nil {
		return usage("e.g. --speed 120", "%v", err)
	}
	shop, err := openShop(c.Context(), conf)
	if err != nil {
		return err
	}
	defer shop.close()
	shop.announce(c.OutOrStdout(), c.ErrOrStderr())
	fmt.Fprintf(c.OutOrStdout(), "the shop's clock runs %g times as fast as yours; stop with Ctrl-C\n", o.speed)
	return shop.run(c.Context(), func(ctx context.Context) error { return simulateShop(ctx, shop, memory) })
}

// demoDir is the folder asked for, or a temporary one and how to remove it.
func demoDir(asked string) (dir string, remove func(), err error) {
	if asked != "" {
		return asked, func() {}, nil
	}
	if dir, err = os.MkdirTemp("", "towpath-demo-"); err != nil {
		return "", nil, trouble("give a folder with --data", "%v", err)
	}
	return dir, func() { _ = os.RemoveAll(dir) }, nil
}

// demoFiles reads the season at the dates it has been moved to.
func demoFiles(conf *shopConfig, days int) error {
	plant, found := resources.ReadPlant("plant.yaml", conf.text)
	if plant == nil {
		return trouble("", "the demo plant cannot be read at these dates: %v", found)
	}
	conf.plant = plant
	conf.lines, found = resources.ReadOrders("orders.csv", shiftDates(demo.Orders, days), plant)
	for _, f := range found {
		if f.Severity == resources.Error {
			return trouble("", "the demo orders cannot be read at these dates: %v", f)
		}
	}
	conf.season, found = resources.ReadForecast("forecast.csv", shiftWeeks(shiftDates(demo.Forecast, days), days), plant)
	if conf.season == nil {
		return trouble("", "the demo forecast cannot be read at these dates: %v", found)
	}
	return nil
}

// Times of the simulation, on the wall.
const (
	lookEvery   = 100 * time.Millisecond
	rememberMay = 2 * time.Second
)

// simulateShop lets the invented people and machines follow the plan until ctx
// ends. They report over the bus like real ones.
func simulateShop(ctx context.Context, s *openedShop, m *memory) error {
	client, err := station.Connect(s.log.URL(), station.Config{Plant: s.conf.plant.ID})
	if err != nil {
		return fmt.Errorf("connect simulated stations: %w", err)
	}
	defer client.Close()
	people := simulate.New(m.Seed, simulate.Ordinary())
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	var sent uint64
	remembered := time.Now()
	for {
		select {
		case <-ctx.Done():
			return m.keep(s.conf.dir, s.conf.clock.Now())
		case <-tick.C:
		}
		if time.Since(remembered) > rememberMay {
			if err := m.keep(s.conf.dir, s.conf.clock.Now()); err != nil {
				return err
			}
			remembered = time.Now()
		}
		p := s.runner.Picture()
		if p.Starting || p.Seq < sent {
			continue // what was reported is not in the picture yet
		}
		for _, e := range people.Step(p.State.Clone(), s.conf.clock.Now()) {
			receipt, err := client.Send(ctx, e)
			if ctx.Err() != nil {
				return m.keep(s.conf.dir, s.conf.clock.Now())
			}
			if err != nil {
				return fmt.Errorf("simulated report: %w", err)
			}
			sent = max(sent, receipt.Seq)
		}
	}
}
