// SPDX-License-Identifier: Apache-2.0

package main

import (
	"path/filepath"
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

func TestServeOnAnotherBroker(t *testing.T) {
	s, err := server.NewServer(&server.Options{
		Host: "127.0.0.1", Port: server.RANDOM_PORT, JetStream: true, StoreDir: t.TempDir(), NoSigs: true, NoLog: true,
		MaxPayload: natslog.MaxPayload, SyncAlways: true,
	})
	require.NoError(t, err)
	s.Start()
	defer s.Shutdown()
	require.True(t, s.ReadyForConnections(30*time.Second))

	data := t.TempDir()
	p := begin(t, serveArgs(data, someOrders(t, 2), "--nats", s.ClientURL())...)
	p.until("/api/dates", "A2")
	require.Zero(t, p.interrupt(), "%s", p.errs)
	require.False(t, isExist(t, filepath.Join(data, "log")), "no log of its own")

	// Another folder on the same broker gives the same shop.
	p = begin(t, "serve", "--plant", bench, "--data", t.TempDir(), "--addr", "127.0.0.1:0", "--budget", "0", "--nats", s.ClientURL())
	p.until("/api/dates", "A2")
	require.Zero(t, p.interrupt(), "%s", p.errs)

	code, _, errs := towpath(t, "serve", "--plant", bench, "--data", t.TempDir(), "--addr", "127.0.0.1:0", "--nats", "nats://127.0.0.1:1")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "hint: is a NATS server")
}
