// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"towpath/scheduler/runner"
)

// fixedWorkers is how many searches run side by side when the result must not
// depend on the machine.
const fixedWorkers = 4

// searchFlags bound a search.
type searchFlags struct {
	time       time.Duration
	iterations int64
	workers    int
	seed       uint64
}

func (f *searchFlags) flags(c *cobra.Command, usual time.Duration) {
	c.Flags().DurationVar(&f.time, "budget", usual, "time for the search; 0: the first plan only")
	c.Flags().Int64Var(&f.iterations, "iterations", 0, "iterations of each search, instead of a time")
	c.Flags().IntVar(&f.workers, "workers", 0, fmt.Sprintf("searches side by side (default: one per core; %d with --iterations)", fixedWorkers))
	c.Flags().Uint64Var(&f.seed, "seed", 1, "seed of the search")
}

// budget is what the flags ask for. Iterations alone bound a search by work.
func (f *searchFlags) budget(c *cobra.Command) (runner.Budget, error) {
	if f.time < 0 || f.iterations < 0 || f.workers < 0 {
		return runner.Budget{}, usage("", "--budget, --iterations and --workers must not be negative")
	}
	b := runner.Budget{Time: f.time, Iterations: f.iterations, Seed: f.seed, Workers: f.workers}
	if c.Flags().Changed("iterations") && !c.Flags().Changed("budget") {
		b.Time = 0
	}
	switch {
	case b.Workers == 0 && b.Iterations > 0:
		b.Workers = fixedWorkers
	case b.Workers == 0:
		b.Workers = runtime.GOMAXPROCS(0)
	}
	return b, nil
}
