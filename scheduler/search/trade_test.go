// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// A trade puts the lost line just before another, which goes back; or it pushes the
// lost line alone back. Nothing else moves, and what comes out can be placed.
func TestTradeExchangesALostLineForAnother(t *testing.T) {
	exchanged, pushed := 0, 0
	for name, p := range tinyShops(t) {
		d, err := newDecoder(p)
		require.NoError(t, err)
		g, err := d.byRule(Rules()[0], groupings[0])
		require.NoError(t, err)
		if !d.decode(g) {
			continue
		}
		s := &annealer{d: d, rng: rand.New(rand.NewPCG(1, 1))}
		s.begin(g)
		lost := int32(-1)
		for l := range p.Lines {
			s.lateness[l] = 0
			if p.Lines[l].Event && len(p.Lines[l].Acts) > 0 {
				lost = int32(l)
			}
		}
		if lost < 0 {
			continue
		}
		s.lateness[lost] = 1
		for range 100 {
			s.next.copyFrom(s.now)
			first := s.firstKey(lost)
			if !s.trade() {
				continue // the few tries did not find it
			}
			moved := map[int32]float64{}
			for _, a := range s.free {
				l := p.Acts[a].Line
				by := s.next.key[a] - s.now.key[a]
				if by == 0 {
					continue
				}
				if known, ok := moved[l]; ok {
					require.InDelta(t, known, by, 1e-3, "%s: all of a line moves by as much", name)
				}
				moved[l] = by
			}
			by := moved[lost]
			delete(moved, lost)
			switch len(moved) {
			case 0:
				pushed++
				require.Positive(t, by, name)
				require.LessOrEqual(t, by, s.span/8, name)
			case 1:
				exchanged++
				for l, back := range moved {
					require.Positive(t, back, name)
					require.LessOrEqual(t, back, max(0, -by)+s.span/8, name)
					was := s.firstKey(l) - back
					require.InDelta(t, was-1, first+by, 1e-3, name)
				}
			default:
				require.Failf(t, "more than two lines moved", "%s: %v", name, moved)
			}
			require.True(t, d.decode(s.next), name)
		}
	}
	require.Positive(t, exchanged)
	require.Positive(t, pushed)
}

// Nobody trades while no order is lost, nor before the heat is known.
func TestTradingWantsALostOrderAndHeat(t *testing.T) {
	for _, p := range tinyShops(t) {
		if p.Goal.Lost.Weight == 0 {
			continue
		}
		d, err := newDecoder(p)
		require.NoError(t, err)
		s := &annealer{d: d, rng: rand.New(rand.NewPCG(1, 1))}
		draws := func() (some bool) {
			for range 200 {
				some = s.trading() || some
			}
			return some
		}
		lost := levelOf(p.Goal.Lost)
		require.False(t, draws(), "no heat, none lost")
		s.nowValue.cost[lost] = 1
		require.False(t, draws(), "no heat")
		s.heat[0] = 1
		require.True(t, draws())
		s.nowValue.cost[lost] = 0
		require.False(t, draws(), "none lost")
		return
	}
	require.Fail(t, "no shop counts lost orders")
}
