// SPDX-License-Identifier: Apache-2.0

package search

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
)

// The best plan of a shop can be said in a genome: given its company, order,
// crews and times the decoder finds what it costs. Of one it makes a mix more.
func TestOptimaCanBeSaid(t *testing.T) {
	said, shops := 0, tinyShops(t)
	for name, p := range shops {
		text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", "tiny", name, "optimum-plan.json"))
		require.NoError(t, err)
		plan, err := scheduler.DecodePlan(text)
		require.NoError(t, err)
		d, err := newDecoder(p)
		require.NoError(t, err)
		require.NoError(t, (&restorer{d: d, old: plan}).run(), name)
		want, g := d.assess(), d.said()
		d = decoderOf(d.m)
		require.True(t, d.decode(g), name)
		if got := d.assess(); !want.cost.Less(got.cost) {
			said++
		} else {
			t.Logf("%s: %v, said %v", name, want.cost, got.cost)
		}
	}
	require.GreaterOrEqual(t, said, len(shops)-1)
}

// said is a genome that says all of the solution on the board.
func (d *decoder) said() *genome {
	p := d.m.p
	g := newGenome(d.m.plain(), make([]float64, len(p.Acts)))
	for a := range p.Acts {
		at := &d.b.at[a]
		g.node[a], g.key[a], g.fine[a].rest = at.node, float64(at.start), at.start
		if at.node.options[at.option].wait {
			g.out[a] = at.unload
		}
	}
	d.settle(g, d.freeActs())
	for a := range p.Acts {
		if at := &d.b.at[a]; g.fine[a].mix {
			g.fine[a].lead = at.start - d.b.mixes[at.node.resin][at.mix].end
		}
	}
	return g
}
