// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"sync"
	"sync/atomic"
	"testing"
)

// A thousand histories of about 500 open pieces, on one core.
func BenchmarkThousand(b *testing.B) {
	s, plan := shop(b, 2, nil)
	g := program(b, s, plan)
	y := g.NewPlayer()
	sample := g.NewSample(1000, 1)
	y.Play(sample, 0)
	b.ReportAllocs()
	for b.Loop() {
		for r := range 1000 {
			y.Play(sample, r)
		}
	}
	b.ReportMetric(float64(len(s.Pieces)), "pieces")
	b.ReportMetric(float64(len(g.p.Acts)), "operations")
}

// The same, shared out between two cores.
func BenchmarkThousandOnTwo(b *testing.B) {
	s, plan := shop(b, 2, nil)
	g := program(b, s, plan)
	players := []*Player{g.NewPlayer(), g.NewPlayer()}
	sample := g.NewSample(1000, 1)
	for b.Loop() {
		var next atomic.Int64
		var wait sync.WaitGroup
		for _, y := range players {
			wait.Go(func() {
				for r := next.Add(1) - 1; r < 1000; r = next.Add(1) - 1 {
					y.Play(sample, int(r))
				}
			})
		}
		wait.Wait()
	}
	b.ReportMetric(float64(len(s.Pieces)), "pieces")
}
