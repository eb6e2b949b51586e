// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// runPromised runs towpath promise on the demo.
func runPromised(t *testing.T, args ...string) (out, errs string, code int) {
	t.Helper()
	demo := filepath.Join("..", "..", "testdata", "demo")
	var o, e bytes.Buffer
	root := newRoot(&o, &e)
	root.SetArgs(append([]string{
		"promise", "--plant", filepath.Join(demo, "plant.yaml"), "--orders", filepath.Join(demo, "orders.csv"),
		"--iterations", "1", "--workers", "1",
	}, args...))
	code = exitCode(&e, root.Execute())
	return o.String(), e.String(), code
}

func TestPromiseAnswersInJSONAndText(t *testing.T) {
	out, errs, code := runPromised(t, "--product", "HS-M", "--quantity", "2", "--wish", "2026-03-27", "--json")
	require.Zero(t, code, errs)
	var got struct {
		Now      time.Time
		WishDue  time.Time `json:"wish_due"`
		Earliest struct{ Ready, Ship time.Time }
		Meets    bool
		Moved    []any
	}
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	require.Equal(t, "2026-03-27T16:00:00Z", got.WishDue.Format(time.RFC3339))
	require.False(t, got.Earliest.Ship.Before(got.Earliest.Ready))
	require.Equal(t, got.Meets, !got.Earliest.Ship.After(got.WishDue))
	require.NotNil(t, got.Moved)

	out, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "2", "--wish", "2026-03-27")
	require.Zero(t, code, errs)
	require.Contains(t, out, "earliest shipment")
	require.Contains(t, out, "nothing is reserved")
}

func TestPromiseSaysAllThatIsWrongAtOnce(t *testing.T) {
	out, errs, code := runPromised(t, "--product", "bicycle", "--quantity", "1000000", "--wish", "2026-02-01")
	require.Equal(t, exitUsage, code)
	require.Empty(t, out)
	for _, text := range []string{"--product: the plant makes no such product", "--quantity: out of range; found \"1000000\"; allowed: 1 to 1000", "--wish: is in the past"} {
		require.Contains(t, errs, text)
	}
	_, errs, code = runPromised(t, "--product", "HS-M", "--quantity", "1", "--wish", "soon")
	require.Equal(t, exitUsage, code)
	require.Contains(t, errs, "cannot be read as a date")
}
