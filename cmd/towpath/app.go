// SPDX-License-Identifier: Apache-2.0

package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// Exit codes.
const (
	exitFine     = 0
	exitFindings = 1 // errors in a file, violations in a plan, a report refused, or a failure at work
	exitUsage    = 2 // the command line, or a file that cannot be opened
)

// fault is an error with an exit code and, where there is something to do
// about it, a hint. An empty text has been printed already.
type fault struct {
	code int
	text string
	hint string
}

func (f *fault) Error() string { return f.text }

// usage is a fault of the command line.
func usage(hint, format string, args ...any) error {
	return &fault{code: exitUsage, text: fmt.Sprintf(format, args...), hint: hint}
}

// trouble is a failure at work.
func trouble(hint, format string, args ...any) error {
	return &fault{code: exitFindings, text: fmt.Sprintf(format, args...), hint: hint}
}

// findings says that what there is to say has been printed.
func findings() error { return &fault{code: exitFindings} }

// exitCode prints an error as people should see it and maps it to an exit
// code. An error that is not a fault comes from the command-line library.
func exitCode(errs io.Writer, err error) int {
	if err == nil {
		return exitFine
	}
	var f *fault
	if !errors.As(err, &f) {
		f = &fault{code: exitUsage, text: err.Error(), hint: "towpath --help lists commands, towpath COMMAND --help their options"}
	}
	if f.text != "" {
		fmt.Fprintf(errs, "towpath: %s\n", f.text)
	}
	for _, line := range strings.Split(f.hint, "\n") {
		if line != "" {
			fmt.Fprintf(errs, "hint: %s\n", line)
		}
	}
	return f.code
}

func newRoot(out, errs io.Writer) *cobra.Command {
	root := &cobra.Command{
		Use:   "towpath",
		Short: "Plan a composite shaft shop and keep the plan true",
		Long: `towpath plans a shop that winds composite tubes, cures them in ovens, bonds ends
on, proves, balances and ships them before fixed dates. It listens to the
stations, keeps one feasible plan and tells every operator the next job.

Towpath plans; it controls no machine. Supplier data sheets, site procedures,
local codes and qualified people decide how work is done.`,
		Example: `  towpath demo
  towpath check --plant plant.yaml --orders orders.csv
  towpath plan --plant plant.yaml --orders orders.csv --budget 10s --out plan.json
  towpath serve --plant plant.yaml --orders orders.csv --data ./data`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetOut(out)
	root.SetErr(errs)
	root.SetFlagErrorFunc(flagFault)
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(
		newDemo(), newServe(), newWork(), newCheck(), newPlan(), newExplain(), newVerify(), newPromise(), newRisk(), newCalibrate(), newWhatIf(), newCapacity(), newBench(), newReport(), newTrace(), newLearn(), newSoak(),
		newSchema(), newOrders(), newVersion(),
	)
	return root
}

// required answers a fault for the first of the named flags that is empty.
func required(c *cobra.Command, names ...string) error {
	for _, name := range names {
		if f := c.Flags().Lookup(name); f != nil && f.Value.String() == "" {
			return usage(fmt.Sprintf("towpath %s --help shows an example", c.Name()), "--%s is required", name)
		}
	}
	return nil
}
