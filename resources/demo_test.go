// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func readDemo(t testing.TB) (*resources.Plant, []resources.OrderLine) {
	text, err := os.ReadFile(demoPlant)
	require.NoError(t, err)
	p, findings := resources.ReadPlant("plant.yaml", text)
	require.Empty(t, findings)
	text, err = os.ReadFile("../testdata/demo/orders.csv")
	require.NoError(t, err)
	lines, findings := resources.ReadOrders("orders.csv", text, p)
	require.Empty(t, findings)
	return p, lines
}

// The demo has what the shop is described to have.
func TestDemoPlantIsComplete(t *testing.T) {
	p, lines := readDemo(t)
	heads := 0
	for _, c := range p.Crews {
		for _, s := range c.Shifts {
			heads += s.Heads
		}
	}
	require.Equal(t, 18, heads)
	require.Len(t, p.Products, 6)
	require.Len(t, p.Resins, 2)
	require.Len(t, p.Recipes, 2)
	kinds := map[string]int{}
	for _, s := range p.Stations {
		kinds[s.Kind]++
	}
	for kind, n := range map[string]int{"winder": 2, "oven": 2, "bond cell": 3, "tester": 1, "balancer": 1, "packing": 1, "mix room": 1} {
		require.Equal(t, n, kinds[kind], kind)
	}
	shafts, events := 0, 0
	for _, l := range lines {
		shafts += l.Quantity
		if l.Kind == resources.Event {
			events++
		}
	}
	require.GreaterOrEqual(t, len(lines), 40)
	require.GreaterOrEqual(t, shafts, 150)
	require.LessOrEqual(t, shafts, 250)
	require.Greater(t, events, 15)
}

// The order of the demo's operations, and a ring sample of every tube before
// anything is released, are common practice, no source.
func TestDemoRoutingOrder(t *testing.T) {
	p, _ := readDemo(t)
	order := []string{"wind", "tape", "cure", "extract", "finish", "mount", "polish", "image", "ring"}
	bond := []string{"prep-1", "bond-1", "prep-2", "bond-2", "proof", "assemble", "balance", "pack"}
	for i := range p.Products {
		product := &p.Products[i]
		last := -1
		for _, id := range append(slices.Clone(order), bond...) {
			at := product.OperationIndex(id)
			require.Greater(t, at, last, "%s %s", product.ID, id)
			last = at
		}
		require.Equal(t, "ring", product.Operation("ring").Gate)
	}
}

// Cured is not released, the lot waits for its destructive test, and only the
// rush family goes on at risk while its ring is being read.
func TestDemoHolds(t *testing.T) {
	p, _ := readDemo(t)
	after := func(product, op string) []string {
		var ids []string
		for _, l := range p.Product(product).Operation(op).After {
			ids = append(ids, l.Operation)
		}
		return ids
	}
	require.Contains(t, after("HS-S", "finish"), "chart")
	require.Contains(t, after("HS-S", "prep-1"), "ring")
	require.NotContains(t, after("PX-R", "prep-1"), "ring")
	require.Contains(t, after("PX-R", "pack"), "ring")
	require.Contains(t, after("GB-H", "pack"), "ultimate")
}

// work is what a season asks of one resource, in minutes.
type work map[string]float64

// seasonWork adds up what the orders ask of stations and crews, with tubes and
// samples as they are made, work of alternatives on the first station, loads
// of batch stations as full as the plant file's story has them, and no
// changeovers.
func seasonWork(p *resources.Plant, lines []resources.OrderLine, share map[string]float64) (stations, skills work) {
	stations, skills = work{}, work{}
	for _, l := range lines {
		product := p.Product(l.Product)
		pieces := l.Quantity + product.Samples
		tubes := pieces
		for i := range product.Routing {
			if k := product.Routing[i].Split; k > 0 {
				tubes = (pieces + k - 1) / k
			}
		}
		for i := range product.Routing {
			op := &product.Routing[i]
			n := float64(tubes)
			switch {
			case op.Per == resources.PerSample:
				n = float64(product.Samples)
			case op.SkipSample:
				n = float64(l.Quantity)
			case op.Per == resources.PerShaft:
				n = float64(pieces)
			}
			s := p.Station(op.Stations[0])
			members := 1.0
			if m, ok := share[s.ID]; ok {
				members = m
			}
			parts := map[resources.Part]float64{
				resources.PartLoad:   n * (float64(op.Load)/members + float64(op.LoadEach)) / 60,
				resources.PartRun:    n * float64(p.RunTime(op, s)) / members / 60,
				resources.PartUnload: n * (float64(op.Unload)/members + float64(op.UnloadEach)) / 60,
			}
			for _, minutes := range parts {
				stations[s.ID] += minutes
			}
			for _, need := range op.Needs {
				skills[need.Skill] += parts[need.Part] * float64(need.Share) / 1000
			}
		}
	}
	return stations, skills
}

// openMinutes is how long windows of a calendar are open in all, in minutes.
func openMinutes(t *testing.T, p *resources.Plant, calendar string, span resources.Interval) float64 {
	windows, err := p.Calendar(calendar).Windows(p.Zone, span.Start, span.End)
	require.NoError(t, err)
	var total float64
	for _, w := range windows {
		total += float64(w.Length()) / 60
	}
	return total
}

// TestDemoWorkFitsTheSeason adds up the season's work and compares it with the
// hours there are: no station and no skill is asked for more than there is,
// and some are asked for most of it, or there would be nothing to plan. Run
// with -v for the table.
func TestDemoWorkFitsTheSeason(t *testing.T) {
	p, lines := readDemo(t)
	span := resources.Interval{Start: p.StartsAt}
	for _, l := range lines {
		span.End = max(span.End, l.Due)
	}
	stations, skills := seasonWork(p, lines, map[string]float64{"W2": 3, "O1": 7, "O2": 3, "CHART": 5, "POLISH": 5})
	var table strings.Builder
	busiest := 0.0
	row := func(name string, asked, there float64) {
		use := asked / there
		busiest = max(busiest, use)
		require.Less(t, use, 1.0, name)
		weeks := float64(span.Length()) / float64(7*resources.Day)
		fmt.Fprintf(&table, "%-12s %6.0f of %6.0f min a week %4.0f %%\n", name, asked/weeks, there/weeks, 100*use)
	}
	for i := range p.Stations {
		s := &p.Stations[i]
		there := openMinutes(t, p, s.Calendar, span)
		if s.Unattended {
			there = float64(span.Length()) / 60
		}
		row(s.ID, stations[s.ID], there*float64(s.Places))
	}
	there := work{}
	for _, c := range p.Crews {
		for _, shift := range c.Shifts {
			// A crew's hours count for each of its skills: an upper bound for
			// people with several.
			for _, skill := range c.Skills {
				there[skill] += openMinutes(t, p, shift.Calendar, span) * float64(shift.Heads)
			}
		}
	}
	for _, skill := range slices.Sorted(maps.Keys(there)) {
		row(skill, skills[skill], there[skill])
	}
	t.Log("\n" + table.String())
	require.Greater(t, busiest, 0.6)
}
