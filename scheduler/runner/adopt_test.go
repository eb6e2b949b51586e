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

// asks is a question of changes as a file has them.
func (s *shop) asks(text string) *whatif.Question {
	s.t.Helper()
	p := s.runner.Picture()
	set, findings := resources.ReadChanges("changes.yaml", []byte(text), p.State.Plant, whatif.Lines(p.State), p.Now)
	require.NotNil(s.t, set, "%v", findings)
	q, err := whatif.Ask(p.State, p.Now, set)
	require.NoError(s.t, err)
	return q
}

// Changes of the plant that are adopted stand on top of its file: the shop is the
// one that was compared, also after a restart and to whoever reads the log anew,
// until a set is taken off.
func TestChangesOfThePlantAreAdopted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer func() { s.end() }()
		s.open(2)
		ctx := context.Background()
		saws := func() int { return len(s.runner.Picture().State.Plant.Product("BOX").Operation("saw").Stations) }
		require.Equal(t, 1, saws())
		q := s.asks("name: a saw\nchanges:\n  - station: {id: SAW, count: 2}\n  - add_order: {order: Z, product: BOX, quantity: 1, ship_by: 2026-01-20}\n")
		require.Equal(t, []string{"station SAW: 2 of them"}, q.OfPlant())
		out, err := s.runner.Adopt(ctx, q, "saw", "planner")
		require.NoError(t, err)
		require.NotEmpty(t, out.Notes)
		s.settle()
		s.agree()
		now := s.runner.Picture()
		require.Equal(t, 2, saws())
		require.Equal(t, q.After.Plant, now.State.Plant)
		require.NotNil(t, now.State.Lines["Z/1"])
		require.Empty(t, scheduler.Check(now.State, now.State.Plan.Made, now.State.Plan))
		_, err = s.runner.Adopt(ctx, q, "again", "planner")
		require.ErrorIs(t, err, whatif.ErrMoved)

		hash := now.State.Hash()
		s.end()
		s.start()
		require.Equal(t, 2, saws())
		require.Equal(t, hash, s.runner.Picture().State.Hash())
		s.end()
		s.store = &memStore{faults: s.log.faults} // the log alone is enough
		s.start()
		require.Equal(t, 2, saws())

		key := s.runner.Picture().State.Adopted[0].Key()
		_, err = s.runner.TakeOff(ctx, "none", "planner")
		require.ErrorIs(t, err, whatif.ErrNotThere)
		_, err = s.runner.TakeOff(ctx, key, "planner")
		require.NoError(t, err)
		s.settle()
		s.agree()
		require.Equal(t, 1, saws())
		require.Empty(t, s.runner.Picture().State.Adopted)
		_, err = s.runner.TakeOff(ctx, key, "planner")
		require.ErrorIs(t, err, whatif.ErrNotThere)
	})
}

// A set that would take away what is in use is refused as a whole.
func TestWhatIsInUseIsNotAdoptedAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		q := s.asks("name: two saws\nchanges:\n  - station: {id: SAW, count: 2}\n")
		_, err := s.runner.Adopt(context.Background(), q, "two", "")
		require.NoError(t, err)
		s.settle()
		s.must(op("begun", events.OperationStarted, "SAW-2", "A-1-01", "saw", 90))
		s.settle()
		before := s.runner.Picture().State.Hash()
		_, err = s.runner.TakeOff(context.Background(), s.runner.Picture().State.Adopted[0].Key(), "")
		var refused *runner.Refusal
		require.ErrorAs(t, err, &refused)
		require.ErrorContains(t, err, "SAW-2")
		require.Equal(t, before, s.runner.Picture().State.Hash())
	})
}
