// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"towpath/events"
	"towpath/events/natslog"
	"towpath/resources"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		child(dir)
		return
	}
	goleak.VerifyTestMain(m)
}

// at is 2026-03-02T06:00:00Z.
const at resources.Tick = 1772431200

func event(id string) events.Event {
	return events.Event{
		ID: id, Kind: events.OperationStarted, Plant: "demo", Station: "W1", At: at,
		Data: events.OperationData{Piece: "2601-1-" + id, Operation: "wind"},
	}
}

// numbered makes n events with the IDs prefix-first, ….
func numbered(prefix string, first, n int) []events.Event {
	list := make([]events.Event, n)
	for i := range list {
		list[i] = event(fmt.Sprintf("%s-%06d", prefix, first+i))
	}
	return list
}

func open(t testing.TB, dir string) *natslog.Log {
	return openWith(t, natslog.Config{Plant: "demo", Dir: dir, Listen: natslog.InProcess})
}

func openWith(t testing.TB, c natslog.Config) *natslog.Log {
	l, err := natslog.Open(t.Context(), c)
	require.NoError(t, err)
	t.Cleanup(l.Close)
	return l
}

// readAll reads the whole log.
func readAll(t testing.TB, l *natslog.Log) []natslog.Entry {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	last, err := l.Last(ctx)
	require.NoError(t, err)
	if last == 0 {
		return nil
	}
	feed, err := l.Follow(ctx, 0)
	require.NoError(t, err)
	defer feed.Close()
	var all []natslog.Entry
	for len(all) == 0 || all[len(all)-1].Seq < last {
		group, err := feed.Next(ctx)
		require.NoError(t, err)
		require.NotEmpty(t, group)
		all = append(all, group...)
	}
	return all
}
