// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// FuzzReadPlant holds the reader to its contract on any bytes: a plant and no
// error, or no plant and at least one; and what it calls a plant passes the
// same checks again, without the stations that were dropped.
func FuzzReadPlant(f *testing.F) {
	for _, file := range []string{
		"../testdata/plants/bench.yaml", "../testdata/plants/every-key.yaml", "../testdata/plants/bad/slips.yaml",
	} {
		text, err := os.ReadFile(file)
		require.NoError(f, err)
		f.Add(text)
	}
	for _, text := range []string{
		"", "a", "- a", "id: *x", "a: &a [*a]", "<<: {a: 1}", "? [a]\n: b", "id: !!binary aGk=", "\xff\xfe", "a\x00",
		"--- a\n--- b", "{a: {b: {c: [", "id: |\n  x\n", waits, bomb(),
		"id: x\nzone: UTC\ncalendars: [{id: c, exceptions: [{open: 2026-03-02 06:00, for: 1h, repeat: FREQ=HOURLY}]}]",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, findings := resources.ReadPlant("f.yaml", text)
		require.Equal(t, p == nil, resources.HasErrors(findings))
		if p != nil {
			require.False(t, resources.HasErrors(resources.ValidatePlant(p)))
		}
	})
}
