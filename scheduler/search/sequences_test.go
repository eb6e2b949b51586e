// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/resources/instance"
	"towpath/scheduler"
)

// drawOvens is a small oven problem with orders of one or two lines, firm and
// event, and every term of the objective that a sequence can tell.
func drawOvens(t *rapid.T) *scheduler.Problem {
	n, m, kinds := rapid.IntRange(2, 9).Draw(t, "jobs"), rapid.IntRange(1, 3).Draw(t, "ovens"), rapid.IntRange(1, 3).Draw(t, "attributes")
	number := func(low, high int64, name string) int64 { return rapid.Int64Range(low, high).Draw(t, name) }
	o := &instance.Ovens{Name: "drawn", Attributes: kinds, Factors: instance.OvenFactors{RunTime: 2, Late: 30, SetupTime: 1, SetupCost: 3, Bound: 1}}
	for range kinds + 1 {
		var times, costs []int64
		for range kinds {
			times, costs = append(times, number(0, 4, "set-up")), append(costs, number(0, 9, "set-up cost"))
		}
		o.SetupTime, o.SetupCost = append(o.SetupTime, times), append(o.SetupCost, costs)
	}
	for range m {
		oven := instance.Oven{Capacity: number(6, 12, "capacity"), Initial: rapid.IntRange(1, kinds).Draw(t, "initial")}
		at := int64(0)
		for range 3 {
			start := at + number(0, 5, "closed")
			at = start + number(20, 40, "open")
			oven.Open = append(oven.Open, instance.Span{Start: start, End: at})
		}
		oven.Open = append(oven.Open, instance.Span{Start: at, End: at + 500})
		o.Ovens = append(o.Ovens, oven)
	}
	for range n {
		job := instance.OvenJob{
			Earliest: number(0, 30, "earliest"), Latest: number(10, 60, "latest"),
			Min: number(1, 8, "least"), Max: number(8, 15, "most"), Size: number(1, 6, "size"),
			Attribute: rapid.IntRange(1, kinds).Draw(t, "attribute"),
		}
		for k := 1; k <= m; k++ {
			if k == 1 || rapid.Bool().Draw(t, "eligible") {
				job.Eligible = append(job.Eligible, k)
			}
		}
		o.Jobs = append(o.Jobs, job)
	}
	c := o.Case()
	c.Plant.Objective.Flow = resources.Term{Level: 1, Weight: 1}
	if rapid.Bool().Draw(t, "dates") {
		c.Plant.Objective.Tardiness = resources.Term{Level: 2, Weight: 1}
	}
	for i := range c.Lines {
		if rapid.Bool().Draw(t, "firm") {
			c.Lines[i].Kind = resources.Firm
		}
		c.Lines[i].Weight = number(1, 3, "weight")
		if i > 0 && rapid.IntRange(0, 2).Draw(t, "same order") == 0 {
			c.Lines[i].Order = c.Lines[i-1].Order
		}
	}
	s, err := scheduler.StateOf(c.Plant, c.Lines)
	require.NoError(t, err)
	p, err := scheduler.Compile(s, instance.Start)
	require.NoError(t, err)
	return p
}

// TestSequencesCountWhatMoved holds the running sums against a count from
// nothing, an undone change against what was there before, and the times
// against those of the board.
func TestSequencesCountWhatMoved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, err := newDecoder(drawOvens(t))
		require.NoError(t, err)
		require.True(t, d.m.sequenced())
		if _, err := d.start(); err != nil {
			t.Skip("no rule finds a plan")
		}
		q := newSequences(d)
		require.True(t, q.settle(math.Inf(1)))
		r := newArranger(q, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		fresh := newSequences(d)
		moved := 0
		var before, after picture
		for range 150 {
			q.copyTo(&before)
			was := q.value()
			q.begin()
			if !r.change() || !q.settle(math.Inf(1)) {
				q.undo()
				require.Equal(t, was, q.value(), "an undone change costs something")
				q.copyTo(&after)
				requireSame(t, &before, &after)
				continue
			}
			moved++
			q.copyTo(&after)
			fresh.load(&after)
			require.Equal(t, fresh.sums, q.sums, "what is counted along the way is not what is there")
			if r.rng.IntN(2) == 0 {
				q.undo()
				q.copyTo(&after)
				requireSame(t, &before, &after)
				require.Equal(t, was, q.value())
			}
		}
		q.copyTo(&after)
		g := newGenome(slices.Clone(d.m.singles), make([]float64, len(d.m.p.Acts)))
		require.True(t, after.write(d.m, g))
		require.True(t, d.decode(g))
		require.Equal(t, q.value().cost, d.assess().cost, "the board times it otherwise")
	})
}

// requireSame compares two pictures; members of a load may stand in any order.
func requireSame(t *rapid.T, a, b *picture) {
	require.Equal(t, a.items, b.items)
	from := 0
	for _, it := range a.items {
		require.ElementsMatch(t, a.acts[from:it.end], b.acts[from:it.end])
		from = it.end
	}
}
