// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"fmt"
	"maps"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// moments are instants of the first weeks of a plan, at all hours.
func moments(b *testing.B, pieces, count int) []moment {
	b.Helper()
	one := seasons(b, pieces)
	plan, err := search.Construct(compile(b, one, one.Plant.StartsAt))
	require.NoError(b, err)
	var out []moment
	for i := range count {
		after := resources.Seconds(i+1)*43*hour + resources.Seconds(i%5)*90*minute
		out = append(out, at(b, seasons(b, pieces), plan, one.Plant.StartsAt+resources.Tick(after)))
	}
	return out
}

// After one event at 1,000 pieces: compiling and repairing, for several
// hundred different events, by the clock and in time of the thread alone, which
// does not count the wait for a busy machine. Each event counts with the least of
// its times when all are gone through several times: other work takes the caches
// too. Every plan is verified the first time, which is not in the time but counted on
// its own, and what all are worth is told.
func BenchmarkRepairEvents(b *testing.B) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	all := moments(b, 1000, 10)
	var list []repaired
	var sum worth
	for b.Loop() {
		n := 0
		for _, m := range all {
			for _, h := range happenings(b, m, 6) {
				from := begin()
				p, err := scheduler.Compile(h.s, h.now)
				require.NoError(b, err)
				compiled := from.lap()
				plan, err := search.Repair(p, h.s.Plan)
				require.NoError(b, err, h.kind)
				all := from.lap()
				if n == len(list) {
					from = begin()
					sum.add(&h, plan)
					require.Empty(b, scheduler.Check(h.s, h.now, plan), h.kind)
					list = append(list, repaired{h.kind, compiled, all, from.lap()})
				}
				list[n].least(compiled, all)
				n++
			}
		}
	}
	took := map[string][]lap{}
	for _, x := range list {
		took["(verify)"] = append(took["(verify)"], x.verified)
		took["(compile)"] = append(took["(compile)"], x.compiled)
		took[x.kind] = append(took[x.kind], x.all)
		took["all"] = append(took["all"], x.all)
	}
	tellTimes(b, took)
	fmt.Printf("all plans together: lost weight %d, weighted tardiness %d s, broken waits %d, operations moved %d\n",
		sum.lost, sum.tardiness, sum.breaches, sum.moved)
}

// repaired is how long one event took.
type repaired struct {
	kind                    string
	compiled, all, verified lap
}

// least keeps the shorter times.
func (x *repaired) least(compiled, all lap) {
	x.compiled, x.all = x.compiled.least(compiled), x.all.least(all)
}

// worth is what the repaired plans of many events are worth together.
type worth struct {
	lost, tardiness int64
	breaches, moved int
}

func (x *worth) add(h *happening, plan *scheduler.Plan) {
	score := scheduler.Measure(h.s, plan)
	x.lost += score.LostWeight
	x.tardiness += score.WeightedTardinessSeconds
	x.breaches += score.Breaches
	x.moved += scheduler.ChurnOf(h.s, plan).Moved
}

// lap is how long something took, by the clock and in work.
type lap struct{ clock, work time.Duration }

func (x lap) least(y lap) lap { return lap{min(x.clock, y.clock), min(x.work, y.work)} }

type beginning struct {
	clock time.Time
	work  time.Duration
}

func begin() beginning { return beginning{time.Now(), schedtest.WorkTime()} }

func (x beginning) lap() lap { return lap{time.Since(x.clock), schedtest.WorkTime() - x.work} }

// tellTimes prints the spread of each kind's times and reports that of all.
func tellTimes(b *testing.B, took map[string][]lap) {
	b.Helper()
	share := func(list []time.Duration, percent int) float64 {
		return float64(list[(len(list)-1)*percent/100].Microseconds()) / 1000
	}
	fmt.Printf("%-15s %6s   %8s %8s %8s   %8s %8s %8s\n", "ms", "n", "p50", "p99", "most", "work p50", "p99", "most")
	for _, kind := range slices.Sorted(maps.Keys(took)) {
		var clock, work []time.Duration
		for _, l := range took[kind] {
			clock, work = append(clock, l.clock), append(work, l.work)
		}
		slices.Sort(clock)
		slices.Sort(work)
		fmt.Printf("%-15s %6d   %8.1f %8.1f %8.1f   %8.1f %8.1f %8.1f\n", kind, len(clock),
			share(clock, 50), share(clock, 99), share(clock, 100), share(work, 50), share(work, 99), share(work, 100))
		if kind == "all" {
			b.ReportMetric(share(clock, 50), "p50-ms")
			b.ReportMetric(share(clock, 99), "p99-ms")
			b.ReportMetric(share(work, 50), "work-p50-ms")
			b.ReportMetric(share(work, 99), "work-p99-ms")
			b.ReportMetric(float64(len(clock)), "events")
		}
	}
}
