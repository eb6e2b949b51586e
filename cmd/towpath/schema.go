// SPDX-License-Identifier: Apache-2.0

package main

import (
	"github.com/spf13/cobra"

	"towpath/resources"
)

func newSchema() *cobra.Command {
	return &cobra.Command{
		Use:   "schema",
		Short: "Print the JSON Schema of the plant file",
		Long: `schema prints the JSON Schema of the plant file, with which an editor completes
and checks it while you write.`,
		Example: `  towpath schema > plant.schema.json`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := c.OutOrStdout().Write(resources.Schema())
			return err
		},
	}
}
