// SPDX-License-Identifier: Apache-2.0

package main

import (
	"encoding/json"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/stretchr/testify/require"

	"towpath/events/natslog"
)

func serveArgs(data, orders string, more ...string) []string {
	return append([]string{"serve", "--plant", bench, "--orders", orders, "--data", data, "--addr", "127.0.0.1:0", "--budget", "200ms"}, more...)
}

func TestServeKeepsWhatWasReported(t *testing.T) {
	data, orders := filepath.Join(t.TempDir(), "data"), someOrders(t, 2)
	p := begin(t, serveArgs(data, orders)...)
	p.until("/api/dates", "A1")
	p.until("/", "B1")

	step := []string{"--station", "B1", "--piece", "A1-1-01", "--operation", "join", "--by", "the test"}
	code, out, errs := towpath(t, append([]string{"report", "start", "--server", p.addr}, step...)...)
	require.Zero(t, code, errs)
	require.Contains(t, out, "recorded as number")
	_, log := p.get("/api/log")
	require.Contains(t, log, "the test", "who was answered and looks finds it")
	code, _, errs = towpath(t, append([]string{"report", "start", "--server", p.addr}, step...)...)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "already started by the test")
	require.Contains(t, errs, "hint: ")

	finish := append([]string{"report", "finish", "--nats", p.bus, "--plant", "bench", "--id", "finish-1"}, step...)
	code, out, errs = towpath(t, finish...)
	require.Zero(t, code, errs)
	require.Contains(t, out, "stored as number")
	code, out, errs = towpath(t, finish...)
	require.Zero(t, code, errs)
	require.Contains(t, out, "known already")
	p.until("/api/log", "finish-1")

	away := []string{"report", "absent", "--server", p.addr, "--crew", "joiners", "--why", "ill"}
	code, _, errs = towpath(t, away...)
	require.Zero(t, code, errs)
	code, _, errs = towpath(t, away...)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "1 of it are reported away already")
	code, _, errs = towpath(t, "report", "present", "--server", p.addr, "--crew", "joiners")
	require.Zero(t, code, errs)
	code, _, errs = towpath(t, append(away, "--from", "noon", "--until", "soon")...)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "--from \"noon\" is no instant")

	code, _, errs = towpath(t, serveArgs(data, orders)...)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "is in use by another towpath")

	require.Zero(t, p.interrupt(), "%s", p.errs)
	p = begin(t, serveArgs(data, someOrders(t, 3))...)
	p.until("/api/dates", "A3") // a line the shop did not know
	code, _, errs = towpath(t, append([]string{"report", "start", "--server", p.addr}, step...)...)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "already finished")
	require.Zero(t, p.interrupt(), "%s", p.errs)
}

func TestServeKeepsAWeekOfHistoryAtLeast(t *testing.T) {
	for _, days := range []string{"-1", "1", "6"} {
		code, _, errs := towpath(t, serveArgs(t.TempDir(), someOrders(t, 1), "--keep-days", days)...)
		require.Equal(t, 2, code)
		require.Contains(t, errs, "--keep-days "+days+": want 0, or 7 or more")
	}
	p := begin(t, serveArgs(t.TempDir(), someOrders(t, 1), "--keep-days", "7")...)
	p.until("/", "B1")
	require.Zero(t, p.interrupt(), "%s", p.errs)
}

func TestServeWarnsOfAnOpenAddress(t *testing.T) {
	p := begin(t, serveArgs(t.TempDir(), someOrders(t, 1), "--addr", "0.0.0.0:0")...)
	p.until("/", "B1")
	require.Zero(t, p.interrupt())
	require.Contains(t, p.errs.String(), "there is no login")
}

// broker is one that is not inside a towpath.
func broker(t *testing.T) string {
	t.Helper()
	s, err := server.NewServer(&server.Options{
		Host: "127.0.0.1", Port: server.RANDOM_PORT, JetStream: true, StoreDir: t.TempDir(), NoSigs: true, NoLog: true,
		MaxPayload: natslog.MaxPayload, SyncAlways: true,
	})
	require.NoError(t, err)
	s.Start()
	t.Cleanup(s.Shutdown)
	require.True(t, s.ReadyForConnections(30*time.Second))
	return s.ClientURL()
}

func TestServeOnAnotherBroker(t *testing.T) {
	url := broker(t)
	data := t.TempDir()
	p := begin(t, serveArgs(data, someOrders(t, 2), "--nats", url)...)
	p.until("/api/dates", "A2")
	require.Zero(t, p.interrupt(), "%s", p.errs)
	require.False(t, isExist(t, filepath.Join(data, "log")), "no log of its own")

	// Another folder on the same broker gives the same shop.
	p = begin(t, "serve", "--plant", bench, "--data", t.TempDir(), "--addr", "127.0.0.1:0", "--budget", "0", "--nats", url)
	p.until("/api/dates", "A2")
	require.Zero(t, p.interrupt(), "%s", p.errs)

	code, _, errs := towpath(t, "serve", "--plant", bench, "--data", t.TempDir(), "--addr", "127.0.0.1:0", "--nats", "nats://127.0.0.1:1")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "hint: is a NATS server")
}

// Two programs serve one shop: one plans, the other shows the same plan and takes
// reports; when the one that plans is killed, the other plans on.
func TestServeTakesOverWhoIsGone(t *testing.T) {
	url := broker(t)
	version := func(p *process) int {
		var plan struct{ Version int }
		if code, text := p.get("/api/plan"); code == http.StatusOK {
			require.NoError(t, json.Unmarshal([]byte(text), &plan))
		}
		return plan.Version
	}
	soon := func(so func() bool, what string) { require.Eventually(t, so, time.Minute, 20*time.Millisecond, what) }
	one := begin(t, serveArgs(t.TempDir(), someOrders(t, 2), "--nats", url)...)
	soon(func() bool { return version(one) > 0 }, "the first plans")
	two := begin(t, "serve", "--plant", bench, "--data", t.TempDir(), "--addr", "127.0.0.1:0", "--budget", "0", "--nats", url)
	soon(func() bool { return strings.Contains(two.errs.String(), "this one follows") }, "the second follows")
	soon(func() bool { return version(two) > 0 }, "the second shows the plan")

	tell := func(what ...string) {
		was := version(two)
		code, _, errs := towpath(t, append([]string{"report", "--server", two.addr}, what...)...)
		require.Zero(t, code, errs)
		soon(func() bool { return version(two) > was }, "another plan")
	}
	// So long that no plan stands, whatever the hour and the day of the test.
	tell("down", "--station", "B1", "--why", "fault", "--until", time.Now().AddDate(0, 0, 10).Format(time.RFC3339))
	require.NotContains(t, two.errs.String(), "plans here")
	one.kill()
	soon(func() bool { return strings.Contains(two.errs.String(), "plans here") }, "the second plans")
	tell("cancel", "--order", "A2", "--reason", "not wanted")
	require.Zero(t, two.interrupt(), "%s", two.errs)

	// What is asked of a cluster is checked before anything is opened.
	for _, bad := range [][]string{{"--replicas", "3"}, {"--replicas", "2", "--nats", url}} {
		code, _, errs := towpath(t, serveArgs(t.TempDir(), someOrders(t, 1), bad...)...)
		require.Equal(t, 2, code)
		require.Contains(t, errs, "--replicas")
	}
}
