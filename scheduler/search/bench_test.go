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

// seasons is the demo plant with so many pieces: its season again and again, a
// season's length apart, with material for all.
func seasons(b testing.TB, pieces int) *scheduler.State {
	b.Helper()
	one := season(b)
	plant := *one.Plant
	plant.Materials = append([]resources.Material(nil), plant.Materials...)
	var lines []resources.OrderLine
	s := one
	for n := 0; len(s.Pieces) < pieces; n++ {
		by := resources.Tick(n) * resources.Tick(7*7*resources.Day)
		for _, l := range one.Lines {
			line := l.OrderLine
			line.Order = fmt.Sprintf("%s-%d", line.Order, n)
			line.Due, line.ShipBy = line.Due+by, line.ShipBy+by
			lines = append(lines, line)
		}
		for i := range plant.Materials {
			plant.Materials[i].Stock += 10 * one.Plant.Materials[i].Stock
		}
		var err error
		s, err = scheduler.StateOf(&plant, lines)
		require.NoError(b, err)
	}
	return s
}

var sizes = []int{250, 1000, 10000}

func BenchmarkCompile(b *testing.B) {
	for _, n := range sizes {
		b.Run(fmt.Sprintf("pieces-%d", n), func(b *testing.B) {
			s := seasons(b, n)
			b.ReportAllocs()
			for b.Loop() {
				compile(b, s, s.Plant.StartsAt)
			}
		})
	}
}

// First feasible plan, compiling included.
func BenchmarkConstruct(b *testing.B) {
	for _, n := range sizes {
		b.Run(fmt.Sprintf("pieces-%d", n), func(b *testing.B) {
			s := seasons(b, n)
			b.ReportAllocs()
			for b.Loop() {
				_, err := search.Construct(compile(b, s, s.Plant.StartsAt))
				require.NoError(b, err)
			}
		})
	}
}

func BenchmarkVerify(b *testing.B) {
	for _, n := range sizes {
		b.Run(fmt.Sprintf("pieces-%d", n), func(b *testing.B) {
			s := seasons(b, n)
			plan, err := search.Construct(compile(b, s, s.Plant.StartsAt))
			require.NoError(b, err)
			for b.Loop() {
				require.Empty(b, scheduler.Check(s, s.Plant.StartsAt, plan))
			}
		})
	}
}

// After one event: compiling, repairing, ready to be verified.
func BenchmarkRepair(b *testing.B) {
	for _, n := range sizes[:2] {
		b.Run(fmt.Sprintf("pieces-%d", n), func(b *testing.B) {
			s := seasons(b, n)
			plan, err := search.Construct(compile(b, s, s.Plant.StartsAt))
			require.NoError(b, err)
			now := s.Plant.StartsAt + resources.Tick(27*resources.Hour)
			schedtest.Advance(s, plan, now)
			for b.Loop() {
				_, err := search.Repair(compile(b, s, now), plan)
				require.NoError(b, err)
			}
		})
	}
}

func BenchmarkImprove(b *testing.B) {
	s := season(b)
	p := compile(b, s, s.Plant.StartsAt)
	plan, err := search.Construct(p)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		_, err := search.Improve(p, search.Options{Seed: 1, Iterations: 100, Start: plan})
		require.NoError(b, err)
	}
}
