// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Text must stand out from what is behind it: contrast of at least 4.5 to 1,
// WCAG 2.2, success criterion 1.4.3, in the light and in the dark theme.
func TestTextStandsOut(t *testing.T) {
	css, err := os.ReadFile("assets/base.css")
	require.NoError(t, err)
	themes := regexp.MustCompile(`(?s):root \{(.*?)\n\s*\}`).FindAllStringSubmatch(string(css), -1)
	require.Len(t, themes, 2)
	colours := map[string]string{}
	for i, name := range []string{"light", "dark"} {
		for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6})`).FindAllStringSubmatch(themes[i][1], -1) {
			colours[m[1]] = m[2]
		}
		for _, pair := range [][2]string{
			{"ink", "paper"}, {"ink", "card"}, {"soft", "paper"}, {"soft", "card"}, {"soft", "faint"}, {"soft", "late-fill"}, {"ink", "late-fill"},
			{"ink", "warn-fill"}, {"ink", "plan-fill"}, {"ink", "run-fill"}, {"soft", "done-fill"}, {"accent-ink", "accent"}, {"accent", "card"},
			{"good", "card"}, {"good", "paper"}, {"tight", "card"}, {"tight", "paper"}, {"late", "card"}, {"late", "paper"}, {"late", "late-fill"},
			{"lost-ink", "lost-fill"}, {"held", "card"}, {"held", "paper"}, {"run", "card"},
		} {
			require.GreaterOrEqual(t, contrast(t, colours[pair[0]], colours[pair[1]]), 4.5, "%s: %s on %s", name, pair[0], pair[1])
		}
	}
}

// contrast is defined by WCAG 2.2; black on white is 21.
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	require.Len(t, colour, 7, "a colour is missing")
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		n, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		require.NoError(t, err)
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

func TestContrastKnowsItsEnds(t *testing.T) {
	require.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), 0.001)
	require.InDelta(t, 4.54, contrast(t, "#767676", "#ffffff"), 0.01) // the lightest grey that passes on white
}

// What the pages load is small and their own.
func TestAssetsAreOurOwn(t *testing.T) {
	files, err := os.ReadDir("assets")
	require.NoError(t, err)
	total := 0
	for _, f := range files {
		text, err := os.ReadFile("assets/" + f.Name())
		require.NoError(t, err)
		total += len(text)
		require.NotRegexp(t, `https?://(?:[^w]|w[^w])`, strings.ReplaceAll(string(text), "http://www.w3.org/2000/svg", ""), f.Name())
		require.NotContains(t, string(text), "eval(")
		require.NotContains(t, string(text), "innerHTML")
	}
	require.Less(t, total, 100_000)
}
