// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"towpath/cmd/towpath/benchmark"
	"towpath/resources"
	"towpath/resources/instance"
)

// maxInstanceFile is the largest file of a published instance that is read.
const maxInstanceFile = 64 << 20

func newBenchOvens() *cobra.Command {
	var f benchFlags
	c := &cobra.Command{
		Use:   "ovens FILES… [--budget 10s] [--seed N] [--out DIR] [--published FILE] [--json]",
		Short: "Plan published instances of the oven scheduling problem",
		Long: `ovens plans instances of the oven scheduling problem (Lackner, Mrkvicka, Musliu,
Walkiewicz, Winter 2023), MiniZinc data files, one after the other. The cost is
the published one: run time, late jobs and set-ups, weighed and divided by the
instance's own upper bound.

--out writes a file a solution, named as its instance: {"batches":[{"machine":1,
"start":0,"duration":5,"jobs":[1,4]}]}, with ovens and jobs from 1.

--budget bounds the search of each instance by time, reading not counted; 0
gives the first plan. --iterations bounds it by work: then the same file,
--seed, --iterations and --workers give the same plan on any machine.

--published compares with a CSV file of published values: columns file or
instance, and any of optimum, upper, ilp, cp, lns, sa1_min, sa5_min, sa_min (the
least of them is the best published) and sa5_mean or sa_mean.

A file that cannot be read is reported with file, line and field; the others are
planned all the same, and the exit code is 1.`,
		Example: `  towpath bench ovens testdata/bench/ovens/*.dzn --published testdata/bench/ovens/published.csv
  towpath bench ovens uc3-001.dzn --budget 30s --out solutions --json
  towpath bench ovens uc3-001.dzn --iterations 20000 --seed 7`,
		Args: someFiles,
		RunE: func(c *cobra.Command, files []string) error {
			return benchFiles(c, &f, files, func(path, name string, text []byte) (*benchmark.Problem, []resources.Finding, error) {
				o, found := instance.ReadDZN(path, text)
				if o == nil {
					return nil, found, nil
				}
				return benchmark.Ovens(name, o), found, nil
			})
		},
	}
	f.flags(c)
	f.files(c)
	return c
}

func newBenchJobShop() *cobra.Command {
	var f benchFlags
	c := &cobra.Command{
		Use:   "jobshop FILES… [--budget 10s] [--seed N] [--out DIR] [--published FILE] [--json]",
		Short: "Plan job shops in the standard text form",
		Long: `jobshop plans job shops in the text form of the benchmark libraries, one after
the other: a line with the number of jobs and of machines, then a line per job of
pairs "machine time", machines from 0; empty lines and what follows a # do not
count. The cost is the makespan.

--out writes a file a solution, named as its instance: {"ops":[{"job":0,"op":0,
"machine":2,"start":0,"duration":1}]}, all numbers from 0.

--budget bounds the search of each instance by time, reading not counted; 0
gives the first plan. --iterations bounds it by work: then the same file,
--seed, --iterations and --workers give the same plan on any machine.

--published compares with a CSV file of published values: columns file or
instance, and optimum or upper.

A file that cannot be read is reported with file, line and field; the others are
planned all the same, and the exit code is 1.`,
		Example: `  towpath bench jobshop testdata/bench/jobshop/*.txt --published testdata/bench/jobshop/published.csv
  towpath bench jobshop ft10.txt --budget 30s --out solutions --json`,
		Args: someFiles,
		RunE: func(c *cobra.Command, files []string) error {
			return benchFiles(c, &f, files, func(path, name string, text []byte) (*benchmark.Problem, []resources.Finding, error) {
				shop, found := instance.ReadJobShop(path, text)
				if shop == nil {
					return nil, found, nil
				}
				p, err := benchmark.Shop(name, shop)
				return p, found, err
			})
		},
	}
	f.flags(c)
	f.files(c)
	return c
}

func someFiles(c *cobra.Command, files []string) error {
	if len(files) == 0 {
		return usage(fmt.Sprintf("towpath bench %s --help shows an example", c.Name()), "no files given")
	}
	return nil
}

// benchFiles plans an instance a file.
func benchFiles(c *cobra.Command, f *benchFlags, files []string,
	read func(path, name string, text []byte) (*benchmark.Problem, []resources.Finding, error)) error {
	names := make([]string, len(files))
	for i, path := range files {
		names[i] = benchmark.InstanceName(path)
	}
	r, err := f.run(c, names)
	if err != nil {
		return err
	}
	return r.each(len(files), func(i int) (*benchmark.Problem, error) {
		text, err := readFile(files[i], maxInstanceFile)
		if err != nil {
			return nil, err
		}
		p, found, err := read(files[i], names[i], text)
		for _, f := range found {
			fmt.Fprintln(c.ErrOrStderr(), f.String())
		}
		return p, err
	})
}
