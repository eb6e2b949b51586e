// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"fmt"
	"math"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"towpath/scheduler"
	"towpath/scheduler/search"
)

// How the time to a first feasible plan, compiling included, and memory grow
// with the shop: prints a line for each size and the exponent of a power law
// fitted to the times (least squares on logarithms).
func BenchmarkGrowth(b *testing.B) {
	for b.Loop() {
		var pieces, times []float64
		for _, n := range []int{500, 1000, 2000, 5000, 10000, 20000} {
			s := seasons(b, n)
			best, grown, plan := time.Duration(math.MaxInt64), uint64(0), (*scheduler.Plan)(nil)
			for range max(1, 3000/n) {
				runtime.GC()
				var after runtime.MemStats
				began := time.Now()
				var err error
				plan, err = search.Construct(compile(b, s, s.Plant.StartsAt))
				require.NoError(b, err)
				best = min(best, time.Since(began))
				runtime.ReadMemStats(&after)
				grown = max(grown, after.Sys)
			}
			require.Empty(b, scheduler.Check(s, s.Plant.StartsAt, plan))
			fmt.Printf("%6d pieces %6d operations %8.3f s, %5d MiB from the system at most so far\n",
				len(s.Pieces), len(plan.Work), best.Seconds(), grown>>20)
			pieces, times = append(pieces, math.Log(float64(len(s.Pieces)))), append(times, math.Log(best.Seconds()))
		}
		_, exponent := stat.LinearRegression(pieces, times, nil, false)
		b.ReportMetric(exponent, "exponent")
	}
}
