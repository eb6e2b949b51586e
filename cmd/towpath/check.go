// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

func newCheck() *cobra.Command {
	var in inputs
	var now string
	c := &cobra.Command{
		Use:   "check --plant FILE [--orders FILE] [--now T]",
		Short: "Print every error and warning in a plant file and its orders",
		Long: `check reads a plant file, and orders when given, and prints every error and
warning with file, line, field, what was found and what is allowed. It exits
with 1 when there is an error; warnings alone exit with 0.

Order lines due before --now are warned of; without it, before the instant at
which the plant file says its clock begins (starts_at), if it says so.`,
		Example: `  towpath check --plant plant.yaml
  towpath check --plant plant.yaml --orders season.xlsx`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant"); err != nil {
				return err
			}
			return check(c, &in, now)
		},
	}
	in.flags(c)
	c.Flags().StringVar(&now, "now", "", "instant from which work can be done, RFC 3339 or local to the plant")
	return c
}

func (in *inputs) flags(c *cobra.Command) {
	c.Flags().StringVar(&in.plantPath, "plant", "", "plant file (YAML)")
	c.Flags().StringVar(&in.ordersPath, "orders", "", "orders file (CSV or XLSX)")
}

func check(c *cobra.Command, in *inputs, given string) error {
	if err := in.readPlant(); err != nil {
		return err
	}
	unread := false
	if in.ordersPath != "" {
		// Orders name products, so they can only be read against a plant; that
		// the file is there can be said anyway.
		if _, err := readFile(in.ordersPath, maxOrdersFile); err != nil {
			return err
		}
		if unread = in.plant == nil; !unread {
			if err := in.readOrders(); err != nil {
				return err
			}
		}
	}
	if in.plant != nil && (given != "" || in.plant.StartsAt != 0) {
		now, err := nowOf(given, in.plant)
		if err != nil {
			return err
		}
		in.found = append(in.found, datesBefore(in, now)...)
	}
	out := c.OutOrStdout()
	for _, f := range in.found {
		fmt.Fprintln(out, f.String())
	}
	if unread {
		return trouble("correct the plant file, then check again", "%s was not read, as the plant file has errors", in.ordersPath)
	}
	if in.failed() > 0 {
		return findings()
	}
	return nil
}
