// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// What a search reaches in the demo's season and in several of them one after the other,
// bounded by iterations, so that a busy machine makes it slower but no worse: the means of
// eight seeds. Every plan is verified.
func BenchmarkSeasons(b *testing.B) {
	for _, size := range []struct {
		pieces     int
		iterations int64
	}{{272, 1500}, {500, 1000}, {1000, 400}} {
		b.Run(fmt.Sprintf("pieces-%d", size.pieces), func(b *testing.B) {
			s := seasons(b, size.pieces)
			now := s.Plant.StartsAt
			p := compile(b, s, now)
			for b.Loop() {
				const seeds = 8
				var lost, tardy, flow, kept float64
				for seed := range uint64(seeds) {
					r, err := search.Improve(p, search.Options{Seed: 1 + seed, Iterations: size.iterations})
					require.NoError(b, err)
					schedtest.RequireOK(b, s, now, r.Plan)
					m := scheduler.Measure(s, r.Plan)
					lost += float64(m.LostWeight) / seeds
					tardy += float64(m.WeightedTardinessSeconds) / float64(resources.Hour) / seeds
					flow += float64(m.FlowSeconds) / float64(resources.Day) / seeds
					if m.OnTime == m.Orders {
						kept++
					}
				}
				b.ReportMetric(lost, "lost-weight")
				b.ReportMetric(tardy, "tardiness-h")
				b.ReportMetric(flow, "flow-days")
				b.ReportMetric(kept/seeds, "all-on-time")
			}
		})
	}
}
