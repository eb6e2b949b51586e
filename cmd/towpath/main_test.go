// SPDX-License-Identifier: Apache-2.0

package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// TestMain lets the test binary be the program too: scripts and tests that
// start a process run it as towpath.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"towpath": main})
}

// TestScripts runs the command line as people type it. Besides the usual
// commands of such scripts there are:
//
//	workbook IN.csv OUT.xlsx     make a workbook of a CSV file
//	swap FILE OLD NEW            replace the first OLD in a file
//	grow FILE MIB                make a file that large
//	first N FILE PART            the first N lines of a file
func TestScripts(t *testing.T) {
	data, err := filepath.Abs("../../testdata")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("DEMO", filepath.Join(data, "demo"))
			e.Setenv("BENCH", filepath.Join(data, "bench"))
			e.Setenv("PLANTS", filepath.Join(data, "plants"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"workbook": workbook, "swap": swap, "grow": grow, "first": first,
		},
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	})
}

func workbook(ts *testscript.TestScript, _ bool, args []string) {
	rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[0]))).ReadAll()
	ts.Check(err)
	book := excelize.NewFile()
	for i, row := range rows {
		for j, text := range row {
			cell, err := excelize.CoordinatesToCellName(j+1, i+1)
			ts.Check(err)
			ts.Check(book.SetCellValue("Sheet1", cell, text))
		}
	}
	ts.Check(book.SaveAs(ts.MkAbs(args[1])))
}

func swap(ts *testscript.TestScript, _ bool, args []string) {
	text := ts.ReadFile(args[0])
	if !strings.Contains(text, args[1]) {
		ts.Fatalf("%s has no %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, args[1], args[2], 1)), 0o644))
}

func first(ts *testscript.TestScript, _ bool, args []string) {
	n, err := strconv.Atoi(args[0])
	ts.Check(err)
	lines := strings.SplitAfterN(ts.ReadFile(args[1]), "\n", n+1)
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), []byte(strings.Join(lines[:n], "")), 0o644))
}

func grow(ts *testscript.TestScript, _ bool, args []string) {
	mib, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(f.Truncate(mib << 20)) // sparse
	ts.Check(f.Close())
}
