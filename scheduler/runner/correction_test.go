// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"fmt"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

func voided(id, target string) events.Event {
	return events.Event{ID: id, Kind: events.EventVoided, Data: events.VoidData{Event: target, Why: "wrong scan"}}
}

// A wrong report is replaced in one go: the right one stands on the shop
// without the wrong one, or nothing changes.
func TestReplaceIsOneReport(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		s.must(op("wrong", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		right := op("right", events.OperationStarted, "SAW", "A-1-02", "saw", 1)
		_, err := s.report(right)
		require.ErrorContains(t, err, "SAW still has A-1-01 saw", "the place is taken while the wrong report stands")

		nobody := op("nobody", events.OperationStarted, "SAW", "Z-9", "saw", 1)
		_, err = s.report(voided("v0", "wrong"), nobody)
		require.ErrorContains(t, err, "there is no such piece")
		require.Equal(t, scheduler.Started, s.runner.Picture().State.Pieces["A-1-01"].Ops[0].Status, "all or nothing")

		out := s.must(voided("v1", "wrong"), right)
		require.NotZero(t, out.Seq)
		s.settle()
		state := s.runner.Picture().State
		require.Equal(t, scheduler.Planned, state.Pieces["A-1-01"].Ops[0].Status)
		require.Equal(t, scheduler.Started, state.Pieces["A-1-02"].Ops[0].Status)
		s.agree()
	})
}

// What stood on a mistake falls with it, and whoever corrects is told.
func TestVoidTellsWhatFallsWithIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		s.must(op("start", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		s.must(op("pause", events.OperationPaused, "SAW", "A-1-01", "saw", 2))
		out := s.must(voided("sorry", "start"))
		require.Len(t, out.Notes, 1)
		require.Contains(t, out.Notes[0].Text, "operation.paused, cannot stand without it")
		s.settle()
		s.agree()
	})
}

func TestVoidsThatCannotBeChangeNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		s.must(op("start", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		s.must(voided("v", "start"))
		s.settle()
		last, _ := s.log.Last(t.Context())
		hash := s.runner.Picture().State.Hash()
		far := op("far", events.OperationStarted, "SAW", "A-1-01", "saw", resources.Seconds(365*86400))
		for want, e := range map[string]events.Event{
			"it was voided already, by v; to bring it back, void v": voided("again", "start"),
			"no event of that ID was applied":                       voided("none", "never-sent"),
			"declare the right plant instead":                       voided("plant", "plant-1"),
			"set the clock of the machine that reports":             far,
		} {
			_, err := s.report(e)
			require.ErrorContains(t, err, want)
			var refusal *runner.Refusal
			require.ErrorAs(t, err, &refusal)
			require.Zero(t, refusal.Seq, "nothing was stored")
		}
		s.settle()
		now, _ := s.log.Last(t.Context())
		require.Equal(t, last, now)
		require.Equal(t, hash, s.runner.Picture().State.Hash())
		// The same over the bus is stored, rejected, shown, and changes nothing.
		bad := voided("again-by-bus", "start")
		bad.Plant, bad.At = "joinery", start
		s.log.send(t, bad)
		s.settle()
		rejects := s.runner.Picture().Rejects
		require.Equal(t, "again-by-bus", rejects[len(rejects)-1].ID)
		require.Contains(t, rejects[len(rejects)-1].Reason, "voided already")
		s.agree()
	})
}

// A void reads the log from just before the mistake, not from its beginning,
// and after a restart all the same.
func TestVoidOfALateMistakeIsCheap(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer func() { s.end() }()
		s.open(1)
		busy := func(from, n int) {
			for i := from; i < from+n; i++ {
				kind, data := events.StationDown, events.StationData{Why: fmt.Sprint("jam ", i)}
				s.log.send(t, events.Event{
					ID: fmt.Sprint("busy-", i), Kind: kind, Plant: "joinery", Station: "GLUE", At: start + resources.Tick(i), Data: data,
				})
			}
			s.settle()
		}
		busy(1, 900)
		s.must(op("early", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		busy(1001, 900)
		s.log.followed = nil
		last := s.runner.Picture().Seq
		s.must(voided("v1", "busy-1900"))
		s.settle()
		for _, from := range s.log.followed {
			require.Greater(t, from, last-400)
		}
		require.NotEmpty(t, s.log.followed)
		s.agree()

		s.log.followed = nil
		s.must(voided("v2", "early"))
		s.settle()
		require.Less(t, s.log.followed[len(s.log.followed)-1], last-900, "older ones are kept for older mistakes")
		require.NotZero(t, s.log.followed[len(s.log.followed)-1])
		s.agree()

		s.end()
		s.start()
		s.log.followed = nil
		busy(3000, 3)
		s.must(voided("v3", "busy-3001"))
		s.settle()
		require.NotContains(t, s.log.followed, uint64(0))
		s.agree()
	})
}
