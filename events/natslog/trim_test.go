// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"context"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events/natslog"
)

// filled is a log of n events.
func filled(t testing.TB, l *natslog.Log, n int) {
	_, err := l.Append(t.Context(), numbered("a", 0, n), 0)
	require.NoError(t, err)
}

func first(t testing.TB, l *natslog.Log) uint64 {
	seq, err := l.First(t.Context())
	require.NoError(t, err)
	return seq
}

func TestTrimLetsGoOfTheOldest(t *testing.T) {
	dir := t.TempDir()
	l := open(t, dir)
	require.EqualValues(t, 1, first(t, l), "an empty log")
	require.NoError(t, l.Trim(t.Context(), 5))
	filled(t, l, 12_000)
	identity := l.Identity()
	for _, through := range []uint64{0, 1, 9_000, 10_000, 12_001, 1 << 40} {
		require.NoError(t, l.Trim(t.Context(), through))
		require.EqualValues(t, 1, first(t, l), "through %d", through)
	}
	require.NoError(t, l.Trim(t.Context(), 11_500))
	require.EqualValues(t, 1_501, first(t, l), "the margin stays")
	require.NoError(t, l.Trim(t.Context(), 11_500))
	require.EqualValues(t, 1_501, first(t, l))

	all := readAll(t, l) // from the beginning, which is later now
	require.EqualValues(t, 1_501, all[0].Seq)
	require.EqualValues(t, 12_000, all[len(all)-1].Seq)
	require.Len(t, all, 10_500)
	require.Equal(t, identity, l.Identity())

	_, err := l.Append(t.Context(), numbered("b", 0, 2_000), 12_000)
	require.NoError(t, err)
	require.EqualValues(t, 1_501, first(t, l), "no limit is left behind")
	l.Close()
	l = open(t, dir)
	require.Equal(t, identity, l.Identity())
	require.EqualValues(t, 1_501, first(t, l))
}

// What is published while the log is trimmed takes nothing from behind the
// place it was to be trimmed to.
func TestTrimWhileEventsCome(t *testing.T) {
	l := open(t, t.TempDir())
	filled(t, l, 11_000)
	var writers sync.WaitGroup
	writers.Go(func() {
		for i := range 5 {
			_, err := l.Append(context.Background(), numbered("b", i*500, 500), natslog.AnyLast)
			if err != nil {
				t.Error(err)
			}
		}
	})
	require.NoError(t, l.Trim(t.Context(), 10_900))
	writers.Wait()
	got := first(t, l)
	require.Greater(t, got, uint64(1))
	require.LessOrEqual(t, got, uint64(10_901))
	all := readAll(t, l)
	require.EqualValues(t, got, all[0].Seq)
	require.EqualValues(t, 13_500, all[len(all)-1].Seq)
	require.Len(t, all, int(13_500-got+1), "no gaps")
}
