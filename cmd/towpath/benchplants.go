// SPDX-License-Identifier: Apache-2.0

package main

import (
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"towpath/cmd/towpath/benchmark"
)

func newBenchPlants() *cobra.Command {
	var f benchFlags
	c := &cobra.Command{
		Use:   "plants DIR [--budget 10s] [--seed N] [--out DIR] [--json]",
		Short: "Plan whole shops: folders with plant.yaml and orders.csv",
		Long: `plants plans every shop below a folder, in the order of names: each folder in it
that holds plant.yaml and orders.csv, and the folder itself when it does. A shop
is planned for the instant at which its plant file says its clock begins
(starts_at). The cost is the objective, part by part.

--out writes each plan, named as its folder, in the form of towpath plan --out.

--budget bounds the search of each shop by time, reading not counted; 0 gives the
first plan. --iterations bounds it by work: then the same files, --seed,
--iterations and --workers give the same plan on any machine.

A shop that cannot be read is reported with file, line and field; the others are
planned all the same, and the exit code is 1.`,
		Example: `  towpath bench plants testdata/demo --budget 5s
  towpath bench plants shops --budget 30s --json`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usage("towpath bench plants --help shows an example", "give one folder")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return benchPlants(c, &f, args[0]) },
	}
	f.flags(c)
	c.Flags().StringVar(&f.out, "out", "", "write a plan file for each shop into this folder")
	return c
}

func benchPlants(c *cobra.Command, f *benchFlags, dir string) error {
	folders, err := shopFolders(dir)
	if err != nil {
		return err
	}
	names := make([]string, len(folders))
	for i, folder := range folders {
		full, err := filepath.Abs(folder)
		if err != nil {
			return usage("", "%s: %v", folder, err)
		}
		names[i] = filepath.Base(full)
	}
	r, err := f.run(c, names)
	if err != nil {
		return err
	}
	return r.each(len(folders), func(i int) (*benchmark.Problem, error) {
		in := inputs{plantPath: filepath.Join(folders[i], plantFile), ordersPath: filepath.Join(folders[i], ordersFile)}
		if err := in.read(c.ErrOrStderr()); err != nil {
			return nil, err
		}
		now, err := nowOf("", in.plant)
		if err != nil {
			return nil, err
		}
		return benchmark.Plant(names[i], in.plant, in.lines, now), nil
	})
}

// The files of a shop.
const (
	plantFile  = "plant.yaml"
	ordersFile = "orders.csv"
)

// shopFolders are the folder and those in it that hold a file of a shop; what
// is missing beside it is said when the shop is read.
func shopFolders(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, usage("give a folder", "%v", err)
	}
	var folders []string
	if isShop(dir) {
		folders = append(folders, dir)
	}
	for _, e := range entries {
		if sub := filepath.Join(dir, e.Name()); isShop(sub) {
			folders = append(folders, sub)
		}
	}
	if len(folders) == 0 {
		return nil, usage("a shop is a folder that holds both", "%s: no %s and %s in it, nor in a folder of it", dir, plantFile, ordersFile)
	}
	return folders, nil
}

func isShop(dir string) bool {
	for _, name := range []string{plantFile, ordersFile} {
		if info, err := os.Stat(filepath.Join(dir, name)); err == nil && info.Mode().IsRegular() {
			return true
		}
	}
	return false
}
