// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"towpath/cmd/towpath/benchmark"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

// benchBudget is the usual time for one instance.
const benchBudget = 10 * time.Second

func newBench() *cobra.Command {
	c := &cobra.Command{
		Use:   "bench",
		Short: "Measure the planner on published problems and on whole shops",
		Long: `bench plans instances one after the other with the code that plans a shop, has
every plan verified, scores the written solution again by the rules of its
problem, and prints what it costs beside a lower bound.`,
		Example: `  towpath bench ovens ovens/*.dzn --budget 10s
  towpath bench jobshop jobshop/*.txt --budget 10s --json
  towpath bench plants shops --budget 30s`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newBenchOvens(), newBenchJobShop(), newBenchPlants())
	return c
}

// benchFlags are those that every measurement has.
type benchFlags struct {
	search    searchFlags
	json      bool
	out       string
	published string
}

func (f *benchFlags) flags(c *cobra.Command) {
	f.search.flags(c, benchBudget)
	c.Flags().BoolVar(&f.json, "json", false, "print one JSON object a line, for each instance, instead of a table")
}

func (f *benchFlags) files(c *cobra.Command) {
	c.Flags().StringVar(&f.out, "out", "", "write a solution file for each instance into this folder")
	c.Flags().StringVar(&f.published, "published", "", "compare with the published values of this CSV file")
}

// benchRun plans instances one after the other and prints each as it is done.
type benchRun struct {
	c         *cobra.Command
	budget    runner.Budget
	flags     *benchFlags
	table     benchTable
	published map[string]benchmark.Published
	summary   benchmark.Summary
	failed    int // instances without a row
}

func (f *benchFlags) run(c *cobra.Command, names []string) (*benchRun, error) {
	r := &benchRun{c: c, flags: f}
	var err error
	if r.budget, err = f.search.budget(c); err != nil {
		return nil, err
	}
	if f.published != "" {
		if r.published, err = readPublished(c, f.published); err != nil {
			return nil, err
		}
	}
	if f.out != "" {
		seen := map[string]bool{}
		for _, name := range names {
			if seen[name] {
				return nil, usage("rename one of them, or run them one after the other with a folder each", "two instances are named %s; their solution files would be one", name)
			}
			seen[name] = true
		}
		if err := os.MkdirAll(f.out, 0o755); err != nil {
			return nil, usage("give a folder that can be made or written to with --out", "%v", err)
		}
	}
	r.table.columns(names, r.published != nil)
	return r, nil
}

// readPublished reads a CSV file of published values.
func readPublished(c *cobra.Command, path string) (map[string]benchmark.Published, error) {
	text, err := readFile(path, maxInstanceFile)
	if err != nil {
		return nil, err
	}
	published, found := benchmark.ReadPublished(path, text)
	for _, f := range found {
		fmt.Fprintln(c.ErrOrStderr(), f.String())
	}
	if published == nil {
		return nil, trouble("", "%s in the published values; nothing was done", plural(len(found), "error"))
	}
	return published, nil
}

// unread counts an instance that could not be read; what is wrong is printed
// already, or is the error.
func (r *benchRun) unread(err error) {
	r.failed++
	if err != nil {
		exitCode(r.c.ErrOrStderr(), err)
	}
}

// plan plans one instance and prints its row. The error ends the run.
func (r *benchRun) plan(ctx context.Context, p *benchmark.Problem) error {
	solved, err := p.Solve(ctx, r.budget)
	var fault *benchmark.FaultError
	switch {
	case errors.As(err, &fault):
		for _, v := range fault.Violations {
			fmt.Fprintln(r.c.ErrOrStderr(), v.String())
		}
		r.unread(trouble("this is a fault of the program, please report it with the file and the seed", "%s: %v", p.Name, err))
		return nil
	case errors.Is(err, scheduler.ErrNothingPossible):
		r.unread(trouble("look at what is named", "%s: %v", p.Name, err))
		return nil
	case err != nil:
		r.unread(trouble("", "%s: %v", p.Name, err))
		return nil
	}
	if r.published != nil {
		known := r.published[p.Name]
		solved.Compare(known)
		r.summary.Add(&solved, known)
	}
	if err := r.write(&solved); err != nil {
		return err
	}
	if r.flags.json {
		return json.NewEncoder(r.c.OutOrStdout()).Encode(solved.Row)
	}
	return r.table.row(r.c.OutOrStdout(), &solved)
}

// write writes the solution file.
func (r *benchRun) write(s *benchmark.Solved) error {
	if r.flags.out == "" {
		return nil
	}
	path := filepath.Join(r.flags.out, s.Instance+".json")
	if s.Solution == nil {
		return writePlan(path, s.Plan)
	}
	text, err := json.Marshal(s.Solution)
	if err != nil {
		return err
	}
	return writeWhole(path, append(text, '\n'))
}

// done prints what all rows together say. Beside JSON that goes to standard
// error.
func (r *benchRun) done() error {
	out := r.c.OutOrStdout()
	if r.flags.json {
		out = r.c.ErrOrStderr()
	} else if err := r.table.mean(out); err != nil {
		return err
	}
	if r.published != nil {
		if err := printSummary(out, &r.summary); err != nil {
			return err
		}
	}
	if r.failed > 0 {
		return trouble("", "%s without a plan", plural(r.failed, "instance"))
	}
	return nil
}

// each runs over the instances named; read makes the problem of the i-th, nil
// when that was not possible. An interrupt ends the search in hand and what
// would come after it.
func (r *benchRun) each(n int, read func(i int) (*benchmark.Problem, error)) error {
	ctx := r.c.Context()
	for i := range n {
		p, err := read(i)
		if p == nil || err != nil {
			r.unread(err)
		} else if err := r.plan(ctx, p); err != nil {
			return err
		}
		if ctx.Err() != nil && i+1 < n {
			return errors.Join(r.done(), trouble("", "interrupted: %d of %d instances not looked at", n-i-1, n))
		}
	}
	return r.done()
}
