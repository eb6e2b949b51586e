// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

func BenchmarkCheckDemo(b *testing.B) {
	s, now, p := demo(b)
	benchmarkCheck(b, s, now, p)
}

// 12,000 operations of 1,200 pieces, with loads, mixes, tools and people.
func BenchmarkCheck12000(b *testing.B) {
	s, p := schedtest.WorkshopWeeks(480)
	benchmarkCheck(b, s, schedtest.Monday, p)
}

func BenchmarkMeasureDemo(b *testing.B) {
	s, _, p := demo(b)
	b.ReportAllocs()
	for b.Loop() {
		scheduler.Measure(s, p)
	}
}

func benchmarkCheck(b *testing.B, s *scheduler.State, now resources.Tick, p *scheduler.Plan) {
	b.ReportAllocs()
	for b.Loop() {
		if found := scheduler.Check(s, now, p); len(found) > 0 {
			b.Fatal(len(found), found[0])
		}
	}
	b.ReportMetric(float64(len(p.Work)), "operations")
}
