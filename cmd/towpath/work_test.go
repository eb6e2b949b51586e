// SPDX-License-Identifier: Apache-2.0

package main

import (
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A machine that helps plays histories of a shop on the same bus; when it is
// killed, the shop goes on alone.
func TestWorkHelpsAShop(t *testing.T) {
	url := broker(t)
	help, said := exec.Command("towpath", "work", "--nats", url, "--cores", "1"), &lockedBuffer{}
	help.Stdout, help.Stderr = said, said
	require.NoError(t, help.Start())
	soon := func(so func() bool, what string) {
		require.Eventually(t, so, time.Minute, 20*time.Millisecond, "%s; the helper says: %s", what, said)
	}
	soon(func() bool { return strings.Contains(said.String(), "lends 1 core to help the shops on "+url) }, "it says whom it helps")

	p := begin(t, serveArgs(t.TempDir(), someOrders(t, 150), "--nats", url, "--budget", "0", "--verbose")...)
	p.until("/api/plan", `"A150"`)
	code, text := p.send("/api/risk", `{"replications": 10000}`)
	require.Less(t, code, 300, text)
	soon(func() bool { return strings.Contains(p.errs.String(), "a helper comes") }, "it comes")
	code, text = p.send("/api/risk/stop", "")
	require.Less(t, code, 300, text)
	soon(func() bool { return strings.Contains(said.String(), "helped with=histories") }, "it did some")

	require.NoError(t, help.Process.Signal(syscall.SIGKILL))
	require.Error(t, help.Wait())
	code, text = p.send("/api/risk", `{"replications": 300}`)
	require.Less(t, code, 300, text)
	soon(func() bool { _, text := p.get("/api/risk"); return strings.Contains(text, `"state":"done"`) }, "the shop does without it")
	require.Zero(t, p.interrupt(), "%s", p.errs)
}

func TestWorkSaysWhatItLacks(t *testing.T) {
	code, _, errs := towpath(t, "work")
	require.Equal(t, 2, code)
	require.Contains(t, errs, "--nats is required")
	code, _, errs = towpath(t, "work", "--nats", "nats://127.0.0.1:1", "--cores", "0")
	require.Equal(t, 2, code)
	require.Contains(t, errs, "--cores 0: want 1 to")
	code, _, errs = towpath(t, "work", "--nats", "nats://127.0.0.1:1")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "hint: is a shop or a NATS server there?")
}
