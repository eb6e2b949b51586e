// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/events/natslog"
	"towpath/events/station"
	"towpath/scheduler"
	"towpath/scheduler/boltstore"
)

var (
	kills    = flag.Int("towpath.kills", 2, "how often the demo is killed")
	killSeed = flag.Uint64("towpath.killseed", 1, "seed of the moments at which it is killed")
)

// TestKilledDemoLosesAndDoublesNothing kills a working demo at random moments
// while stations report as fast as they are answered, and starts it again on
// the same data. Run it with -towpath.kills=10 for longer.
func TestKilledDemoLosesAndDoublesNothing(t *testing.T) {
	data := filepath.Join(t.TempDir(), "demo")
	rng := rand.New(rand.NewPCG(*killSeed, 0))
	t.Log("seed", *killSeed)
	load := &load{acked: map[string]uint64{}}
	for i := range *kills {
		p := begin(t, "demo", "--data", data, "--addr", "127.0.0.1:0", "--speed", "600", "--seed", "3", "--budget", "500ms")
		p.until("/api/dates", `"orders"`)
		after := time.Duration(1000+rng.IntN(3000)) * time.Millisecond
		load.run(t, p, i, after)
		p.kill()
		load.check(t, data)
		t.Logf("kill %d after %v: %d reports acknowledged so far", i+1, after, len(load.acked))
	}
	require.NotEmpty(t, load.acked)

	// It still goes on.
	p := begin(t, "demo", "--data", data, "--addr", "127.0.0.1:0", "--speed", "600", "--budget", "0")
	p.until("/api/dates", `"orders"`)
	require.Zero(t, p.interrupt(), "%s", p.errs)
	load.check(t, data)
}

// load is reports of stations and what was acknowledged.
type load struct {
	mu    sync.Mutex
	acked map[string]uint64 // event ID to its number in the log
}

// run reports from several stations until the process is to be killed; what is
// on its way then is neither acknowledged nor counted.
func (l *load) run(t *testing.T, p *process, round int, long time.Duration) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), long)
	defer cancel()
	var wait sync.WaitGroup
	for worker, name := range []string{"W1", "O1", "TAPE"} {
		client, err := station.Connect(p.bus, station.Config{Plant: "tallowmere", Station: name})
		require.NoError(t, err)
		wait.Go(func() {
			defer client.Close()
			for n := 0; ctx.Err() == nil; n++ {
				kind := []events.Kind{events.StationDown, events.StationUp}[n%2]
				id := fmt.Sprintf("load-%d-%d-%d", round, worker, n)
				at := station.At(time.Now().AddDate(-1, 0, 0)) // far back, so that it disturbs no simulated work
				receipt, err := client.Report(ctx, kind, events.StationData{Why: "load"}, station.ID(id), at)
				if err != nil {
					continue
				}
				l.mu.Lock()
				l.acked[id] = receipt.Seq
				l.mu.Unlock()
			}
		})
	}
	// The kill comes while they are at it.
	time.Sleep(long - 50*time.Millisecond)
	t.Cleanup(wait.Wait)
}

// check opens the data of the dead process: everything acknowledged is in the
// log where it was said to be, and counts once; and the stored state is what a
// replay from nothing gives.
func (l *load) check(t *testing.T, data string) {
	t.Helper()
	all := readLog(t, data)
	count := map[string]int{}
	for i, e := range all {
		require.Equal(t, uint64(i+1), e.Seq, "the log has no gaps")
		count[e.Event.ID]++
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	for id, seq := range l.acked {
		require.Equal(t, 1, count[id], "event %s", id)
		require.Equal(t, id, all[seq-1].Event.ID)
	}
	store, err := boltstore.Open(data, boltstore.Options{})
	require.NoError(t, err)
	defer store.Close()
	kept, err := store.Load()
	require.NoError(t, err)
	require.LessOrEqual(t, kept.Seq, uint64(len(all)))
	require.Equal(t, fold(all[:kept.Seq]).Hash(), kept.Hash(), "stored state against a replay up to %d", kept.Seq)
}

func fold(entries []natslog.Entry) *scheduler.State {
	state, _ := scheduler.Fold(func(yield func(events.Event) bool) {
		for _, e := range entries {
			if e.Err == nil && !yield(e.Event) {
				return
			}
		}
	})
	state.Skip(uint64(len(entries)))
	return state
}

func readLog(t *testing.T, data string) []natslog.Entry {
	t.Helper()
	log, err := natslog.Open(t.Context(), natslog.Config{Plant: "tallowmere", Dir: filepath.Join(data, "log"), Listen: natslog.InProcess})
	require.NoError(t, err)
	defer log.Close()
	last, err := log.Last(t.Context())
	require.NoError(t, err)
	feed, err := log.Follow(t.Context(), 0)
	require.NoError(t, err)
	defer feed.Close()
	var all []natslog.Entry
	for uint64(len(all)) < last {
		more, err := feed.Next(t.Context())
		require.NoError(t, err)
		all = append(all, more...)
	}
	return all
}
