// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Long work says how far it is and can be given up: what was found until then is
// compared.
func TestWhatIfIsGivenUpInTheTerminal(t *testing.T) {
	changes := write(t, "changes.yaml", "name: one less\nchanges:\n  - drop_order: {order: 1002}\n")
	demo := filepath.Join("..", "..", "testdata", "demo")
	cmd := exec.Command("towpath", "whatif", "--plant", filepath.Join(demo, "plant.yaml"), "--orders", demoStart(t, 12), "--changes", changes, "--budget", "10m", "--json")
	var out bytes.Buffer
	errs := &lockedBuffer{}
	cmd.Stdout, cmd.Stderr = &out, errs
	require.NoError(t, cmd.Start())
	require.Eventually(t, func() bool { return strings.Contains(errs.String(), "of 600 s") }, time.Minute, 20*time.Millisecond)
	require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
	require.Error(t, cmd.Wait())
	require.Equal(t, 1, cmd.ProcessState.ExitCode(), errs.String())
	require.Contains(t, errs.String(), "stopped before the budget was spent")
	var got struct {
		Verified, Whole bool
		Dropped         []struct{ Order string }
	}
	require.NoError(t, json.Unmarshal(out.Bytes(), &got), out.String())
	require.True(t, got.Verified)
	require.False(t, got.Whole)
	require.Equal(t, "1002", got.Dropped[0].Order)
}

// Every mistake is told at once with its line, and nothing is computed.
func TestWhatIfSaysAllThatIsWrongAtOnce(t *testing.T) {
	changes := write(t, "changes.yaml", "name: wrong\nchanges:\n  - drop_order: {order: A9}\n  - station: {id: b1, count: 2}\n  - down: {station: B1}\n")
	code, out, errs := towpath(t, "whatif", "--plant", bench, "--orders", someOrders(t, 2), "--changes", changes)
	require.Equal(t, 1, code)
	require.Empty(t, out)
	require.Contains(t, errs, "changes.yaml:3: error: changes[0].drop_order.order: names no open order")
	require.Contains(t, errs, "changes.yaml:5: error: changes[2].down: must say how long")
	require.Contains(t, errs, "in the changes; nothing was done")
}
