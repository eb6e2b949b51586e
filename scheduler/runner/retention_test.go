// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler/runner"
)

// busy sends reports of a station that stops again and again, each at the
// instant it is sent.
func (s *shop) busy(from, n int) {
	now := start + resources.Tick(time.Since(s.began).Seconds())
	for i := from; i < from+n; i++ {
		s.log.send(s.t, events.Event{
			ID: fmt.Sprint("busy-", i), Kind: events.StationDown, Plant: "joinery", Station: "GLUE", At: now, Data: events.StationData{Why: fmt.Sprint("jam ", i)},
		})
	}
	s.settle()
}

// A mistake of yesterday that is found after a restart costs a fold from the
// snapshot before it, not from the log's beginning.
func TestVoidAfterARestartFoldsFromASnapshot(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer func() { s.end() }()
		s.store.every = 200
		s.open(1)
		s.busy(0, 500)
		s.must(op("early", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		s.busy(500, 700)
		s.end()
		s.start()
		s.log.followed, s.store.loaded = nil, nil
		s.must(voided("v", "early"))
		s.settle()
		require.NotEmpty(t, s.store.loaded)
		for _, from := range s.log.followed {
			require.Greater(t, from, uint64(200))
		}
		s.agree()
		for _, x := range s.store.snapshots {
			require.True(t, x.seq < 503 || x.seq > 1200, "one that holds the mistake was kept: %d", x.seq)
			folded, err := loadMap(x.kept)
			require.NoError(t, err)
			require.Equal(t, x.seq, folded.Seq)
		}
	})
}

// Without its file a store goes on from a snapshot, and what came since is
// folded onto it.
func TestStartFromASnapshot(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer func() { s.end() }()
		s.store.every = 100
		s.open(1)
		s.busy(0, 900)
		s.end()
		s.store.kept, s.log.followed = nil, nil
		s.start()
		s.settle()
		for _, from := range s.log.followed {
			require.NotZero(t, from)
		}
		s.agree()
	})
}

// A snapshot that cannot be opened is done without while the log has everything,
// and missed when it has not: nothing is taken for what cannot be known.
func TestStartWithALockedSnapshot(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		s.store.every = 100
		s.open(1)
		s.busy(0, 900)
		s.end()
		s.store.kept, s.store.locked = nil, errors.New("another program has it")
		s.start()
		s.settle()
		s.agree()
		s.store.every = 1
		s.busy(900, 1) // a snapshot
		s.end()
		last, err := s.log.Last(t.Context())
		require.NoError(t, err)
		require.NoError(t, s.log.Trim(t.Context(), last-1))
		s.store.kept = nil
		s.start()
		require.ErrorContains(t, <-s.ended, "another program has it")
		s.stop()
	})
}

// What is older than is to be kept goes once a snapshot holds its meaning, and
// the shop is the same as if nothing had gone.
func TestOldHistoryIsLetGoOf(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		keep := func(o *runner.Options) { o.Keep = 10 * resources.Hour }
		s := newShop(t, keep)
		defer func() { s.end() }()
		s.store.every = 50
		s.open(1)
		s.must(op("old", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		first := func() uint64 {
			seq, err := s.log.First(t.Context())
			require.NoError(t, err)
			return seq
		}
		hour := 0
		for ; hour < 10; hour++ {
			s.busy(100*hour, 60)
			require.EqualValues(t, 1, first(), "hour %d: nothing is old yet", hour)
			time.Sleep(time.Hour)
		}
		for ; hour < 14; hour++ {
			s.busy(100*hour, 60)
			time.Sleep(time.Hour)
		}
		require.Greater(t, first(), uint64(60))
		last := s.runner.Picture().Seq
		require.Less(t, first(), last-500, "what is not old stays")
		require.GreaterOrEqual(t, s.store.snapshots[0].seq+1, first(), "the oldest snapshot goes on into the log")
		s.agree() // with a fold of all that ever was

		for range 2 { // the same after a restart
			before := s.runner.Picture().State.Hash()
			_, err := s.report(voided("too-late", "old"))
			require.ErrorContains(t, err, "is no longer kept; correct it by reporting how things are now")
			var refusal *runner.Refusal
			require.ErrorAs(t, err, &refusal)
			require.Equal(t, before, s.runner.Picture().State.Hash())
			s.must(voided(fmt.Sprint("in-time-", hour), fmt.Sprintf("busy-%d", 100*(hour-3)+5)))
			s.settle()
			s.agree()
			s.end()
			s.start(keep)
			hour--
		}
		// Over the bus it is stored, rejected and shown.
		late := voided("too-late-by-bus", "old")
		late.Plant, late.At = "joinery", start
		s.skip = s.log.send(t, late)
		s.settle()
		rejects := s.runner.Picture().Rejects
		require.Equal(t, "too-late-by-bus", rejects[len(rejects)-1].ID)
		require.Contains(t, rejects[len(rejects)-1].Reason, "is no longer kept")
		s.agree()
		s.must(voided("again", fmt.Sprintf("busy-%d", 100*(hour-1)+7))) // a fold that meets it
		s.settle()
		s.agree()

		// And without the store's file, from the oldest snapshot on.
		s.end()
		s.store.kept = nil
		s.store.snapshots = s.store.snapshots[:1]
		s.start(keep)
		s.settle()
		s.agree()
	})
}

// A log without its beginning and without the snapshot that stands for it is
// no shop to go on with: a person must put the snapshot back.
func TestWithoutItsBeginningAndASnapshotItDoesNotStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		s.open(1)
		s.busy(0, 100)
		s.end()
		s.log.gone = 50
		s.store.kept = nil
		s.start()
		require.ErrorContains(t, <-s.ended, "the log begins with number 51 and no stored state reaches it: put the data folder's snapshots back from a backup")
	})
}
