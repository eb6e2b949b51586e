// SPDX-License-Identifier: Apache-2.0

package xlsx

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// The built-in formats of ISO/IEC 29500-1, 18.8.30, one by one.
func TestBuiltInDates(t *testing.T) {
	var dates []int
	for id := -1; id < 200; id++ {
		if isDateID(id) {
			dates = append(dates, id)
		}
	}
	require.Equal(t, []int{
		14, 15, 16, 17, 18, 19, 20, 21, 22,
		27, 28, 29, 30, 31, 32, 33, 34, 35, 36,
		45, 46, 47,
		50, 51, 52, 53, 54, 55, 56, 57, 58,
	}, dates)
}

// A date is written as precisely as it is meant.
func TestDatesAreWrittenToTheSecond(t *testing.T) {
	for serial, want := range map[string]string{
		"45000":              "2023-03-15",
		"45000.5":            "2023-03-15 12:00",
		"45000.500011574074": "2023-03-15 12:00:01",
	} {
		require.Equal(t, want, plainDate(dateMark+serial, false))
	}
	require.Equal(t, "2958466", plainDate(dateMark+"2958466", false), "the year 10000 is no date")
}

// As many columns as are allowed are read, blank ones behind them do no harm.
func TestAsManyColumnsAsAllowed(t *testing.T) {
	row := append(slices.Repeat([]string{"x"}, maxColumns), " ", "")
	cells, err := plainCells(slices.Clone(row), false)
	require.NoError(t, err)
	require.Len(t, cells, maxColumns)
	row[maxColumns] = "x"
	_, err = plainCells(row, false)
	require.ErrorIs(t, err, errColumns)
}
