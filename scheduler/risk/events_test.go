// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
)

// What happens first comes first: by instant, then by kind, then by index.
func TestEventsComeInOrder(t *testing.T) {
	type happening struct {
		at   Tick
		kind uint64
		id   int32
	}
	y := &Player{g: &Program{p: &scheduler.Problem{}}}
	random := rand.New(rand.NewPCG(1, 2))
	var want, got []happening
	pop := func() {
		e := y.events.pop()
		got = append(got, happening{e.at(), e.kind(), e.who})
	}
	for range 2000 {
		x := happening{Tick(random.IntN(50)), random.Uint64N(evTool + 1), random.Int32N(40)}
		if random.IntN(10) == 0 {
			x.at, x.id = never-1, most-1
		}
		want = append(want, x)
		y.push(x.at, x.kind, x.id, x.id)
	}
	y.push(never, evTool, 1, 1) // not at all
	for len(y.events) > 0 {
		pop()
	}
	slices.SortFunc(want, func(a, b happening) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.kind, b.kind), cmp.Compare(a.id, b.id))
	})
	require.Equal(t, want, got)
}

// An alarm moves to an earlier instant, never to a later one, and rings once.
func TestAlarmsRingOnce(t *testing.T) {
	x := newAlarms(70)
	x.reset()
	require.Equal(t, never, x.next)
	x.set(0, 50)
	x.set(0, 70)
	x.set(69, 40)
	x.set(1, 40)
	require.Equal(t, Tick(40), x.next)
	rung := newSet(70)
	x.ring(40, &rung)
	require.Equal(t, set{1 << 1, []uint64{1 << 5}}, rung)
	require.Equal(t, Tick(50), x.next)
	rung.clear()
	x.ring(50, &rung)
	require.Equal(t, set{1, []uint64{0}}, rung)
	require.Equal(t, never, x.next)
}

func (q *agenda) pop() event {
	x := *q
	e := x[len(x)-1]
	*q = x[:len(x)-1]
	return e
}
