// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

func TestTickIsWrittenAsRFC3339(t *testing.T) {
	// 1985-04-12T23:20:50.52Z and the offset form are the examples of
	// RFC 3339 (Klyne, Newman, 2002), section 5.8.
	for text, want := range map[string]string{
		`"1985-04-12T23:20:50.52Z"`:   `"1985-04-12T23:20:50Z"`,
		`"1996-12-19T16:39:57-08:00"`: `"1996-12-20T00:39:57Z"`,
		`1`:                           `"1970-01-01T00:00:01Z"`,
		`-1`:                          `"1969-12-31T23:59:59Z"`,
		`""`:                          `""`,
		`0`:                           `""`,
		`"1970-01-01T00:00:00Z"`:      `""`,
	} {
		var at resources.Tick
		require.NoError(t, json.Unmarshal([]byte(text), &at), text)
		got, err := json.Marshal(at)
		require.NoError(t, err, text)
		require.Equal(t, want, string(got), text)
	}
}

func TestTickRefusesWhatIsNoInstant(t *testing.T) {
	for _, text := range []string{`"tomorrow"`, `"2026-02-30T00:00:00Z"`, `1.5`, `true`, `{}`, `"2026-03-02 06:00"`} {
		var at resources.Tick
		require.Error(t, json.Unmarshal([]byte(text), &at), text)
	}
	_, err := json.Marshal(resources.Tick(253402300800))
	require.ErrorContains(t, err, "RFC 3339")
}

func TestTickSurvivesJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := resources.Tick(rapid.Int64Range(-62167219200, 253402300799).Draw(t, "at"))
		text, err := json.Marshal(at)
		require.NoError(t, err)
		var back resources.Tick
		require.NoError(t, json.Unmarshal(text, &back))
		require.Equal(t, at, back)
	})
}
