// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"towpath/scheduler/schedtest"
)

// A thousand histories of two seasons, 544 open pieces, on one core. Beside the time
// by the clock it reports what the thread itself computed, which other work on
// the machine lengthens less.
func BenchmarkThousand(b *testing.B) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	s, plan := shop(b, 2, nil)
	g := program(b, s, plan)
	y := g.NewPlayer()
	sample := g.NewSample(1000, 1)
	y.Play(sample, 0)
	b.ReportAllocs()
	before := schedtest.WorkTime()
	for b.Loop() {
		for r := range 1000 {
			y.Play(sample, r)
		}
	}
	b.ReportMetric((schedtest.WorkTime()-before).Seconds()/float64(b.N), "work-s/op")
	b.ReportMetric(float64(len(s.Pieces)), "pieces")
	b.ReportMetric(float64(len(g.p.Acts)), "operations")
}

// The same, shared out between two cores, and of 500 open pieces.
func BenchmarkThousandOnTwo(b *testing.B) {
	for _, less := range []int{0, 9} {
		s, plan := shopLess(b, 2, less, nil)
		b.Run(fmt.Sprintf("pieces-%d", len(s.Pieces)), func(b *testing.B) { onTwo(b, program(b, s, plan)) })
	}
}

func onTwo(b *testing.B, g *Program) {
	players := []*Player{g.NewPlayer(), g.NewPlayer()}
	sample := g.NewSample(1000, 1)
	var work atomic.Int64
	for b.Loop() {
		var next atomic.Int64
		var wait sync.WaitGroup
		for _, y := range players {
			wait.Go(func() {
				runtime.LockOSThread()
				defer runtime.UnlockOSThread()
				before := schedtest.WorkTime()
				defer func() { work.Add(int64(schedtest.WorkTime() - before)) }()
				for r := next.Add(1) - 1; r < 1000; r = next.Add(1) - 1 {
					y.Play(sample, int(r))
				}
			})
		}
		wait.Wait()
	}
	b.ReportMetric(float64(len(g.p.Acts)), "operations")
	b.ReportMetric(time.Duration(work.Load()).Seconds()/2/float64(b.N), "work-s-each/op")
}
