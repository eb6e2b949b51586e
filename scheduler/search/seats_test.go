// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever the order in which work comes, it gets a place when fewer places are
// taken at every instant than there are, and taking it off again leaves
// everything where it was.
func TestPlacesAreCounted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const most = 12
		b := &board{places: [][]timeline{make([]timeline, rapid.IntRange(2, 4).Draw(t, "places"))}, at: make([]placed, most)}
		o := &option{family: -1}
		count := func(at Tick) (n int) {
			for k := range b.places[0] {
				if !b.places[0][k].free(at, at+1) {
					n++
				}
			}
			return n
		}
		for a := range int32(rapid.IntRange(1, most).Draw(t, "activities")) {
			from := Tick(rapid.Int64Range(0, 30).Draw(t, "from"))
			length := Tick(rapid.Int64Range(1, 8).Draw(t, "length"))
			want := from
			for long := Tick(0); long < length; {
				if count(want+long) < len(b.places[0]) {
					long++
				} else {
					want, long = want+long+1, 0
				}
			}
			start, end, ok := b.seats(o, from, length, never)
			require.True(t, ok)
			require.Equal(t, want, start)
			require.GreaterOrEqual(t, end, start+length)
			if end < never {
				require.Equal(t, len(b.places[0]), count(end), "all are taken then")
			}
			for at := start; at < min(end, start+100); at++ {
				require.Less(t, count(at), len(b.places[0]))
			}
			before, sat, mark := pictureOf(b), slices.Clone(b.at), b.mark()
			s := slot{from: start, start: start, to: start + length, family: -1, owner: a + 1}
			put := func() {
				n := &node{acts: []int32{a}}
				p := placed{on: true, node: n, place: b.makeRoom(0, s)}
				b.takePlace(0, p.place, s)
				b.put(n, &p)
			}
			put()
			b.undo(mark)
			require.Equal(t, before, pictureOf(b))
			for x := range a {
				require.Equal(t, sat[x].place, b.at[x].place)
			}
			put()
			for k := range b.places[0] {
				slots := b.places[0][k].slots
				for i := range slots {
					require.Equal(t, int32(k), b.at[slots[i].owner-1].place, "noted where it is")
					require.False(t, i > 0 && slots[i].from < slots[i-1].to, "one at a time")
				}
			}
		}
	})
}

func pictureOf(b *board) [][]slot {
	out := make([][]slot, len(b.places[0]))
	for k := range out {
		out[k] = append([]slot{}, b.places[0][k].slots...)
	}
	return out
}

// What people or facts have put on a place stays there.
func TestFixedPlacesStay(t *testing.T) {
	b := &board{places: [][]timeline{make([]timeline, 2)}}
	o := &option{family: -1}
	b.takePlace(0, 0, slot{from: 10, start: 10, to: 20, family: -1})
	_, _, ok := b.seats(o, 0, 15, never)
	require.False(t, ok, "the gap that each place has is all there is")
	_, _, ok = b.seats(o, 11, 5, never)
	require.True(t, ok, "it does not stand in the way of what comes later")
}
