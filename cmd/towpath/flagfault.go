// SPDX-License-Identifier: Apache-2.0

package main

import (
	"errors"
	"strconv"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// flagFault says in words what an option takes whose value cannot be read: the
// library tells only which of its functions failed.
func flagFault(c *cobra.Command, err error) error {
	var bad *pflag.InvalidValueError
	if !errors.As(err, &bad) {
		return err
	}
	f := bad.GetFlag()
	allowed := allowedOf(f.Value.Type())
	if errors.Is(err, strconv.ErrRange) {
		allowed += ", and not one of so many digits"
	}
	return usage(f.Usage+"\n"+c.CommandPath()+" --help shows an example", "--%s %q cannot be read; allowed: %s", f.Name, bad.GetValue(), allowed)
}

// allowedOf is what can be read as a value of a type.
func allowedOf(kind string) string {
	switch kind {
	case "int", "int64":
		return "a whole number such as 1000, without separators"
	case "uint64":
		return "a whole number from 0, without separators"
	case "float64":
		return "a number such as 0.9"
	case "duration":
		return "a length of time such as 30s or 5m"
	case "bool":
		return "true or false"
	}
	return kind
}
