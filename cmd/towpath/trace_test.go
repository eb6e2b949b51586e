// SPDX-License-Identifier: Apache-2.0

package main

import (
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/web/view"
)

// A running shop and its stopped data folder answer the same about a piece.
func TestTraceFromAShopAndFromItsFolder(t *testing.T) {
	data, orders := filepath.Join(t.TempDir(), "data"), someOrders(t, 2)
	p := begin(t, serveArgs(data, orders)...)
	p.until("/api/dates", "A1")
	code, _, errs := towpath(t, "report", "start", "--server", p.addr, "--station", "B1", "--piece", "A1-1-01", "--operation", "join")
	require.Zero(t, code, errs)
	traced := func(from ...string) view.TraceSheet {
		var sheet view.TraceSheet
		code, out, errs := towpath(t, append([]string{"trace", "A1-1-01", "--json"}, from...)...)
		require.Zero(t, code, errs)
		require.NoError(t, json.Unmarshal([]byte(out), &sheet))
		return sheet
	}
	p.until("/api/trace?q=A1-1-01&as=piece", `"station":"B1"`) // pages follow the log within moments
	live := traced("--server", p.addr)
	require.Equal(t, "piece", live.Kind)
	require.NotNil(t, live.Piece)
	require.Zero(t, p.interrupt(), "%s", p.errs)
	require.Equal(t, live, traced("--data", data))

	code, text, errs := towpath(t, "trace", "A1-1-01", "--data", data)
	require.Zero(t, code, errs)
	require.Contains(t, text, "join")
	require.Contains(t, text, "B1")
	require.Contains(t, text, "\nwork\n")
	require.NotContains(t, text, "results", "none yet")
	code, text, errs = towpath(t, "trace", "A1-1-02", "--data", data)
	require.Zero(t, code, errs)
	require.Regexp(t, `^A1-1-02: [^\n]+\n  nothing has been done on it yet\n$`, text)
	for _, bad := range [][]string{
		{"trace", "A1-1-01"},
		{"trace", "--data", data},
		{"trace", "A1-1-01", "--data", data, "--server", p.addr},
		{"trace", "--lot", "L", "--data", data},
		{"trace", "NO-SUCH", "--data", data},
		{"trace", "A1-1-01", "--data", t.TempDir()},
	} {
		code, out, errs := towpath(t, bad...)
		require.NotZero(t, code, bad)
		require.Empty(t, out, bad)
		require.Contains(t, errs, "hint: ", bad)
	}
}
