// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events/natslog"
)

// What is said beside the log is heard and answered, and nothing of it is kept.
func TestTalkIsBesideTheLog(t *testing.T) {
	log := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir()})
	here := log.Talk()
	there, err := natslog.Join(log.URL(), "the test")
	require.NoError(t, err)
	t.Cleanup(there.Close)
	require.Equal(t, natslog.MaxPayload, there.Most())
	require.Equal(t, log.URL(), there.URL())

	heard := make(chan string, 1)
	stop, err := here.Hear("talk.of.it", func(data []byte) []byte {
		if string(data) == "one" {
			heard <- "one"
		}
		return append([]byte("yes: "), data...)
	})
	require.NoError(t, err)
	require.NoError(t, there.Say("talk.of.it", []byte("one")))
	require.Equal(t, "one", <-heard)
	answer, err := there.Ask(t.Context(), "talk.of.it", []byte("two"))
	require.NoError(t, err)
	require.Equal(t, "yes: two", string(answer))
	last, err := log.Last(t.Context())
	require.NoError(t, err)
	require.Zero(t, last)

	// Until the broker knows of the end each is answered, then each is told at once
	// that nobody hears it. Nobody is left to wait.
	stop()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for err == nil {
		answer, err = there.Ask(ctx, "talk.of.it", []byte("three"))
		if err == nil {
			require.Equal(t, "yes: three", string(answer))
		}
	}
	require.NoError(t, ctx.Err())
	require.ErrorIs(t, err, natslog.ErrUnavailable, "nobody hears it, and that is told at once")

	_, err = natslog.Join("nats://127.0.0.1:1", "the test")
	require.ErrorIs(t, err, natslog.ErrUnavailable)
}
