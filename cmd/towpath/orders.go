// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

func newOrders() *cobra.Command {
	c := &cobra.Command{
		Use:     "orders",
		Short:   "Help with orders files",
		Example: "  towpath orders template > orders.csv",
		Args:    cobra.NoArgs,
		RunE:    func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(&cobra.Command{
		Use:     "template",
		Short:   "Print an orders file with its columns and two example lines",
		Example: "  towpath orders template > orders.csv",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(c.OutOrStdout(), ordersTemplate)
			return err
		},
	})
	return c
}

// ordersTemplate names a product that no plant has, so that the examples are
// not planned by mistake.
const ordersTemplate = `order,line,customer,product,quantity,ship_by,weight,kind,earliest_start,note
EXAMPLE-1,1,Invented Customer,YOUR-PRODUCT,4,2026-04-10,1,firm,,late costs per day
EXAMPLE-2,1,Invented Customer,YOUR-PRODUCT,2,2026-04-16T12:00,3,event,2026-03-23,worthless after its date
`
