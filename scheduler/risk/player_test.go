// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Where everything takes as long as stated, the history is the plan.
func TestCalmHistoryIsThePlan(t *testing.T) {
	s, plan := shop(t, 1, calm)
	g := program(t, s, plan)
	y := g.NewPlayer()
	y.play(newLuck(1, 0, false))
	late, early := 0, 0
	for a := range g.acts {
		switch d := Tick(y.acts[a].end) - g.acts[a].plannedEnd; {
		case y.acts[a].state != done:
		case d > 0:
			late++
			if late < 12 {
				t.Log(g.acts[a].name, g.p.Stations[g.nodes[g.acts[a].planned].station].ID, d, y.nodes[y.acts[a].node].why, Tick(y.acts[a].start)-g.acts[a].plannedStart)
			}
		case d < 0:
			early++
		}
	}
	require.Zero(t, y.forced)
	require.Zero(t, y.breaches)
	require.Zero(t, late, "of %d", len(g.acts))
	require.Zero(t, early)
	for i := range g.lines {
		require.Equal(t, g.lines[i].planned, y.doneAt[i])
	}
}

// Who has the first say is told by what is next in turn, also while what was
// before it is at work.
func TestTheFirstSayIsOfTheNextInTurn(t *testing.T) {
	s, plan := shop(t, 1, nil)
	y := program(t, s, plan).NewPlayer()
	y.luck = newLuck(1, 0, false)
	y.reset()
	y.settle()
	begun := 0
	for range 500 {
		step(y)
		for i := range y.stations {
			st := &y.stations[i]
			at := never
			for _, n := range st.queue {
				if x := &y.nodes[n]; x.state == waiting {
					if at = Tick(x.start); Tick(x.spoil) < never {
						at -= never
					}
					break
				}
				begun++
			}
			require.Equal(t, at, y.rank[i], y.g.p.Stations[i].ID)
		}
	}
	require.Positive(t, begun)
}

// step goes on to the next instant of a history.
func step(y *Player) {
	y.now = min(y.looks.next, y.events.next(), y.turnAt)
	if y.turnAt == y.now {
		y.turnCrews()
	}
	for y.events.next() == y.now {
		y.happen(y.events.pop())
	}
	y.wakeTurned()
	y.looks.ring(y.now, &y.changed)
	y.dirty.addThose(&y.changed, &y.roomy)
	y.settle()
}

// A station that is left alone because nobody is free could begin nothing.
func TestNothingBeginsWherePeopleLack(t *testing.T) {
	s, plan := shop(t, 1, nil)
	y := program(t, s, plan).NewPlayer()
	y.luck = newLuck(1, 0, false)
	y.reset()
	y.settle()
	lacking := 0
	for range 3000 {
		step(y)
		for i := range y.stations {
			st := &y.stations[i]
			if st.free > 0 && len(st.avail)+len(st.extras) > 0 && y.lacksPeople(st) {
				require.False(t, y.beginOne(st), "%s at %d", y.g.p.Stations[i].ID, y.now)
				lacking++
			}
		}
	}
	require.Greater(t, lacking, 300)
}
