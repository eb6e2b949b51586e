// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events/natslog"
)

// term is short, so that tests need not wait long for one to end.
const term = 500 * time.Millisecond

// keep has a program try for the lease until stop is called.
func keep(t *testing.T, l *natslog.Log, who string) (x *natslog.Lease, stop func()) {
	t.Helper()
	x, err := l.Lease(t.Context(), who)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { x.Keep(ctx); close(done) }()
	stop = func() { cancel(); <-done }
	t.Cleanup(stop)
	return x, stop
}

func soon(t *testing.T, x *natslog.Lease, what string) {
	t.Helper()
	require.Eventually(t, x.Held, time.Minute, 5*time.Millisecond, what)
}

// One of several has the lease, for longer than a term; when it ends, the next
// has it, and no two at a time.
func TestOneHasTheLease(t *testing.T) {
	conf := natslog.Config{Plant: "Demo shop. No 1", Dir: t.TempDir(), Term: term}
	home := openWith(t, conf)
	conf.Dir, conf.URL = "", home.URL()
	one, endOne := keep(t, home, "one")
	soon(t, one, "it is free")
	two, _ := keep(t, openWith(t, conf), "two")
	for until := time.Now().Add(3 * term); time.Now().Before(until); time.Sleep(term / 50) {
		// On a busy machine the first may be late with its word and lose it, but
		// they never have it both.
		if two.Held() {
			require.False(t, one.Held())
		}
	}
	endOne()
	require.False(t, one.Held())
	soon(t, two, "it was given back")

	conf.Plant = "other"
	other, _ := keep(t, openWith(t, conf), "other")
	soon(t, other, "another plant's lease is another")
}

// Who falls silent loses it after a term and knows that by itself.
func TestTheLeaseEndsWithItsHolder(t *testing.T) {
	home := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir(), Term: term})
	conf := natslog.Config{Plant: "demo", URL: home.URL(), Term: term}
	gone := openWith(t, conf)
	one, _ := keep(t, gone, "one")
	soon(t, one, "it is free")
	gone.Close()
	two, _ := keep(t, home, "two")
	soon(t, two, "the term is over")
	require.False(t, one.Held())
}

// Who comes back under its name need not wait for the term to end.
func TestTheLeaseIsItsHoldersAfterARestart(t *testing.T) {
	home := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir(), Term: time.Hour})
	conf := natslog.Config{Plant: "demo", URL: home.URL(), Term: time.Hour}
	first := openWith(t, conf)
	x, err := first.Lease(t.Context(), "one")
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	done := make(chan struct{})
	go func() { x.Keep(ctx); close(done) }()
	soon(t, x, "it is free")
	first.Close() // it cannot give it back
	cancel()
	<-done
	require.False(t, x.Held())

	again, _ := keep(t, openWith(t, conf), "one")
	soon(t, again, "it is its own")
}
