// SPDX-License-Identifier: Apache-2.0

package capacity_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/capacity"
	"towpath/scheduler/search"
)

// busy is the demo with its season of orders twice, a season's length apart:
// about 500 open pieces, with a plan and a forecast.
func busy(b *testing.B) capacity.Input {
	b.Helper()
	in := demo(b)
	plant := *in.State.Plant
	plant.Materials = append([]resources.Material(nil), plant.Materials...)
	for i := range plant.Materials {
		plant.Materials[i].Stock *= 20
	}
	var lines []resources.OrderLine
	for n := range 2 {
		by := resources.Tick(n) * resources.Tick(6*7*24*hour)
		for _, l := range in.State.Lines {
			line := l.OrderLine
			line.Order = fmt.Sprintf("%s-%d", line.Order, n)
			line.Due, line.ShipBy = line.Due+by, line.ShipBy+by
			lines = append(lines, line)
		}
	}
	var err error
	in.State, err = scheduler.StateOf(&plant, lines)
	require.NoError(b, err)
	p, err := scheduler.Compile(in.State, in.Now)
	require.NoError(b, err)
	in.Plan, err = search.ByRule(p, search.Weighted)
	require.NoError(b, err)
	return in
}

// A report of 52 weeks.
func BenchmarkReport(b *testing.B) {
	in := busy(b)
	in.Weeks = capacity.MaxWeeks
	for b.Loop() {
		_, err := capacity.Of(in)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(in.State.Pieces)), "pieces")
}

// What one addition is worth, the shop as it is having been solved.
func BenchmarkWorth(b *testing.B) {
	in := busy(b)
	r, err := capacity.Of(in)
	require.NoError(b, err)
	q, err := capacity.Ask(in, capacity.Effort{Weeks: -1})
	require.NoError(b, err)
	a := capacity.Additions(in.State.Plant, r)[0]
	for b.Loop() {
		_, err := q.Worth(a)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(q.Pieces), "pieces")
}
