// SPDX-License-Identifier: Apache-2.0

package promise_test

import (
	"fmt"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/schedtest"
)

// questions are asked of a shop one after the other: each product of the demo in
// three sizes, wished soon and late.
func questions(s *scheduler.State, now resources.Tick) (list []promise.Ask) {
	for i, product := range s.Plant.Products {
		for _, quantity := range []int{1, 6, 20} {
			wish := now + resources.Tick(7*(1+i%6))*resources.Tick(resources.Day)
			list = append(list, promise.Ask{Product: product.ID, Quantity: quantity, Wish: wish})
		}
	}
	return list
}

// BenchmarkPromise answers many questions, each from the state alone, and
// reports how long the slow ones take: one of twenty takes longer than p95-ms by
// the clock, p95-work-ms of this thread's computing, which a busy machine
// stretches less. It is to be below 300 with 500 pieces.
func BenchmarkPromise(b *testing.B) {
	for _, n := range []int{500, 1000} {
		b.Run(fmt.Sprintf("pieces-%d", n), func(b *testing.B) {
			s := seasons(b, n)
			now := s.Plant.StartsAt
			asks := questions(s, now)
			runtime.LockOSThread()
			defer runtime.UnlockOSThread()
			var took, worked []time.Duration
			for b.Loop() {
				for _, ask := range asks {
					began, work := time.Now(), schedtest.WorkTime()
					_, err := promise.To(s, now, ask)
					require.NoError(b, err)
					took, worked = append(took, time.Since(began)), append(worked, schedtest.WorkTime()-work)
				}
			}
			b.ReportMetric(float64(len(s.Pieces)), "pieces")
			b.ReportMetric(quantile(took, 0.5), "p50-ms")
			b.ReportMetric(quantile(took, 0.95), "p95-ms")
			b.ReportMetric(quantile(worked, 0.95), "p95-work-ms")
		})
	}
}

// quantile is in milliseconds.
func quantile(list []time.Duration, share float64) float64 {
	slices.Sort(list)
	return float64(list[int(share*float64(len(list)-1)+0.5)].Microseconds()) / 1000
}
