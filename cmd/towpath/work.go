// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"
	"log/slog"
	"runtime"

	"github.com/spf13/cobra"

	"towpath/events/natslog"
	"towpath/scheduler/runner/helping"
)

type workOptions struct {
	nats    string
	cores   int
	verbose bool
}

func newWork() *cobra.Command {
	var o workOptions
	c := &cobra.Command{
		Use:   "work --nats URL [--cores N]",
		Short: "Lend this machine's cores to the shops on a message bus",
		Long: `work helps programs that serve a shop elsewhere: it searches for better plans along
with them and plays histories for the risk of a plan. It keeps nothing, and may be
started and stopped at any time; a shop does without it what it does not bring.

It helps every shop on the bus that runs the same version of the program: another
might reckon otherwise.`,
		Example: `  towpath work --nats nats://planning:4222
  towpath work --nats nats://planning:4222 --cores 6`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "nats"); err != nil {
				return err
			}
			return help(c, &o)
		},
	}
	f := c.Flags()
	f.StringVar(&o.nats, "nats", "", "message bus of the shops, e.g. nats://planning:4222: the address that serve prints for its stations")
	f.IntVar(&o.cores, "cores", runtime.GOMAXPROCS(0), "cores to lend")
	f.BoolVar(&o.verbose, "verbose", false, "log in detail")
	return c
}

func help(c *cobra.Command, o *workOptions) error {
	if o.cores < 1 || o.cores > runtime.GOMAXPROCS(0) {
		return usage("", "--cores %d: want 1 to %d, as many as this machine has", o.cores, runtime.GOMAXPROCS(0))
	}
	program, err := programMark()
	if err != nil {
		return err
	}
	talk, err := natslog.Join(o.nats, "towpath work")
	if err != nil {
		return trouble("is a shop or a NATS server there? serve prints where its stations reach it, and listens for other machines with --bus 0.0.0.0:4222", "%v", err)
	}
	defer talk.Close()
	cores := "1 core"
	if o.cores > 1 {
		cores = fmt.Sprintf("%d cores", o.cores)
	}
	fmt.Fprintf(c.OutOrStdout(), "%s lends %s to help the shops on %s; stop with Ctrl-C\n", machine(), cores, talk.URL())
	return helping.NewHelper(talk, program, machine(), o.cores, newLogger(c.ErrOrStderr(), o.verbose, slog.LevelInfo)).Run(c.Context())
}
