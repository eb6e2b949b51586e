// SPDX-License-Identifier: Apache-2.0

package search

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
)

// tinyShops are the shops of testdata/reference.
func tinyShops(t *testing.T) map[string]*scheduler.Problem {
	t.Helper()
	plants, err := filepath.Glob(filepath.Join("..", "..", "testdata", "reference", "tiny", "*", "plant.yaml"))
	require.NoError(t, err)
	shops := map[string]*scheduler.Problem{}
	for _, file := range plants {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		plant, findings := resources.ReadPlant("plant.yaml", text)
		require.False(t, resources.HasErrors(findings), findings)
		text, err = os.ReadFile(filepath.Join(filepath.Dir(file), "orders.csv"))
		require.NoError(t, err)
		lines, findings := resources.ReadOrders("orders.csv", text, plant)
		require.False(t, resources.HasErrors(findings), findings)
		state, err := scheduler.StateOf(plant, lines)
		require.NoError(t, err)
		shops[filepath.Base(filepath.Dir(file))], err = scheduler.Compile(state, plant.StartsAt)
		require.NoError(t, err)
	}
	require.NotEmpty(t, shops)
	return shops
}

// What the program of differences says of the times is what the placing makes
// of it as a rule: it speaks of the same rules of the shop. Where it does, the
// plan costs no more than before.
func TestRetimedIsPlacedAsSaid(t *testing.T) {
	tried, same := 0, 0
	for name, p := range tinyShops(t) {
		d, err := newDecoder(p)
		require.NoError(t, err)
		r := newRetimer(d)
		for _, rule := range Rules() {
			g, err := d.byRule(rule, groupings[0])
			require.NoError(t, err)
			if !d.decode(g) {
				continue
			}
			before := d.assess()
			next := g.clone()
			d.settle(next, d.freeActs())
			if !r.retime(next, true) {
				continue
			}
			for a := range next.key {
				next.key[a] = float64(next.fine[a].rest)
			}
			tried++
			if !d.decode(next) {
				continue
			}
			as := true
			for a := range p.Acts {
				as = as && d.b.at[a].start == next.fine[a].rest
			}
			if as {
				same++
				after := d.assess()
				require.False(t, before.cost.Less(after.cost), "%s by %s: %v, %v when retimed", name, rule, before.cost, after.cost)
			}
		}
	}
	t.Logf("%d of %d placed as said", same, tried)
	require.Greater(t, 20*same, 19*tried, "%d of %d placed as said", same, tried)
}

// Of the best plan of a shop there are no better times: what the program of differences
// leaves free there, the shop leaves free too.
func TestOptimaHaveNoBetterTimes(t *testing.T) {
	for name, p := range tinyShops(t) {
		text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", "tiny", name, "optimum-plan.json"))
		require.NoError(t, err)
		plan, err := scheduler.DecodePlan(text)
		require.NoError(t, err)
		d, err := newDecoder(p)
		require.NoError(t, err)
		require.NoError(t, (&restorer{d: d, old: plan}).run(), name)
		require.False(t, newRetimer(d).retime(d.said(), true), name)
	}
}

// freeActs are those that have not begun.
func (d *decoder) freeActs() []int32 {
	var free []int32
	for a := range d.m.p.Acts {
		if d.m.p.Acts[a].Fixed == nil {
			free = append(free, int32(a))
		}
	}
	return free
}
