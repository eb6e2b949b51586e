// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/whatif"
)

// question asks what one more order would do to the shop as it is.
func (s *shop) question(order string) *whatif.Question {
	s.t.Helper()
	p := s.runner.Picture()
	due := p.Now + resources.Tick(20*resources.Day)
	add := resources.OrderLine{Order: order, Line: "1", Product: "BOX", Quantity: 1, ShipBy: due, Due: due, Weight: 1, Kind: resources.Firm}
	q, err := whatif.Ask(p.State, p.Now, &resources.ChangeSet{Name: "one more", Changes: []resources.Change{{AddOrder: &resources.NewOrder{OrderLine: add}, Line: 4}}})
	require.NoError(s.t, err)
	return q
}

// A set is adopted once, though work has gone on and a plan has been published
// since; the second time it is refused and nothing is told.
func TestAdoptedOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		q := s.question("X")
		first := s.runner.Picture().Plan().Work[0]
		time.Sleep(10 * time.Second)
		s.must(events.Event{Kind: events.OperationStarted, Station: first.Station, Data: events.OperationData{Piece: first.Piece, Operation: first.Operation}})
		s.settle()
		out, err := s.runner.Adopt(context.Background(), q, "try", "planner")
		require.NoError(t, err)
		s.settle()
		s.agree()
		now := s.runner.Picture()
		require.GreaterOrEqual(t, now.Seq, out.Seq)
		require.NotNil(t, now.State.Lines["X/1"])
		require.Empty(t, scheduler.Check(now.State, now.State.Plan.Made, now.State.Plan))
		hash := now.State.Hash()
		_, err = s.runner.Adopt(context.Background(), q, "try-again", "planner")
		var refused *runner.Refusal
		require.ErrorAs(t, err, &refused)
		require.ErrorIs(t, err, whatif.ErrMoved)
		require.ErrorContains(t, err, "order X/1")
		s.settle()
		require.Equal(t, hash, s.runner.Picture().State.Hash())
	})
}

// What was told in between decides; and of many who adopt one set at once, one
// does.
func TestAdoptedByOneOfMany(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		stale := s.question("X")
		s.must(events.Event{Kind: events.StationDown, Station: "GLUE", Data: events.StationData{Why: "belt"}})
		s.settle()
		_, err := s.runner.Adopt(context.Background(), stale, "stale", "")
		require.ErrorIs(t, err, whatif.ErrMoved)
		require.ErrorContains(t, err, "GLUE")

		q := s.question("Y")
		var done atomic.Int64
		var wait sync.WaitGroup
		for i := range 8 {
			wait.Go(func() {
				_, err := s.runner.Adopt(context.Background(), q, string(rune('a'+i)), "")
				if err == nil {
					done.Add(1)
					return
				}
				require.ErrorIs(t, err, whatif.ErrMoved)
			})
		}
		wait.Wait()
		s.settle()
		s.agree()
		require.EqualValues(t, 1, done.Load())
		require.Nil(t, s.runner.Picture().State.Lines["X/1"])
	})
}
