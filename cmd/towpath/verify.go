// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"towpath/scheduler"
)

func newVerify() *cobra.Command {
	var in inputs
	var planPath, now string
	c := &cobra.Command{
		Use:   "verify --plant FILE --orders FILE --plan plan.json [--now T]",
		Short: "Check a plan file against plant and orders, rule by rule",
		Long: `verify derives every rule of the shop again from plant and orders and prints each
violation of the plan. It shares nothing with the search. It exits with 1 when
there is any.

Without --now the plan is checked for the instant it says it was made for.`,
		Example: `  towpath verify --plant plant.yaml --orders orders.csv --plan plan.json`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := required(c, "plant", "orders", "plan"); err != nil {
				return err
			}
			return verify(c, &in, planPath, now)
		},
	}
	in.flags(c)
	c.Flags().StringVar(&planPath, "plan", "", "plan file, as written by towpath plan --out")
	c.Flags().StringVar(&now, "now", "", "instant to check for, RFC 3339 or local to the plant")
	return c
}

func verify(c *cobra.Command, in *inputs, planPath, given string) error {
	text, err := readFile(planPath, maxPlanFile)
	if err != nil {
		return err
	}
	if err := in.read(c.ErrOrStderr()); err != nil {
		return err
	}
	plan, err := scheduler.DecodePlan(text)
	if err != nil {
		return trouble("towpath plan --out writes such a file", "%s: %v", planPath, err)
	}
	now := plan.Made
	if given != "" {
		if now, err = parseMoment("now", given, in.plant.Zone); err != nil {
			return err
		}
	}
	state, err := scheduler.StateOf(in.plant, in.lines)
	if err != nil {
		return trouble("", "%v", err)
	}
	violations := scheduler.Check(state, now, plan)
	out := c.OutOrStdout()
	for _, v := range violations {
		fmt.Fprintln(out, v.String())
	}
	if len(violations) > 0 {
		fmt.Fprintf(out, "%s\n", plural(len(violations), "violation"))
		return findings()
	}
	fmt.Fprintf(out, "no violation: %s, checked for %s\n", plural(len(plan.Work), "operation"), moment(now, in.plant.Zone))
	return nil
}
