// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler/runner"
)

var (
	seedFlag  = flag.Uint64("runner.seed", 1, "first seed of the random histories")
	seedsFlag = flag.Int("runner.seeds", 40, "how many random histories")
)

// teller reports a fixed story through Report, again after each crash, with
// the same IDs, as a careful client does.
type teller struct {
	s     *shop
	acked map[string]bool
	no    map[string]bool // refused
}

// tell reports until it is answered; false when the runner has crashed.
func (c *teller) tell(e events.Event) bool {
	for {
		_, err := c.s.report(e)
		var refused *runner.Refusal
		switch {
		case err == nil:
			c.acked[e.ID] = true
			return true
		case errors.As(err, &refused):
			c.no[e.ID] = true
			return true
		case errors.Is(err, runner.ErrStopped), errors.Is(err, context.DeadlineExceeded):
			return false
		}
		// The log failed; the runner may live on.
		select {
		case err := <-c.s.ended:
			c.s.ended <- err
			return false
		case <-time.After(time.Second):
		}
	}
}

// story is a few facts of each way a record can go.
func story() []events.Event {
	return []events.Event{
		declared(), added("A", 2),
		op("s1", events.OperationStarted, "SAW", "A-1-01", "saw", 1),
		op("s1-other", events.OperationStarted, "SAW", "A-1-01", "saw", 1), // refused
		{ID: "v1", Kind: events.EventVoided, Plant: "joinery", At: start + 2, Data: events.VoidData{Event: "s1"}},
		op("s2", events.OperationStarted, "SAW", "A-1-02", "saw", 3),
		op("f2", events.OperationFinished, "SAW", "A-1-02", "saw", 4),
	}
}

// TestCrashAtEveryStep lets the runner die at each call of a port, before and
// after the call's effect, starts it again, and asks at the end that nothing
// acknowledged is lost and nothing is doubled.
func TestCrashAtEveryStep(t *testing.T) {
	for _, port := range []string{"append", "save", "replace", "reject", "cut"} {
		for _, when := range []string{"before ", "after "} {
			point := when + port
			t.Run(point, func(t *testing.T) {
				n := 0
				for hit := true; hit; {
					n++
					synctest.Test(t, func(t *testing.T) { hit = crashAt(t, point, n) })
				}
				require.Greater(t, n, 1, "never reached")
			})
		}
	}
}

func crashAt(t *testing.T, point string, nth int) bool {
	s := newShop(t)
	s.store.every = 3
	s.log.faults.plan(point, nth)
	c := &teller{s: s, acked: map[string]bool{}, no: map[string]bool{}}
	for i, e := range story() {
		if i == 4 {
			s.log.publish([]byte("garbage"), "garbage") // by a broken station
		}
		for !c.tell(e) {
			require.ErrorIs(t, <-s.ended, errCrash)
			s.start()
		}
	}
	for {
		s.settle()
		select {
		case err := <-s.ended:
			require.ErrorIs(t, err, errCrash)
			s.start()
			continue
		default:
		}
		break
	}
	s.whole(c)
	s.end()
	return s.log.faults.hit
}

// whole asks that every acknowledged event is in the log and counts once.
func (s *shop) whole(c *teller) {
	s.t.Helper()
	s.agree()
	state, bad := s.folded()
	var told []uint64
	for seq := range s.log.reject {
		told = append(told, seq)
	}
	slices.Sort(told)
	require.Equal(s.t, bad, told, "what a replay rejects has been rejected")
	count := map[string]int{}
	for i, text := range s.log.texts {
		if e, err := events.Decode(text); err == nil && !slices.Contains(bad, uint64(i+1)) {
			count[e.ID]++
		}
	}
	for id := range c.acked {
		require.Equal(s.t, 1, count[id], "acknowledged event %s", id)
		_, applied := state.Applied(id)
		require.True(s.t, applied, "acknowledged event %s", id)
	}
	for id := range c.no {
		require.Zero(s.t, count[id], "refused event %s", id)
	}
}

// TestRandomHistories sends facts in random order, repeated, late, wrong and
// broken, by both ways, with crashes in between.
func TestRandomHistories(t *testing.T) {
	for i := range *seedsFlag {
		seed := *seedFlag + uint64(i)
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { randomHistory(t, rand.New(rand.NewPCG(seed, 0)), seed%2 == 0) })
		})
	}
}

// In every second history nothing is voided; what was acknowledged there is
// believed for ever. A void may take the ground from under later facts.
func randomHistory(t *testing.T, rng *rand.Rand, voids bool) {
	s := newShop(t)
	s.store.every = 5
	c := &teller{s: s, acked: map[string]bool{}, no: map[string]bool{}}
	alive := func(done bool) bool {
		if !done {
			require.ErrorIs(t, <-s.ended, errCrash)
			s.start()
		}
		return done
	}
	for !alive(c.tell(declared())) || !alive(c.tell(added("A", 3))) {
	}
	var sent []events.Event
	for i := range 60 {
		if rng.IntN(8) == 0 {
			s.log.faults.plan("", 1+rng.IntN(6))
		}
		e := randomEvent(rng, i, sent, voids)
		sent = append(sent, e)
		switch rng.IntN(10) {
		case 0:
			s.log.publish([]byte{byte(rng.Uint32()), '{'}, "")
		case 1:
			s.log.forget()
			s.log.send(t, e)
		case 2, 3, 4:
			s.log.send(t, e)
		case 5:
			s.settle()
		default:
			for !alive(c.tell(e)) {
			}
		}
		select {
		case err := <-s.ended:
			require.ErrorIs(t, err, errCrash)
			s.start()
		default:
		}
	}
	s.log.faults.plan("", 0)
	s.settle()
	select {
	case err := <-s.ended:
		require.ErrorIs(t, err, errCrash)
		s.start()
		s.settle()
	default:
	}
	s.agree()
	state, _ := s.folded()
	for id := range c.acked {
		require.NotZero(t, s.log.count(id), "acknowledged event %s", id)
		if _, applied := state.Applied(id); !voids {
			require.True(t, applied, "acknowledged event %s", id)
		}
	}
	s.end()
}

// count says how often an event is in the log.
func (l *memLog) count(id string) int {
	n := 0
	for _, text := range l.texts {
		if e, err := events.Decode(text); err == nil && e.ID == id {
			n++
		}
	}
	return n
}

// randomEvent is a fact that may or may not be possible; now and then one that
// was sent before, or a void of one.
func randomEvent(rng *rand.Rand, i int, sent []events.Event, voids bool) events.Event {
	if len(sent) > 0 && rng.IntN(6) == 0 {
		return sent[rng.IntN(len(sent))]
	}
	id := fmt.Sprint("e", i)
	if voids && len(sent) > 0 && rng.IntN(10) == 0 {
		return events.Event{ID: id, Kind: events.EventVoided, Plant: "joinery", At: start + 1, Data: events.VoidData{Event: sent[rng.IntN(len(sent))].ID}}
	}
	at := resources.Seconds(rng.IntN(250))
	piece := fmt.Sprintf("A-1-%02d", 1+rng.IntN(4)) // the fourth does not exist
	steps := [][2]string{{"SAW", "saw"}, {"GLUE", "glue"}}
	step := steps[rng.IntN(len(steps))]
	switch rng.IntN(7) {
	case 0:
		return events.Event{ID: id, Kind: events.StationDown, Plant: "joinery", Station: step[0], At: start + resources.Tick(at), Data: events.StationData{}}
	case 1:
		return events.Event{ID: id, Kind: events.StationUp, Plant: "joinery", Station: step[0], At: start + resources.Tick(at), Data: events.StationData{}}
	case 2:
		return events.Event{ID: id, Kind: events.PieceHeld, Plant: "joinery", At: start + resources.Tick(at), Data: events.PieceData{Piece: piece}}
	case 3, 4:
		return op(id, events.OperationStarted, step[0], piece, step[1], at)
	}
	return op(id, events.OperationFinished, step[0], piece, step[1], at)
}
