// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/runner"
)

// asked is a question for n boxes within three weeks.
func asked(n int) promise.Ask {
	return promise.Ask{Product: "BOX", Quantity: n, Wish: start + resources.Tick(21*resources.Day)}
}

func (s *shop) reserve(n int, hold resources.Seconds) *promise.Held {
	s.t.Helper()
	h, err := s.runner.Reserve(context.Background(), asked(n), runner.Hold{For: hold, By: "phone"}, false)
	require.NoError(s.t, err)
	s.settle()
	return h
}

func ofPromise(kind events.Kind, h *promise.Held) events.Event {
	return events.Event{Kind: kind, Data: events.PromiseData{Promise: h.Promise}}
}

// Eight people ask at once. Nobody is promised what another was: the plan that
// results has all eight in it, each by its promised date, and the verifier
// takes it, which it would not if hours were given twice.
func TestPromisesAskedForAtOnceShareNoCapacity(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		const n = 8
		held, errs := make([]*promise.Held, n), make([]error, n)
		var wait sync.WaitGroup
		for i := range held {
			wait.Go(func() {
				h, err := s.runner.Reserve(context.Background(), asked(1+i%3), runner.Hold{By: fmt.Sprint("phone ", i)}, i%4 == 0)
				held[i], errs[i] = h, err
			})
		}
		wait.Wait()
		require.NoError(t, errors.Join(errs...))
		s.settle()
		s.agree()
		now := s.runner.Picture()
		require.Empty(t, scheduler.Check(now.State, now.State.Plan.Made, now.State.Plan))
		ends := scheduler.MeasureLines(now.State, now.State.Plan)
		numbers := map[string]bool{}
		for _, h := range held {
			numbers[h.Promise] = true
			key := scheduler.LineKey(h.Promise, scheduler.PromiseLine)
			require.Equal(t, scheduler.Reserved, now.State.Lines[key].Promise.Status)
			require.Equal(t, h.ShipBy, now.State.Lines[key].Promise.ShipBy)
			require.True(t, ends[key].Known)
			// Nobody reports the first start of A, so all slips by seconds.
			require.LessOrEqual(t, ends[key].End, h.ShipBy+60, h.Promise)
		}
		require.Len(t, numbers, n)
		_, bad := s.folded()
		require.Empty(t, bad, "whoever came second was told before anything was stored")
	})
}

// What was computed before another promise is refused by the log's order, even
// by a writer that has not seen that promise.
func TestAReservationMadeBlindIsRejected(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		base := s.runner.Picture().Seq
		s.reserve(1, 0)
		seq := s.log.send(t, events.Event{ID: "blind", Kind: events.PromiseReserved, Plant: "joinery", At: start + 60, Data: events.ReserveData{
			Promise: "X", Product: "BOX", Quantity: 1, ShipBy: start + 86400, Kind: "firm", Expires: start + 7200, Base: base,
		}})
		s.settle()
		s.agree()
		require.Nil(t, s.runner.Picture().State.Lines["X/1"])
		rejects := s.runner.Picture().Rejects
		require.Equal(t, seq, rejects[len(rejects)-1].Seq)
		require.Contains(t, rejects[len(rejects)-1].Reason, "came first")
	})
}

func TestAPromiseExpiresByTheClockAndLetsItsCapacityGo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		h := s.reserve(4, resources.Hour)
		key := scheduler.LineKey(h.Promise, scheduler.PromiseLine)
		line := s.runner.Picture().State.Lines[key]
		require.Equal(t, h.Expires, line.EarliestStart)
		require.NotEmpty(t, line.Pieces)
		for _, w := range s.runner.Picture().State.Plan.Work {
			if w.Piece == line.Pieces[0] {
				require.GreaterOrEqual(t, w.Setup, h.Expires, "nobody begins what may be let go")
			}
		}
		time.Sleep(59 * time.Minute)
		s.settle()
		require.Equal(t, scheduler.Reserved, s.runner.Picture().State.Lines[key].Promise.Status)
		time.Sleep(2 * time.Minute)
		s.settle()
		s.agree()
		after := s.runner.Picture().State
		require.Equal(t, scheduler.Expired, after.Lines[key].Promise.Status)
		require.Empty(t, after.Lines[key].Pieces)
		for _, w := range after.Plan.Work {
			require.NotEqual(t, line.Pieces[0], w.Piece)
		}
		_, err := s.report(ofPromise(events.PromiseConfirmed, h))
		require.ErrorContains(t, err, "expired")
		again := s.reserve(4, resources.Hour)
		require.NotEqual(t, h.Promise, again.Promise)
	})
}

// Taking back that a promise has expired gives it no more time: its capacity
// would be kept for ever, and nobody could confirm it.
func TestAnExpiryTakenBackExpiresAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		h := s.reserve(4, resources.Hour)
		time.Sleep(61 * time.Minute)
		s.settle()
		id := fmt.Sprintf("expired-%s-%d", h.Promise, h.Expires)
		for i := range 3 {
			require.Equal(t, scheduler.Expired, s.runner.Picture().State.Lines[h.Promise+"/1"].Promise.Status)
			void := fmt.Sprint("void-", i)
			out, err := s.report(events.Event{ID: void, Kind: events.EventVoided, Data: events.VoidData{Event: id}})
			require.NoError(t, err)
			time.Sleep(time.Minute)
			s.settle()
			s.agree()
			require.Equal(t, scheduler.Expired, s.runner.Picture().State.Lines[h.Promise+"/1"].Promise.Status)
			require.Empty(t, s.runner.Picture().State.Lines[h.Promise+"/1"].Pieces)
			id = fmt.Sprintf("expired-%s-%d-%d", h.Promise, h.Expires, out.Seq)
		}
	})
}

// What was let go may be promised to others: taking that back keeps it no more.
// A confirmation can be taken back, as its capacity is kept all the time.
func TestWhatWasLetGoIsNotKeptAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		h := s.reserve(4, 4*resources.Hour)
		status := func(h *promise.Held) scheduler.PromiseStatus {
			return s.runner.Picture().State.Lines[h.Promise+"/1"].Promise.Status
		}
		release := ofPromise(events.PromiseReleased, h)
		release.ID = "let-go"
		s.must(release)
		other := s.reserve(4, 4*resources.Hour)
		before := s.runner.Picture().State.Hash()
		_, err := s.report(voided("sorry", "let-go"))
		require.ErrorContains(t, err, "ask for a date again")
		s.settle()
		require.Equal(t, before, s.runner.Picture().State.Hash())
		require.Equal(t, scheduler.Released, status(h))

		confirm := ofPromise(events.PromiseConfirmed, other)
		confirm.ID = "yes"
		s.must(confirm)
		s.must(voided("no", "yes"))
		s.settle()
		require.Equal(t, scheduler.Reserved, status(other))
		s.agree()

		// A reservation that never was is one that was let go.
		s.log.send(t, events.Event{ID: "kept", Kind: events.PromiseReserved, Plant: "joinery", At: start + 60, Data: events.ReserveData{
			Promise: "third", Product: "BOX", Quantity: 1, Wish: start + 7*86400, ShipBy: start + 7*86400, Due: start + 7*86400, Kind: "firm",
			Expires: start + 4*3600, Base: s.runner.Picture().Seq,
		}})
		s.settle()
		require.Contains(t, s.runner.Picture().State.Lines, "third/1")
		s.must(voided("never", "kept"))
		s.settle()
		require.NotContains(t, s.runner.Picture().State.Lines, "third/1")
		_, err = s.report(voided("back", "never"))
		require.ErrorContains(t, err, "promise third")
		s.agree()
	})
}

// The number of a promise is any name, whatever an event's ID may be made of.
func TestAPromiseOfAnyNumberExpires(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		names := []string{"Größe 1", strings.Repeat("n", events.MaxName)}
		for _, name := range names {
			s.log.send(t, events.Event{ID: fmt.Sprint("kept-", len(name)), Kind: events.PromiseReserved, Plant: "joinery", At: start + 60, Data: events.ReserveData{
				Promise: name, Product: "BOX", Quantity: 1, Wish: start + 7*86400, ShipBy: start + 7*86400, Due: start + 7*86400, Kind: "firm", Expires: start + 3600,
				Base: s.runner.Picture().Seq,
			}})
			s.settle()
			require.Equal(t, scheduler.Reserved, s.runner.Picture().State.Lines[name+"/1"].Promise.Status)
		}
		time.Sleep(2 * time.Hour)
		s.settle()
		s.agree()
		for _, name := range names {
			require.Equal(t, scheduler.Expired, s.runner.Picture().State.Lines[name+"/1"].Promise.Status)
		}
	})
}

// A program that was not running when a promise expired lets it go at its next
// start.
func TestAPromiseExpiresWhileNothingRuns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		s.open(1)
		h := s.reserve(1, resources.Hour)
		s.end()
		time.Sleep(3 * time.Hour)
		s.start(func(o *runner.Options) { o.Clock = fakeClock{time.Now().Add(-3 * time.Hour)} })
		s.settle()
		require.Equal(t, scheduler.Expired, s.runner.Picture().State.Lines[h.Promise+"/1"].Promise.Status)
		s.end()
	})
}

func TestAConfirmedPromiseIsAnOrderWithThatDate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		h, other := s.reserve(2, 0), s.reserve(1, 0)
		s.must(ofPromise(events.PromiseConfirmed, h))
		s.must(ofPromise(events.PromiseReleased, other))
		s.settle()
		time.Sleep(24 * time.Hour)
		s.settle()
		s.agree()
		state := s.runner.Picture().State
		line := state.Lines[h.Promise+"/1"]
		require.Equal(t, scheduler.Confirmed, line.Promise.Status)
		require.Equal(t, h.ShipBy, line.ShipBy)
		require.Equal(t, h.Version, line.Promise.Plan)
		require.Zero(t, line.EarliestStart)
		require.False(t, line.Cancelled)
		require.True(t, state.Lines[other.Promise+"/1"].Cancelled)
		record := promise.Recorded(state)
		require.Equal(t, 1, record.Confirmed)
		require.Zero(t, record.Complete)
		require.Len(t, record.Entries, 2)
		require.Equal(t, scheduler.Released, state.Lines[other.Promise+"/1"].Promise.Status)
	})
}

func TestAWrongQuestionLeavesTheShopAsItIs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		before := s.runner.Picture().Seq
		for _, q := range []promise.Ask{
			{Product: "BICYCLE", Quantity: 1, Wish: start + 86400*9},
			{Product: "BOX", Quantity: 0, Wish: start + 86400*9},
			{Product: "BOX", Quantity: 1_000_000, Wish: start + 86400*9},
			{Product: "BOX", Quantity: 1, Wish: start - 1},
			{Product: "BOX", Quantity: 1, Wish: start + 86400*9, Confidence: 1},
			{Product: "BOX", Quantity: 1, Wish: start + 86400*9, Order: "A"},
		} {
			var fault *promise.Fault
			_, err := s.runner.Reserve(context.Background(), q, runner.Hold{}, false)
			require.ErrorAs(t, err, &fault)
			_, err = s.runner.Promise(context.Background(), q, true)
			require.ErrorAs(t, err, &fault)
		}
		_, err := s.runner.Reserve(context.Background(), asked(1), runner.Hold{For: 3}, false)
		require.ErrorContains(t, err, "hold")
		s.settle()
		require.Equal(t, before, s.runner.Picture().Seq)
	})
}

// The date at a confidence is no earlier than the earliest, and more confidence
// is never an earlier date. What is no longer free is not promised.
func TestPromiseAtAConfidence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		last := resources.Tick(0)
		for _, confidence := range []float64{0.5, 0.9, 0.99} {
			ask := asked(2)
			ask.Confidence = confidence
			a, err := s.runner.Promise(context.Background(), ask, true)
			require.NoError(t, err)
			require.True(t, a.Chances.Known)
			require.GreaterOrEqual(t, a.Chances.Date.Ready, a.Earliest.Ready)
			require.GreaterOrEqual(t, a.Chances.Date.Ready, last)
			require.Equal(t, promise.Replications, a.Chances.Replications)
			require.LessOrEqual(t, a.Chances.Low, a.Chances.Chance)
			last = a.Chances.Date.Ready
		}
		var refused *scheduler.Refusal
		_, err := s.runner.Reserve(context.Background(), asked(2), runner.Hold{ShipBy: start + 3600}, true)
		require.ErrorAs(t, err, &refused)
		require.Contains(t, refused.Text, "no longer free")
	})
}

// Somebody who can wait makes way: what was found as an alternative is solved again
// by the plan as it is and kept, with the wish as its date, and nobody misses theirs.
func TestAnAlternativeIsKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(8)
		hold := promise.DefaultHold
		ask := promise.Ask{Product: "BOX", Quantity: 2, Wish: start + resources.Tick(7*resources.Hour), From: start + resources.Tick(hold)}
		a, err := s.runner.Promise(context.Background(), ask, false)
		require.NoError(t, err)
		require.False(t, a.Meets)
		a, err = a.Alternatives(promise.Effort{Iterations: 20})
		require.NoError(t, err)
		i := slices.IndexFunc(a.Otherwise.Alternatives, func(x promise.Alternative) bool { return x.Kind == promise.Orders && x.Meets })
		require.GreaterOrEqual(t, i, 0)
		x := &a.Otherwise.Alternatives[i]
		require.Equal(t, []string{"A"}, x.MakeWay)

		plain := runner.Hold{For: hold, ShipBy: x.Promised(a)}
		_, err = s.runner.Reserve(context.Background(), ask, plain, false)
		var refused *scheduler.Refusal
		require.ErrorAs(t, err, &refused, "nobody makes way unasked")
		with := plain
		with.Instead, with.PerMille = x, 870
		held, err := s.runner.Reserve(context.Background(), ask, with, false)
		require.NoError(t, err)
		s.settle()
		pic := s.runner.Picture()
		line := pic.State.Lines[scheduler.LineKey(held.Promise, scheduler.PromiseLine)]
		require.Equal(t, a.WishDue, line.Promise.ShipBy)
		require.EqualValues(t, 870, line.Promise.PerMille)
		require.Empty(t, scheduler.Check(pic.State, pic.Plan().Made, pic.Plan()))
		for key, end := range scheduler.MeasureLines(pic.State, pic.Plan()) {
			require.LessOrEqual(t, end.End, pic.State.Lines[key].Due, key)
		}
		// Once more there is nobody left who could make way for as much.
		_, err = s.runner.Reserve(context.Background(), promise.Ask{Product: "BOX", Quantity: 8, Wish: ask.Wish}, with, false)
		require.ErrorAs(t, err, &refused)
		require.Contains(t, refused.Text, "no longer free")
	})
}
