// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/promise"
)

// runPromised runs towpath promise on the demo's plant with the first of its orders.
func runPromised(t *testing.T, args ...string) (out, errs string, code int) {
	t.Helper()
	demo := filepath.Join("..", "..", "testdata", "demo")
	var o, e bytes.Buffer
	root := newRoot(&o, &e)
	root.SetArgs(append([]string{
		"promise", "--plant", filepath.Join(demo, "plant.yaml"), "--orders", demoStart(t, 12),
		"--iterations", "1", "--workers", "1",
	}, args...))
	code = exitCode(&e, root.Execute())
	return o.String(), e.String(), code
}

func TestPromiseAnswersInJSONAndText(t *testing.T) {
	out, errs, code := runPromised(t, "--product", "HS-M", "--quantity", "12", "--wish", "2026-03-05", "--json")
	require.Zero(t, code, errs)
	var got struct {
		Now       time.Time
		WishDue   time.Time `json:"wish_due"`
		Earliest  struct{ Ready, Ship time.Time }
		Meets     bool
		Moved     []any
		Chances   *struct{ Replications int }
		Whole     bool
		Otherwise *struct{ Tried int }
	}
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	require.Equal(t, "2026-03-05T16:00:00Z", got.WishDue.Format(time.RFC3339))
	require.False(t, got.Earliest.Ship.Before(got.Earliest.Ready))
	require.Equal(t, got.Meets, !got.Earliest.Ship.After(got.WishDue))
	require.NotNil(t, got.Moved)

	require.NotNil(t, got.Chances)
	require.Equal(t, 400, got.Chances.Replications)
	require.False(t, got.Meets)
	require.NotNil(t, got.Otherwise, "a wish that cannot be met has alternatives looked for")
	require.True(t, got.Whole)

	out, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "2", "--wish", "2026-03-27", "--quick")
	require.Zero(t, code, errs)
	require.Contains(t, out, "earliest shipment")
	require.Contains(t, out, "nothing is reserved")
	require.NotContains(t, out, "histories")
	require.NotContains(t, out, "more closely")

	out, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "2", "--wish", "2026-03-27")
	require.Zero(t, code, errs)
	require.Regexp(t, `answered in \d+ ms, looked at more closely in \d+\.\d s; nothing is reserved`, out)
}

func TestPromiseSaysAllThatIsWrongAtOnce(t *testing.T) {
	out, errs, code := runPromised(t, "--product", "bicycle", "--quantity", "1000000", "--wish", "2026-02-01")
	require.Equal(t, exitUsage, code)
	require.Empty(t, out)
	for _, text := range []string{"--product: the plant makes no such product", "--quantity: out of range; found \"1000000\"; allowed: 1 to 1000", "--wish: is in the past"} {
		require.Contains(t, errs, text)
	}
	_, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "1", "--wish", "2026-03-27", "--confidence", "1")
	require.Equal(t, exitUsage, code)
	require.Contains(t, errs, "--confidence: out of range")
	_, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "1", "--wish", "soon")
	require.Equal(t, exitUsage, code)
	require.Contains(t, errs, "cannot be read as a date")
	_, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "1", "--wish", "2026-03-29 01:30")
	require.Equal(t, exitUsage, code)
	require.Contains(t, errs, `--wish "2026-03-29 01:30": the clocks go forward over this time, to 2026-03-29 02:30`)
	_, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "900", "--wish", "2026-03-27")
	require.Equal(t, exitFindings, code)
	require.Contains(t, errs, "short of")
	require.Contains(t, errs, "of what is asked for")
	require.NotContains(t, errs, "order asked")
	require.Contains(t, errs, "hint: ask for less, or enter a receipt")
}

// An alternative is printed with what it asks for and what it does to others.
func TestAlternativesArePrinted(t *testing.T) {
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	monday := resources.Tick(time.Date(2026, 3, 2, 16, 0, 0, 0, zone).Unix())
	var text bytes.Buffer
	printOtherwise(&lines{out: &text}, zone, &promise.Answer{WishDue: monday, Otherwise: &promise.Otherwise{Tried: 7, Alternatives: []promise.Alternative{{
		Kind: promise.Shift, Words: "extra shift: bonders", Meets: true, ByWish: 2, PersonHours: 8, OvenHours: -1.5, LaterHours: 3,
		Parts:   []promise.Delivery{{Quantity: 2, Date: promise.Date{Ship: monday}}},
		Moved:   []promise.Moved{{Order: "1001", Line: "1", Later: 10800, Spare: 7200}},
		Chances: &promise.AlternativeChances{Chance: 0.9, Replications: 400, Others: []promise.Risked{{Order: "1001", Was: 0.8, Will: 0.7}}},
	}}}})
	require.Equal(t, `
what else could be done, no date broken (7 ways tried):
  1. extra shift: bonders
       2 ship Mon 2 Mar 2026 16:00 GMT   in time for the wish
       8.0 person-hours, -1.5 oven hours, 1 order line later, 3.0 h in all, 2.0 h or more to spare, holds in 90 % of 400 histories, 1 order with a lower chance, 1001 most (80 to 70 %)
an extra shift is for the people, the site's rules and local law to allow

`, text.String())
}
