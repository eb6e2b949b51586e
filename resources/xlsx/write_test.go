// SPDX-License-Identifier: Apache-2.0

package xlsx_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/resources/xlsx"
)

// What is written is read again, instants in the zone's local time.
func TestWhatIsWrittenIsRead(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	at := resources.Tick(time.Date(2026, 3, 30, 14, 5, 0, 0, zone).Unix())
	text, err := xlsx.Write([]resources.Sheet{
		{Name: "first", Rows: [][]any{{"name", "number", "when"}, {"=1+1", 2.5, at}, {"none", 3, resources.Tick(0)}}},
		{Name: "second", Rows: [][]any{{"other"}}},
	}, zone)
	require.NoError(t, err)
	rows, err := xlsx.Rows(text, "first")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"name", "number", "when"}, {"=1+1", "2.5", "2026-03-30 14:05"}, {"none", "3"}}, rows)
	rows, err = xlsx.Rows(text, "second")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"other"}}, rows)
}
