// SPDX-License-Identifier: Apache-2.0

package resources

// Sheet is a table for a spreadsheet or a CSV file: rows of texts, numbers and
// Ticks, the first row the columns' names.
type Sheet struct {
	Name string
	Rows [][]any
}
