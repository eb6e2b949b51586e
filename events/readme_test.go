// SPDX-License-Identifier: Apache-2.0

package events_test

import (
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
)

// The page a station's programmer reads must be true.
func TestReadmeIsTrue(t *testing.T) {
	file, err := os.ReadFile("README.md")
	require.NoError(t, err)
	page := string(file)

	example := regexp.MustCompile("(?s)```json\n(.*?)```").FindStringSubmatch(page)
	require.Len(t, example, 2)
	e, err := events.Decode([]byte(example[1]))
	require.NoError(t, err)
	body, err := events.Encode(e)
	require.NoError(t, err)
	require.JSONEq(t, example[1], string(body))

	for _, k := range events.Kinds() {
		noun, verb, _ := strings.Cut(string(k), ".")
		row := regexp.MustCompile("(?m)^\\| (`" + string(k) + "`|`" + noun + "\\.[^|]*`(" + string(k) + "|\\." + verb + ")`)")
		require.Regexp(t, row, page, "a row with %s", k)
	}

	var m map[string]any
	require.NoError(t, json.Unmarshal(body, &m))
	m["data"] = map[string]any{"peice": "x", "piece": "y", "operation": "z"}
	text, err := json.Marshal(m)
	require.NoError(t, err)
	_, err = events.Decode(text)
	require.Contains(t, page, err.Error())
	_, err = events.Decode([]byte(strings.Replace(string(body), "2026-03-02T06:00:00Z", "1970-01-01T00:00:41Z", 1)))
	require.Contains(t, page, err.Error())
}
