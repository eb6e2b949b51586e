// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"
)

// towpath runs the program and gives its exit code.
func towpath(t *testing.T, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	c := exec.Command("towpath", args...)
	c.Stdout, c.Stderr = &o, &e
	err := c.Run()
	if c.ProcessState == nil {
		require.NoError(t, err)
	}
	return c.ProcessState.ExitCode(), o.String(), e.String()
}

// write puts a file into the test's folder.
func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

const (
	demoPlant  = "../../testdata/demo/plant.yaml"
	demoOrders = "../../testdata/demo/orders.csv"
	bench      = "../../testdata/plants/bench.yaml"
)

func TestExitCodes(t *testing.T) {
	orders := write(t, "orders.csv", "order,line,customer,product,quantity,ship_by,weight,kind,earliest_start,note\nA,1,X,BOX,2,2026-03-10,1,firm,,\n")
	unknown := write(t, "orders.csv", "order,line,customer,product,quantity,ship_by,weight,kind,earliest_start,note\nA,1,X,BIX,2,2026-03-10,1,firm,,\n")
	broken := write(t, "plant.yaml", "id: x\nstations: 7\n")
	folder := t.TempDir()
	tests := []struct {
		name string
		code int
		args []string
	}{
		{"no command shows help", 0, nil},
		{"unknown command", 2, []string{"fly"}},
		{"unknown flag", 2, []string{"check", "--fast"}},
		{"required flag", 2, []string{"check"}},
		{"a word too many", 2, []string{"check", "--plant", bench, "more"}},
		{"good plant", 0, []string{"check", "--plant", bench}},
		{"good plant and orders", 0, []string{"check", "--plant", bench, "--orders", orders}},
		{"broken plant", 1, []string{"check", "--plant", broken}},
		{"unknown product", 1, []string{"check", "--plant", bench, "--orders", unknown}},
		{"no such file", 2, []string{"check", "--plant", "nowhere.yaml"}},
		{"a folder", 2, []string{"check", "--plant", folder}},
		{"plan of a broken plant", 1, []string{"plan", "--plant", broken, "--orders", orders}},
		{"bad instant", 2, []string{"plan", "--plant", bench, "--orders", orders, "--now", "soon"}},
		{"negative budget", 2, []string{"plan", "--plant", bench, "--orders", orders, "--budget", "-1s"}},
		{"no folder to write to", 2, []string{"plan", "--plant", bench, "--orders", orders, "--budget", "0", "--out", "nowhere/plan.json"}},
		{"report to nobody", 2, []string{"report", "up", "--station", "W1"}},
		{"report to both", 2, []string{"report", "up", "--station", "W1", "--server", "http://127.0.0.1:1", "--nats", "nats://127.0.0.1:1"}},
		{"report to no address", 2, []string{"report", "up", "--station", "W1", "--server", "here"}},
		{"report where nobody listens", 1, []string{"report", "up", "--station", "W1", "--server", "http://127.0.0.1:1"}},
		{"report without a verdict", 2, []string{"report", "result", "--piece", "P", "--operation", "o", "--gate", "g", "--server", "http://127.0.0.1:1"}},
		{"bus without the plant", 2, []string{"report", "up", "--station", "W1", "--nats", "nats://127.0.0.1:1"}},
		{"serve without data", 2, []string{"serve", "--plant", bench}},
		{"demo with a bad speed", 2, []string{"demo", "--speed", "0", "--addr", "127.0.0.1:0"}},
		{"bad address", 2, []string{"demo", "--addr", "nonsense"}},
		{"schema", 0, []string{"schema"}},
		{"template", 0, []string{"orders", "template"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			code, out, errs := towpath(t, tt.args...)
			require.Equal(t, tt.code, code, "%s\n%s", out, errs)
			if tt.code == 2 {
				require.True(t, strings.HasPrefix(errs, "towpath: "), errs)
			}
			for line := range strings.Lines(errs) {
				require.NotContains(t, line, "goroutine ")
				require.False(t, strings.HasSuffix(line, ".\n"), "messages have no full stop: %q", line)
			}
		})
	}
}

// TestEveryCommandHasAnExample keeps help complete.
func TestEveryCommandHasAnExample(t *testing.T) {
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		require.NotEmpty(t, c.Short, c.CommandPath())
		require.Contains(t, c.Example, "towpath", c.CommandPath())
		for _, sub := range c.Commands() {
			if sub.Name() != "help" && sub.Name() != "completion" {
				visit(sub)
			}
		}
	}
	visit(newRoot(os.Stdout, os.Stderr))
}

// planKeys are the documented keys of the JSON; programs read them.
var planKeys = []string{
	"orders", "on_time", "late", "lost", "weighted_tardiness_hours", "makespan_hours", "loads", "mean_load_fill",
	"changeovers", "resin_discarded_kg", "lower_bound", "verified", "elapsed_ms", "baseline",
}

func TestPlanJSONHasItsKeys(t *testing.T) {
	code, out, errs := towpath(t, "plan", "--plant", demoPlant, "--orders", demoOrders, "--budget", "0", "--json")
	require.Zero(t, code, errs)
	var got map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	for _, key := range planKeys {
		require.Contains(t, got, key)
	}
	require.Equal(t, true, got["verified"])
	require.Equal(t, "2026-03-02T06:00:00Z", got["now"], "the plant's own instant, not today")
	base, ok := got["baseline"].(map[string]any)
	require.True(t, ok)
	for _, key := range []string{"rule", "on_time", "late", "lost", "weighted_tardiness_hours"} {
		require.Contains(t, base, key)
	}
	require.Equal(t, "due-date", base["rule"])
	sum := func(m map[string]any) float64 {
		return m["on_time"].(float64) + m["late"].(float64) + m["lost"].(float64)
	}
	require.InDelta(t, got["orders"], sum(got), 0)
	require.InDelta(t, got["orders"], sum(base), 0)
}

func TestInterruptPrintsTheBestPlan(t *testing.T) {
	var out bytes.Buffer
	c := exec.Command("towpath", "plan", "--plant", demoPlant, "--orders", demoOrders, "--budget", "10m")
	c.Stdout = &out
	require.NoError(t, c.Start())
	// Until the signal handler is there, an interrupt would end the process;
	// it is there long before a second has passed.
	time.AfterFunc(2*time.Second, func() { _ = c.Process.Signal(syscall.SIGINT) })
	require.NoError(t, c.Wait())
	require.Contains(t, out.String(), "verified;")
	require.Contains(t, out.String(), "plain due-date order")
}

// TestReadmeTellsEveryKey keeps the page about the command true.
func TestReadmeTellsEveryKey(t *testing.T) {
	text, err := os.ReadFile("README.md")
	require.NoError(t, err)
	var keys func(x reflect.Type)
	keys = func(x reflect.Type) {
		for i := range x.NumField() {
			name, _, _ := strings.Cut(x.Field(i).Tag.Get("json"), ",")
			require.Contains(t, string(text), "`"+name+"`")
			if x.Field(i).Type.Kind() == reflect.Struct {
				keys(x.Field(i).Type)
			}
		}
	}
	keys(reflect.TypeFor[planReport]())
	for _, c := range newRoot(os.Stdout, os.Stderr).Commands() {
		if c.Name() != "help" && c.Name() != "completion" {
			require.Regexp(t, "(?m)^\\| `"+c.Name()+"[` ]", string(text))
		}
	}
}
