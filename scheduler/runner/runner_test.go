// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

func TestFirstPlanIsPublishedAndVerified(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		require.Nil(t, s.runner.Picture().Plan())
		s.open(3)
		p := s.runner.Picture()
		require.NotNil(t, p.Plan())
		require.Len(t, p.Plan().Work, 9)
		require.Empty(t, scheduler.Check(p.State, p.Plan().Made, p.Plan()))
		require.Equal(t, 1, p.Score.OnTime)
		s.agree()
	})
}

func TestReportSaysWhatBecameOfIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		began := op("start-1", events.OperationStarted, "SAW", "A-1-01", "saw", 1)
		began.By = "first operator"
		first := s.must(began)
		require.NotZero(t, first.Seq)

		again := s.must(began)
		require.True(t, again.Repeat)
		require.Equal(t, first.Seq, again.Seq)

		s.settle()
		last, err := s.log.Last(t.Context())
		require.NoError(t, err)
		second := op("start-2", events.OperationStarted, "SAW", "A-1-01", "saw", 1)
		_, err = s.report(second)
		var refused *runner.Refusal
		require.ErrorAs(t, err, &refused)
		require.Zero(t, refused.Seq)
		require.ErrorContains(t, err, "already started by first operator")
		after, err := s.log.Last(t.Context())
		require.NoError(t, err)
		require.Equal(t, last, after, "a refusal leaves no trace in the log")
		s.settle()
		s.agree()
	})
}

// Who reports sees at once what has become of it, one report after another; what
// stations send shows when a picture is due.
func TestWhoReportsSeesItSoon(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		for i, kind := range []events.Kind{events.OperationStarted, events.OperationPaused, events.OperationResumed, events.OperationPaused} {
			out := s.must(op(fmt.Sprint("told-", i), kind, "SAW", "A-1-01", "saw", resources.Seconds(1+i)))
			time.Sleep(5 * time.Millisecond)
			synctest.Wait()
			require.GreaterOrEqual(t, s.runner.Picture().Seq, out.Seq)
		}
		seq := s.log.send(t, op("sent", events.OperationResumed, "SAW", "A-1-01", "saw", 6))
		time.Sleep(5 * time.Millisecond)
		synctest.Wait()
		require.Less(t, s.runner.Picture().Seq, seq)
		time.Sleep(500 * time.Millisecond)
		synctest.Wait()
		require.GreaterOrEqual(t, s.runner.Picture().Seq, seq)
		s.settle()
		s.agree()
	})
}

func TestReportOfSeveralIsAllOrNone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		_, err := s.report(
			op("a", events.OperationStarted, "SAW", "A-1-01", "saw", 1),
			op("b", events.OperationStarted, "SAW", "A-1-02", "saw", 1), // the saw is occupied
		)
		require.Error(t, err)
		require.Equal(t, scheduler.Planned, s.runner.Picture().State.Pieces["A-1-01"].Ops[0].Status)
		s.must(op("a", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		s.settle()
		s.agree()
	})
}

func TestReportRefusesWhatCannotBe(t *testing.T) {
	tests := []struct {
		name string
		e    events.Event
		want string
	}{
		{"no such piece", op("x", events.OperationStarted, "SAW", "B-9-01", "saw", 1), "no such piece"},
		{"from the future", op("x", events.OperationStarted, "SAW", "A-1-01", "saw", 86400), "an instant 23 h 59 min ahead of the shop's clock"},
		{"payload of another kind", events.Event{ID: "x", Kind: events.OperationStarted, Station: "SAW", Data: events.MixData{}}, "MixData"},
		{"void of nothing", events.Event{ID: "x", Kind: events.EventVoided, Data: events.VoidData{Event: "nobody"}}, "no event of that ID"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newShop(t)
				defer s.end()
				s.open(1)
				_, err := s.report(tt.e)
				var refused *runner.Refusal
				require.ErrorAs(t, err, &refused)
				require.ErrorContains(t, err, tt.want)
			})
		})
	}
}

func TestRejectedRecordsAreKeptAndStopNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		bad := s.log.publish([]byte("{not an event"), "")
		wrong := s.log.send(t, op("x", events.OperationFinished, "GLUE", "NOBODY", "glue", 5))
		s.log.forget()
		s.log.send(t, op("y", events.OperationStarted, "SAW", "A-1-01", "saw", 5))
		s.log.forget()
		twice := s.log.send(t, op("y", events.OperationStarted, "SAW", "A-1-01", "saw", 5))
		s.settle()
		p := s.runner.Picture()
		require.Equal(t, scheduler.Started, p.State.Pieces["A-1-01"].Ops[0].Status)
		require.Len(t, p.Rejects, 3)
		for i, seq := range []uint64{bad, wrong, twice} {
			require.Equal(t, seq, p.Rejects[i].Seq)
			require.Equal(t, p.Rejects[i], s.log.reject[seq])
			require.NotEmpty(t, p.Rejects[i].Reason)
		}
		s.agree()
	})
}

func TestVoidFoldsTheLogAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		s.must(op("wrong", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		s.must(events.Event{ID: "sorry", Kind: events.EventVoided, Data: events.VoidData{Event: "wrong", Why: "other piece"}})
		s.settle()
		require.Equal(t, scheduler.Planned, s.runner.Picture().State.Pieces["A-1-01"].Ops[0].Status)
		s.must(op("right", events.OperationStarted, "SAW", "A-1-01", "saw", 2))
		s.settle()
		s.agree()
	})
}

func TestStopTakesEffectAndIsPlannedAround(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		before := s.runner.Picture().Plan()
		until := start + 4*3600
		s.must(events.Event{ID: "down", Kind: events.StationDown, Station: "SAW", Data: events.StationData{Why: "blade", Until: until}})
		s.settle()
		p := s.runner.Picture()
		require.Greater(t, p.Plan().Version, before.Version)
		for _, w := range p.Plan().Work {
			if w.Station == "SAW" {
				require.GreaterOrEqual(t, w.Start, until)
			}
		}
		s.agree()
	})
}

func TestTwoButtonsAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		var wait sync.WaitGroup
		errs := make([]error, 8)
		for i := range errs {
			wait.Go(func() {
				_, errs[i] = s.report(op(fmt.Sprint("press-", i), events.OperationStarted, "SAW", "A-1-01", "saw", 1))
			})
		}
		wait.Wait()
		believed := 0
		for _, err := range errs {
			var refused *runner.Refusal
			if err == nil {
				believed++
			} else {
				require.ErrorAs(t, err, &refused)
			}
		}
		require.Equal(t, 1, believed)
		s.settle()
		s.agree()
	})
}

func TestFloodSharesTransactions(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		saves := s.store.saves
		const flood = 3000
		for i := range flood / 2 {
			s.log.send(t, events.Event{ID: fmt.Sprint("d", i), Kind: events.StationDown, Plant: "joinery", Station: "GLUE", At: start + 1, Data: events.StationData{}})
			s.log.send(t, events.Event{ID: fmt.Sprint("u", i), Kind: events.StationUp, Plant: "joinery", Station: "GLUE", At: start + 1, Data: events.StationData{}})
		}
		s.settle()
		require.Less(t, s.store.saves-saves, flood/2, "records that wait share a transaction")
		require.NotNil(t, s.runner.Picture().Plan())
		s.agree()
	})
}

func TestRestartGoesOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		s.open(2)
		s.must(op("a", events.OperationStarted, "SAW", "A-1-01", "saw", 1))
		s.settle()
		plan := s.runner.Picture().Plan()
		s.end()
		s.log.send(t, op("b", events.OperationFinished, "SAW", "A-1-01", "saw", 1800))
		s.start()
		defer s.end()
		<-s.runner.Ready()
		p := s.runner.Picture()
		require.Equal(t, scheduler.Done, p.State.Pieces["A-1-01"].Ops[0].Status)
		require.GreaterOrEqual(t, p.Plan().Version, plan.Version)
		require.NotEmpty(t, p.Recent, "the log page has something to show after a restart")
		s.settle()
		s.agree()
	})
}

func TestStoreOfAnotherLogIsReplayed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		s.open(2)
		s.end()
		s.log.mu.Lock()
		s.log.texts = s.log.texts[:2] // the log was cut, or is another
		s.log.mu.Unlock()
		s.start()
		defer s.end()
		s.settle()
		s.agree()
	})
}

func TestSubscribersHearAndAreLetGo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		news, cancel := s.runner.Subscribe()
		gone, drop := s.runner.Subscribe()
		drop()
		s.open(1)
		select {
		case <-news:
		default:
			require.Fail(t, "no news of a new picture")
		}
		select {
		case <-gone:
			require.Fail(t, "news after cancel")
		default:
		}
		s.end()
		_, open := <-news
		require.False(t, open, "closed at the end")
		cancel()
		_, err := s.report(added("B", 1))
		require.ErrorIs(t, err, runner.ErrStopped)
	})
}

func TestClockLeapIsShown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := &leapingClock{began: time.Now()}
		s := newShop(t, func(o *runner.Options) { o.Clock = clock })
		defer s.end()
		s.open(1)
		made := s.runner.Picture().Plan().Made
		clock.leap(100 * 86400)
		s.settle()
		p := s.runner.Picture()
		require.Len(t, p.Alerts, 1)
		require.Equal(t, "clock", p.Alerts[0].Key)
		require.Less(t, p.Plan().Made, made+86400, "one wrong reading moves no plan")
		clock.leap(-100 * 86400)
		time.Sleep(15 * time.Minute)
		require.Empty(t, s.runner.Picture().Alerts)
	})
}

type leapingClock struct {
	began time.Time
	mu    sync.Mutex
	by    resources.Tick
}

func (c *leapingClock) leap(by resources.Tick) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.by += by
}

func (c *leapingClock) Now() resources.Tick {
	c.mu.Lock()
	defer c.mu.Unlock()
	return fakeClock{c.began}.Now() + c.by
}

func (c *leapingClock) Speed() float64 { return 1 }

func TestReportEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, err := runner.New(runner.Options{Log: newLog(), Store: &memStore{}, Clock: fakeClock{time.Now()}, Planner: runner.Engine{}})
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		_, err = r.Report(ctx, added("A", 1)) // nobody runs it
		require.ErrorIs(t, err, context.DeadlineExceeded)
		_, err = r.Report(ctx)
		require.Error(t, err)
	})
}

func TestNewAsksForItsPorts(t *testing.T) {
	_, err := runner.New(runner.Options{})
	require.Error(t, err)
	require.False(t, errors.Is(err, runner.ErrStopped))
}
