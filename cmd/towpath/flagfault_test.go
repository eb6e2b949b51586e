// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/require"
)

// A value that cannot be read is answered with what can, in words.
func TestWhatAnOptionTakesIsSaidInWords(t *testing.T) {
	for _, tt := range []struct{ args, says string }{
		{"promise --quantity 1,000", `towpath: --quantity "1,000" cannot be read; allowed: a whole number such as 1000, without separators`},
		{"promise --quantity 99999999999999999999", `--quantity "99999999999999999999" cannot be read; allowed: a whole number such as 1000, without separators, and not one of so many digits`},
		{"promise --weight heavy", `--weight "heavy" cannot be read; allowed: a whole number`},
		{"promise --confidence 90%", `--confidence "90%" cannot be read; allowed: a number such as 0.9`},
		{"promise --quick=perhaps", `--quick "perhaps" cannot be read; allowed: true or false`},
		{"capacity --weeks x", `--weeks "x" cannot be read; allowed: a whole number`},
		{"capacity --weeks x", "hint: weeks to look at, 1 to 52"},
		{"risk --seed x", `--seed "x" cannot be read; allowed: a whole number from 0, without separators`},
		{"risk --seed -1", `--seed "-1" cannot be read; allowed: a whole number from 0, without separators`},
		{"risk --seed x", "hint: towpath risk --help shows an example"},
		{"plan --budget 10", `--budget "10" cannot be read; allowed: a length of time such as 30s or 5m`},
		{"report start --place first", `--place "first" cannot be read; allowed: a whole number`},
	} {
		var errs bytes.Buffer
		root := newRoot(&errs, &errs)
		root.SetArgs(strings.Fields(tt.args))
		require.Equal(t, exitUsage, exitCode(&errs, root.Execute()), tt.args)
		require.Contains(t, errs.String(), tt.says, tt.args)
		for _, inside := range []string{"strconv", "parsing", "time:", "invalid"} {
			require.NotContains(t, errs.String(), inside, tt.args)
		}
	}
}

// No option is of a type of which nothing is said.
func TestEveryOptionHasAnAllowedValue(t *testing.T) {
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		c.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if kind := f.Value.Type(); kind != "string" && kind != "stringArray" { // any text will do
				require.NotEqual(t, kind, allowedOf(kind), "%s --%s", c.CommandPath(), f.Name)
			}
		})
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(nil, nil))
}
