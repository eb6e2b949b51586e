// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/schedtest"
)

// What is ordered and a full week cannot do is done in the weeks before it, and takes
// their free hours first, or after it when there are none; what the forecast has
// beyond a week's hours takes those of no other; what it foresees of the order has
// its hours in the week already.
func TestWeeksBack(t *testing.T) {
	row := func(free ...float64) *Row {
		r := &Row{}
		for _, hours := range free {
			r.Cells = append(r.Cells, Cell{There: 40, Asked: 40 - hours})
		}
		return r
	}
	all := map[string]*Row{
		"full after": row(10, 5, 2, -3), "free after": row(10, 5, 2, 3), "full before": row(-9, 5, 6, 3), "foreseen after": row(10, 5, 2, -3), "foreseen before": row(10, -5, 2, 3),
	}
	ordered := map[string]*Row{
		"full after": all["full after"], "free after": all["free after"], "full before": all["full before"], "foreseen after": row(10, 5, 2, 0), "foreseen before": row(10, 0, 2, 3),
	}
	s := &season{rows: all, ordered: ordered}
	for _, x := range []struct {
		keys     []string
		hours    float64
		foreseen float64
		back     int // -1: not at all
	}{
		{[]string{"free after"}, 2, 0, 0},
		{[]string{"free after"}, 6, 0, 1},
		{[]string{"full after"}, 2, 0, 1},
		{[]string{"full after"}, 6, 0, 2},
		{[]string{"full after"}, 6, 1, 1},
		{[]string{"free after"}, 6, 1, 0},
		{[]string{"free after", "full after"}, 4, 0, 0},
		{[]string{"full after"}, 14, 0, 2},
		{[]string{"full after"}, 15, 0, -1},
		{[]string{"full before"}, 2, 0, 0},
		{[]string{"full before"}, 3, 0, -1},
		{[]string{"foreseen after"}, 2, 0, 0},
		{[]string{"foreseen before"}, 6, 0, 2},
		{[]string{"foreseen before"}, 13, 0, -1},
		{[]string{"nowhere"}, 1, 0, -1},
	} {
		back, ok := s.weeksBack(need{x.keys, x.hours}, 2, x.foreseen)
		if x.back < 0 {
			require.False(t, ok, "%+v", x)
			continue
		}
		require.True(t, ok, "%+v", x)
		require.Equal(t, x.back, back, "%+v", x)
	}
}

// mill is a saw of two hours a piece and two benches of five, with people, open
// from 8 to 16 on weekdays; an event order for each of the instants.
func mill(t *testing.T, weeks int, dues ...Tick) *model {
	t.Helper()
	days := []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}
	day := resources.Shift{Days: days, Start: 8 * resources.Hour, End: 16 * resources.Hour}
	plant := schedtest.Plant(resources.Plant{
		ID: "mill", Calendars: []resources.Calendar{{ID: "day", Shifts: []resources.Shift{day}}},
		Stations: []resources.Station{{ID: "SAW", Calendar: "day"}, {ID: "BENCH", Calendar: "day", Places: 2}},
		Crews:    []resources.Crew{{ID: "hands", Skills: []string{"hand"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 2}}}},
		Products: []resources.Product{{ID: "A", Routing: []resources.Operation{
			{ID: "cut", Stations: []string{"SAW"}, Run: 2 * resources.Hour},
			{ID: "finish", Stations: []string{"BENCH"}, Run: 5 * resources.Hour, Needs: []resources.Need{{Part: resources.PartRun, Skill: "hand", Share: 1000}}},
		}}},
	})
	var lines []resources.OrderLine
	for i, due := range dues {
		lines = append(lines, resources.OrderLine{Order: string(rune('A' + i)), Line: "1", Product: "A", Quantity: 1, Weight: 1, Kind: resources.Event, ShipBy: due, Due: due})
	}
	m, err := newModel(Input{State: schedtest.State(plant, lines...), Now: schedtest.Monday, Weeks: weeks})
	require.NoError(t, err)
	m.work()
	m.crews()
	return m
}

// The last of five pieces is done as long after the first as the benches need for
// four, two side by side: ten hours of being open, which is 40 in 168.
func TestTheLastOfALotFollows(t *testing.T) {
	due := schedtest.Monday + Tick(11*resources.Day+10*resources.Hour)
	m := mill(t, 2, due)
	at := m.clock.latest("A", due)
	require.Equal(t, Seconds(10*168/40*3600), m.following(m.clock.routings["A"], at, 5))
	require.Zero(t, m.following(m.clock.routings["A"], at, 1))
}

// Where the finite plan reaches, its own wait says all, people's too; beyond it
// the wait for people comes on top of that for the station.
func TestWaitsOfThePlanAndBeyond(t *testing.T) {
	m := mill(t, 2, schedtest.Monday+Tick(11*resources.Day))
	cells := func(c Cell) *Row { return &Row{Cells: []Cell{c, c}} }
	rows := map[string]*Row{
		"station:BENCH": cells(Cell{Planned: 1, PlannedWait: 3, Wait: 1}),
		"skill:hand":    cells(Cell{Wait: 2}),
	}
	op := &m.plant.Products[0].Routing[1]
	second := schedtest.Monday + Tick(8*resources.Day)
	require.InDelta(t, 3, m.waitAt(rows, 2, op, second), 1e-9)
	require.InDelta(t, (1+2)*168.0/40, m.waitAt(rows, 1, op, second), 1e-9, "hours of being open, by the clock on the wall")
}

// A race weekend is looked at when it is still to come, and within the weeks.
func TestWhichWeekendsAreLookedAt(t *testing.T) {
	now := schedtest.Monday
	end := mill(t, 2, now).g.end
	require.Equal(t, now+Tick(14*resources.Day-6*resources.Hour), end)
	m := mill(t, 2, now, now+1, end-1, end)
	require.Equal(t, []weekend{{due: now + 1}, {due: end - 1}}, m.weekends())
	for _, line := range m.in.State.Lines {
		line.Cancelled = true
	}
	require.Empty(t, m.weekends(), "nobody wants anything for them")
}
