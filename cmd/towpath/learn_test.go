// SPDX-License-Identifier: Apache-2.0

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/learn"
)

// A running shop and its stopped data folder say the same, and the plant file
// written is the one in force as long as too little was seen to propose
// anything.
func TestLearnFromAShopAndFromItsFolder(t *testing.T) {
	data, orders := filepath.Join(t.TempDir(), "data"), someOrders(t, 2)
	p := begin(t, serveArgs(data, orders)...)
	p.until("/api/dates", "A1")
	for _, verb := range []string{"start", "finish"} {
		code, _, errs := towpath(t, "report", verb, "--server", p.addr, "--station", "B1", "--piece", "A1-1-01", "--operation", "join")
		require.Zero(t, code, errs)
		time.Sleep(1100 * time.Millisecond) // instants are whole seconds
	}
	learned := func(from ...string) learn.Report {
		var r learn.Report
		code, out, errs := towpath(t, append([]string{"learn", "--json"}, from...)...)
		require.Zero(t, code, errs)
		require.NoError(t, json.Unmarshal([]byte(out), &r))
		return r
	}
	live := learned("--server", p.addr)
	require.Equal(t, 1, live.Jobs)
	require.True(t, live.Log)
	require.Zero(t, p.interrupt(), "%s", p.errs)
	require.Equal(t, live.Proposals, learned("--data", data).Proposals)

	out := filepath.Join(t.TempDir(), "learned.yaml")
	code, text, errs := towpath(t, "learn", "--data", data, "--all", "--out", out)
	require.Zero(t, code, errs)
	require.Contains(t, text, "too few: 1 of 10")
	require.Contains(t, text, "nothing has been changed")
	want, err := os.ReadFile(bench)
	require.NoError(t, err)
	got, err := os.ReadFile(out)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))

	for _, bad := range [][]string{{"learn"}, {"learn", "--data", "a", "--server", "b"}, {"learn", "--data", t.TempDir()}} {
		code, _, errs := towpath(t, bad...)
		require.Equal(t, 2, code)
		require.Contains(t, errs, "hint: ")
	}
}
