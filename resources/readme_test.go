// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// The format's page is held to the reader: its examples are read, and it
// speaks of every key.
func TestReadmeIsTrue(t *testing.T) {
	raw, err := os.ReadFile("README.md")
	require.NoError(t, err)
	text := string(raw)
	plant, findings := resources.ReadPlant("README.md", []byte(block(t, text, "yaml")))
	require.NotNil(t, plant, "%v", findings)
	require.Empty(t, findings)
	demo, _ := readDemo(t)
	lines, findings := resources.ReadOrders("README.md", []byte(block(t, text, "csv")), demo)
	require.Empty(t, findings)
	require.Len(t, lines, 2)
	for name := range resources.PlantFileKeys() {
		_, key, _ := strings.Cut(name, ".")
		require.Regexp(t, "`"+key+"(`|:)", text, "the page does not speak of %s", name)
	}
}

func block(t *testing.T, text, language string) string {
	_, after, found := strings.Cut(text, "```"+language+"\n")
	require.True(t, found)
	inside, _, found := strings.Cut(after, "```")
	require.True(t, found)
	return inside
}
