// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
)

// told is five histories of four orders, by hand: A is an event order of two
// lines, of which that with less to spare is due at 40; B is firm; H is an event
// order with a piece on hold; the last is for stock.
func told() *Sample {
	g := &Program{
		p: &scheduler.Problem{
			Orders: []scheduler.OrderP{{ID: "B"}, {ID: "A"}, {ID: "H"}, {ID: "stock"}},
			Lines:  []scheduler.LineP{{Due: 100}, {Due: 60, Event: true}, {Due: 40, Event: true}, {Due: 50, Event: true}, {Due: 0}},
		},
		orders: []order{{lines: []int32{0}}, {lines: []int32{1, 2}}, {lines: []int32{3}, waiting: true}, {lines: []int32{4}, stock: true}},
		lines:  []line{{planned: 90}, {planned: 35}, {planned: 30}, {planned: 20}, {planned: 70}},
	}
	s := g.NewSample(5, 7)
	for i, end := range []Tick{30, 50, 10, 40, 20} {
		row := s.rows[i*len(g.orders):]
		row[0] = outcome{end: 80, made: true, bad: i == 0}
		row[1] = outcome{end: end, made: end <= 40}
		row[2] = outcome{end: noDate}
		row[3] = outcome{end: 70}
	}
	s.rows[4*len(g.orders)] = outcome{end: noDate, why: causeOf(causePlan, 0)}
	s.side[2] = aside{breaches: 3, forced: 1}
	return s
}

// Quantiles are those of the histories; what is on hold or for stock is neither
// lost nor in the way of all dates being made.
func TestReportCounts(t *testing.T) {
	r := told().Report(5, 0.95)
	require.Len(t, r.Orders, 3, "no stock")
	a, b, h := r.Orders[0], r.Orders[1], r.Orders[2]
	require.Equal(t, []string{"A", "B", "H"}, []string{a.Order, b.Order, h.Order})

	require.Equal(t, []Tick{30, 40, 50}, []Tick{a.P50, a.P80, a.P95}, "three, four and five of five are complete then")
	require.EqualValues(t, 40, a.Due, "of the line that has ten to spare")
	require.EqualValues(t, 35, a.Planned)
	require.Equal(t, 4, a.Made)
	require.InDelta(t, 0.8, a.Chance, 1e-12)
	require.True(t, a.Event)

	require.Equal(t, []Tick{80, 80, 0}, []Tick{b.P50, b.P80, b.P95}, "one of five is beyond the calendars")
	require.InDelta(t, 0.2, b.Spoiled, 1e-12)
	require.Equal(t, []CauseShare{{Kind: "plan", Share: 1, Text: "the plan itself is late"}}, b.Causes)

	require.Equal(t, OrderRisk{Order: "H", Due: 50, Event: true, Waiting: true, Causes: []CauseShare{}}, h)
	require.InDelta(t, 0.2, r.Lost, 1e-12, "A, once")
	require.InDelta(t, 0.6, r.AllMade, 1e-12)
	require.InDelta(t, 0.6, r.Breaches, 1e-12)
	require.InDelta(t, 0.2, r.Forced, 1e-12)
}

// The first histories alone, as when playing stops early.
func TestReportOfTheFirst(t *testing.T) {
	r := told().Report(2, 0.95)
	require.Equal(t, []Tick{30, 50, 50}, []Tick{r.Orders[0].P50, r.Orders[0].P80, r.Orders[0].P95})
	require.InDelta(t, 0.5, r.AllMade, 1e-12)
}

func TestCompletionWithAChance(t *testing.T) {
	s := told()
	for _, x := range []struct {
		order  string
		chance float64
		at     Tick
	}{{"A", 0.2, 10}, {"A", 0.21, 20}, {"A", 0.8, 40}, {"A", 0.99, 50}, {"B", 0.8, 80}, {"B", 0.81, 0}, {"H", 0.5, 0}, {"nobody's", 0.5, 0}} {
		at, ok := s.Completion(x.order, 5, x.chance)
		require.Equal(t, x.at, at, "%+v", x)
		require.Equal(t, x.at > 0, ok, "%+v", x)
	}
}

// Of several late lines the latest says why.
func TestTheLatestLineSaysWhy(t *testing.T) {
	g := told().g
	g.p.Lines[1].Due, g.p.Lines[2].Due = 60, 40
	g.lines[2].planned = 45
	y := &Player{g: g, doneAt: []Tick{80, 65, 46, 0, 0}, lastAct: []int32{-1, -1, -1, -1, -1}, spoiled: make([]bool, 4)}
	row := func() outcome {
		s := g.NewSample(1, 1)
		y.note(s, 0)
		return s.rows[1]
	}
	require.Equal(t, outcome{end: 65, why: causeOf(causePlan, 0)}, row(), "the second is six late, and so by the plan; the first five")
	y.doneAt[1] = 67
	require.Equal(t, outcome{end: 67}, row(), "the first is seven late")
	y.doneAt[1], y.doneAt[2] = 60, 40
	require.Equal(t, outcome{end: 60, made: true}, row(), "to the second")
}
