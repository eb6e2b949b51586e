// SPDX-License-Identifier: Apache-2.0

package whatif_test

import (
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/whatif"
)

const now = schedtest.Monday

// Each kind of change does to the two dates what can be counted by hand: A is
// two pieces due after seven hours, B one piece due after twenty. With one
// mandrel a piece follows another every four hours.
func TestWhatAChangeDoes(t *testing.T) {
	down := func(from, long resources.Seconds) resources.Change {
		return resources.Change{Down: &resources.DownChange{Station: "W", From: now + resources.Tick(from*resources.Hour), For: long * resources.Hour}}
	}
	away := func(from, long resources.Seconds) resources.Change {
		return resources.Change{Absent: &resources.AbsentChange{Crew: "hands", People: 1, From: now + resources.Tick(from*resources.Hour), For: long * resources.Hour}}
	}
	add := line("C", 1, 30)
	more := line("A", 3, 13)
	for _, c := range []struct {
		name       string
		change     resources.Change
		a, b       int // hours to completion; 0: gone
		won, lost  []string
		added      int
		tardyHours float64
	}{
		{"as it is", resources.Change{}, 8, 12, nil, nil, 0, 1},
		{"one more mandrel", resources.Change{Tool: &resources.ToolChange{ID: "M", Count: 2}}, 6, 8, []string{"A"}, nil, 0, 0},
		{"faster winding", resources.Change{Duration: &resources.FactorChange{Operation: "wind", Factor: 0.5}}, 6, 9, []string{"A"}, nil, 0, 0},
		{"winder down from now", down(0, 10), 18, 22, nil, []string{"B"}, 0, 13},
		{"winder down later", down(8, 10), 8, 22, nil, []string{"B"}, 0, 3},
		{"the only winder away from now", away(0, 10), 18, 22, nil, []string{"B"}, 0, 13},
		{"the only winder away later", away(8, 10), 8, 22, nil, []string{"B"}, 0, 3},
		{"the only winder away while nobody is needed", away(2, 2), 8, 12, nil, nil, 0, 1},
		{"one order more", resources.Change{AddOrder: &resources.NewOrder{OrderLine: add}}, 8, 12, nil, nil, 1, 1},
		{"one order larger and later", resources.Change{ChangeOrder: &more}, 12, 16, []string{"A"}, nil, 0, 0},
		{"one order less", resources.Change{DropOrder: &resources.OrderName{Order: "A"}}, 0, 4, nil, nil, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := schedtest.State(bench(), line("A", 2, 7), line("B", 1, 20))
			was := print(s)
			set := setOf()
			if c.change.Kind() != "" {
				set = setOf(c.change)
			}
			q, err := whatif.Ask(s, now, set)
			require.NoError(t, err)
			x, _ := compare(t, q, 50)
			require.Equal(t, was, print(s), "the shop itself is untouched")
			ends := map[string]resources.Tick{}
			for _, o := range scheduler.MeasureOrders(q.After, planOf(t, q)) {
				ends[o.Order] = (o.Completion - now) / resources.Tick(resources.Hour)
			}
			require.Equal(t, resources.Tick(c.a), ends["A"])
			require.Equal(t, resources.Tick(c.b), ends["B"])
			require.ElementsMatch(t, c.won, x.Won)
			require.ElementsMatch(t, c.lost, x.Lost)
			require.Len(t, x.Added, c.added)
			require.InDelta(t, c.tardyHours, x.After.Tardiness, 1e-9)
			require.InDelta(t, 1, x.Before.Tardiness, 1e-9)
			require.InDelta(t, 3, x.Before.PersonHours, 1e-9, "half a person for three times two hours")
		})
	}
}

// planOf is the plan with the changes of the short searches.
func planOf(t *testing.T, q *whatif.Question) *scheduler.Plan {
	t.Helper()
	_, plans := compare(t, q, 50)
	return plans[1]
}

// The biggest move comes first, with its size and sign.
func TestTheBiggestMoveComesFirst(t *testing.T) {
	s := schedtest.State(bench(), line("A", 1, 4), line("B", 1, 8), line("C", 1, 12))
	q, err := whatif.Ask(s, now, setOf(resources.Change{Tool: &resources.ToolChange{ID: "M", Count: 2}}))
	require.NoError(t, err)
	x, _ := compare(t, q, 50)
	require.Equal(t, 1, x.Same)
	require.Len(t, x.Moved, 2)
	require.Equal(t, "C", x.Moved[0].Order)
	require.Equal(t, -4*resources.Hour, x.Moved[0].By)
	require.Equal(t, "B", x.Moved[1].Order)
	require.Equal(t, -2*resources.Hour, x.Moved[1].By)
	require.Equal(t, 6, x.Churn.Compared)
	require.Equal(t, 4, x.Churn.Moved, "two steps of B and of C")
}

// What can be dated in one of the two shops only stands before every other move,
// and says no length of time.
func TestWhatCannotBeDatedComesFirst(t *testing.T) {
	s := schedtest.State(bench(), line("A", 1, 4), line("B", 1, 8), line("C", 1, 12))
	q, err := whatif.Ask(s, now, setOf(resources.Change{Tool: &resources.ToolChange{ID: "M", Count: 2}}))
	require.NoError(t, err)
	for serial, p := range q.After.Pieces {
		if p.Order == "B" {
			held := *p
			held.Held = true
			q.After.Pieces[serial] = &held
		}
	}
	q.Changed, err = scheduler.Compile(q.After, now)
	require.NoError(t, err)
	x, _ := compare(t, q, 50)
	require.Len(t, x.Moved, 2)
	require.Equal(t, "B", x.Moved[0].Order)
	require.Zero(t, x.Moved[0].By)
	require.Zero(t, x.Moved[0].Is.Completion)
	require.Equal(t, "waiting", x.Moved[0].Is.Status)
	require.Equal(t, "C", x.Moved[1].Order)
	require.Negative(t, x.Moved[1].By)
	require.Equal(t, []string{"B"}, x.Lost)
}

// What the rules of the log do not allow is told, all of it, and nothing is
// half done.
func TestWhatCannotBeChanged(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7), line("B", 1, 20))
	first, err := whatif.Ask(s, now, setOf())
	require.NoError(t, err)
	_, plans := compare(t, first, 10)
	later := now + resources.Tick(resources.Hour)
	schedtest.Advance(s, plans[0], later)
	was := print(s)

	_, err = whatif.Ask(s, later, setOf(resources.Change{Station: &resources.StationChange{ID: "W", Count: 0}}))
	require.ErrorContains(t, err, "wind")
	gone := line("X", 1, 9)
	_, err = whatif.Ask(s, later, setOf(
		resources.Change{ChangeOrder: &gone, Line: 4},
		resources.Change{DropOrder: &resources.OrderName{Order: "Y"}, Line: 5},
		resources.Change{DropOrder: &resources.OrderName{Order: "B"}, Line: 6},
	))
	require.ErrorContains(t, err, "line 4: change order X/1")
	require.ErrorContains(t, err, "line 5: drop order Y: order Y: there is no open line of that order")
	require.NotContains(t, err.Error(), "line 6")
	var fault *whatif.Fault
	require.ErrorAs(t, err, &fault)
	var no *scheduler.Refusal
	require.True(t, errors.As(err, &no))
	require.Equal(t, was, print(s))

	ill := resources.AbsentChange{Crew: "hands", People: 1, For: resources.Hour}
	_, err = whatif.Ask(s, later, setOf(resources.Change{Absent: &ill, Line: 4}, resources.Change{Absent: &ill, Line: 5}))
	require.ErrorContains(t, err, "line 5: 1 of hands away from now for 1 h: crew hands: 1 of it are reported away already")
	require.NotContains(t, err.Error(), "line 4")
	ill.People = 2
	_, err = whatif.Ask(s, later, setOf(resources.Change{Absent: &ill, Line: 4}))
	require.ErrorContains(t, err, "line 4: 2 of hands away from now for 1 h: crew hands: 2 of it are away, and it has 1")
	require.Equal(t, was, print(s))
}

// Every kind of change at once, in the midst of a season.
func TestEveryKindOnTheDemo(t *testing.T) {
	schedtest.Long(t)
	s := demo(t)
	start := s.Plant.StartsAt
	set := read(t, s, start, string(testFile(t, "changes", "every-kind.yaml")))
	was := print(s)
	q, err := whatif.Ask(s, start, set)
	require.NoError(t, err)
	x, _ := compare(t, q, 3)
	require.Equal(t, was, print(s))
	require.Len(t, x.Changes, len(set.Changes))
	require.True(t, q.After.Stations["W1"].Down, "a stop from now on is a fact")
	require.False(t, q.Before.Stations["W1"].Down)
	require.Len(t, q.After.Absences, 2)
	require.Empty(t, q.Before.Absences)
	require.Equal(t, "X-1", x.Added[0].Order)
	require.Equal(t, "1009", x.Dropped[0].Order)
	require.Positive(t, x.Before.PersonHours)
	require.Positive(t, x.Before.OvenHours)
	require.Greater(t, x.Before.Mixed, x.Before.Discarded)
}

// Over any mix of changes to a small shop: both plans are verified, the shop
// asked of is untouched, the counts add up, and the same question has the same
// answer.
func TestAnyMixOfChanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []resources.OrderLine
		for i := range rapid.IntRange(1, 3).Draw(t, "orders") {
			l := line(string(rune('A'+i)), rapid.IntRange(1, 2).Draw(t, "quantity"), rapid.IntRange(3, 20).Draw(t, "due"))
			l.Kind = rapid.SampledFrom([]resources.OrderKind{resources.Firm, resources.Event}).Draw(t, "kind")
			lines = append(lines, l)
		}
		s := schedtest.State(bench(), lines...)
		was := print(s)
		set := anyChanges(t, lines)
		q, err := whatif.Ask(s, now, set)
		if err != nil {
			var fault *whatif.Fault
			require.ErrorAs(t, err, &fault)
			require.Equal(t, was, print(s))
			return
		}
		x, plans := compare(t, q, 10)
		require.Equal(t, was, print(s))
		again, _ := compare(t, q, 10)
		require.Equal(t, x, again)
		require.Equal(t, x.Before.Orders, x.Same+len(x.Moved)+len(x.Dropped))
		require.Equal(t, x.After.Orders, x.Same+len(x.Moved)+len(x.Added))
		require.Equal(t, x.After.OnTime-x.Before.OnTime, len(x.Won)-len(x.Lost)+inTime(x.Added)-inTime(x.Dropped))
		for i := 1; i < len(x.Moved); i++ {
			require.GreaterOrEqual(t, max(x.Moved[i-1].By, -x.Moved[i-1].By), max(x.Moved[i].By, -x.Moved[i].By))
		}
		if len(set.Changes) == 0 {
			require.Equal(t, plans[0], plans[1], "nothing is changed, so nothing differs")
			require.Equal(t, x.Before, x.After)
			require.True(t, x.Churn.Quiet())
		}
	})
}

func inTime(list []whatif.Outcome) int {
	n := 0
	for _, x := range list {
		if x.Status == scheduler.OrderOnTime.String() {
			n++
		}
	}
	return n
}

// anyChanges draws changes, mostly such as can be made; each order and each
// thing once.
func anyChanges(t *rapid.T, lines []resources.OrderLine) *resources.ChangeSet {
	set := setOf()
	some := func(what string, of int) bool { return rapid.IntRange(0, of).Draw(t, what) == 0 }
	if some("add", 2) {
		l := line("new", rapid.IntRange(1, 2).Draw(t, "new quantity"), rapid.IntRange(2, 30).Draw(t, "new due"))
		set.Changes = append(set.Changes, resources.Change{AddOrder: &resources.NewOrder{OrderLine: l}})
	}
	for _, l := range lines {
		switch rapid.IntRange(0, 4).Draw(t, "order") {
		case 0:
			set.Changes = append(set.Changes, resources.Change{DropOrder: &resources.OrderName{Order: l.Order}})
		case 1:
			l.Quantity++
			set.Changes = append(set.Changes, resources.Change{ChangeOrder: &l})
		}
	}
	if some("tool", 2) {
		set.Changes = append(set.Changes, resources.Change{Tool: &resources.ToolChange{ID: "M", Count: rapid.IntRange(1, 3).Draw(t, "mandrels")}})
	}
	if some("down", 2) {
		set.Changes = append(set.Changes, resources.Change{Down: &resources.DownChange{
			Station: rapid.SampledFrom([]string{"W", "B"}).Draw(t, "which"),
			From:    now + resources.Tick(rapid.IntRange(0, 8).Draw(t, "from"))*3600, For: 2 * resources.Hour,
		}})
	}
	if some("away", 2) {
		set.Changes = append(set.Changes, resources.Change{Absent: &resources.AbsentChange{
			Crew: "hands", People: rapid.IntRange(1, 2).Draw(t, "away people"), For: resources.Seconds(rapid.IntRange(1, 20).Draw(t, "away hours")) * resources.Hour,
			From: now + resources.Tick(rapid.IntRange(-1, 8).Draw(t, "away from"))*3600, Why: rapid.SampledFrom([]string{"", "ill"}).Draw(t, "why"),
		}})
	}
	if some("station", 2) {
		set.Changes = append(set.Changes, resources.Change{Station: &resources.StationChange{ID: "W", Count: rapid.IntRange(0, 3).Draw(t, "winders")}})
	}
	if some("crew", 3) {
		set.Changes = append(set.Changes, resources.Change{Crew: &resources.CrewChange{ID: "hands", Heads: rapid.IntRange(2, 3).Draw(t, "heads")}})
	}
	return set
}

// FuzzChanged: what the reader lets through never panics and never touches the
// shop it is asked of.
func FuzzChanged(f *testing.F) {
	for _, name := range []string{"every-kind.yaml", "oven-down.yaml", "rush-order.yaml", "rush-with-saturday.yaml"} {
		f.Add(testFile(f, "changes", name))
	}
	f.Add([]byte("name: x\nchanges: []"))
	f.Add([]byte("name: x\nchanges:\n- absent: {crew: winders, people: 2, for: 1d}\n- absent: {crew: winders, people: 2, for: 1d}\n- crew: {id: winders, calendar: late, heads: 0}"))
	f.Add([]byte("name: x\nchanges:\n- station: {id: O1, count: 3}\n- down: {station: O1, for: 1d}"))
	s := demo(f)
	was := s.Hash()
	f.Fuzz(func(t *testing.T, text []byte) {
		set, _ := resources.ReadChanges("changes.yaml", text, s.Plant, whatif.Lines(s), s.Plant.StartsAt)
		if set == nil {
			return
		}
		if after, err := whatif.Changed(s, s.Plant.StartsAt, set); err == nil {
			require.Equal(t, s.Seq, after.Seq)
		}
		require.Equal(t, was, s.Hash())
	})
}

// Two sets against each other: with two mandrels A is complete after six hours
// and B after eight; with the winder down for ten hours after 18 and 22.
func TestBetweenTwoSets(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7), line("B", 1, 20))
	ask := func(c resources.Change) (*whatif.Question, *scheduler.Plan) {
		q, err := whatif.Ask(s, now, setOf(c))
		require.NoError(t, err)
		_, plans := compare(t, q, 50)
		return q, plans[1]
	}
	tool, with := ask(resources.Change{Tool: &resources.ToolChange{ID: "M", Count: 2}})
	down, without := ask(resources.Change{Down: &resources.DownChange{Station: "W", For: 10 * resources.Hour}})
	c, err := whatif.Between(tool, with, down, without)
	require.NoError(t, err)
	require.Equal(t, []string{"A", "B"}, c.Lost)
	require.Empty(t, c.Won)
	require.Equal(t, []whatif.Seconds{14 * resources.Hour, 12 * resources.Hour}, []whatif.Seconds{c.Moved[0].By, c.Moved[1].By})
	require.Equal(t, "B", c.Moved[0].Order)
	require.True(t, tool.Together(down))
	_, err = whatif.Between(tool, with, down, with)
	require.ErrorContains(t, err, "the plan of the second set fails verification")
	later, err := whatif.Ask(s, now+60, setOf())
	require.NoError(t, err)
	require.False(t, tool.Together(later))
}

// Three tubes cure for three hours in an oven that takes two at 18 kW: two loads,
// 108 kWh, and with a second oven like it as much; a recipe of two hours takes 72.
// Without the power of the oven nothing is said.
func TestEnergyOfTheOvens(t *testing.T) {
	for _, c := range []struct {
		watts   int64
		change  resources.Change
		was, is float64
		known   bool
	}{
		{18000, resources.Change{Recipe: &resources.Recipe{ID: "R", Group: "R", Fixed: 2 * resources.Hour}}, 108, 72, true},
		{18000, resources.Change{Station: &resources.StationChange{ID: "oven", Count: 2}}, 108, 108, true},
		{0, resources.Change{Station: &resources.StationChange{ID: "oven", Count: 2}}, 0, 0, false},
	} {
		// Its loads are no oven's: neither their hours nor their power counts.
		desk := resources.Station{ID: "desk", Batch: &resources.Batch{Capacity: map[string]int64{"places": 9}}, Watts: 1000}
		plant := schedtest.Plant(resources.Plant{
			ID: "ovens", Horizon: 28 * resources.Day,
			Stations: []resources.Station{desk, {ID: "oven", Recipes: []string{"R"}, Batch: &resources.Batch{Capacity: map[string]int64{"places": 2}}, Watts: c.watts}},
			Recipes:  []resources.Recipe{{ID: "R", Group: "R", Fixed: 3 * resources.Hour}},
			Products: []resources.Product{{ID: "P", Routing: []resources.Operation{
				{ID: "cure", Stations: []string{"oven"}, Recipe: "R", Size: map[string]int64{"places": 1}},
				{ID: "look", Stations: []string{"desk"}, Run: resources.Hour, Size: map[string]int64{"places": 1}},
			}}},
		})
		q, err := whatif.Ask(schedtest.State(plant, line("A", 3, 40)), now, setOf(c.change))
		require.NoError(t, err)
		x, _ := compare(t, q, 50)
		require.InDelta(t, 6, x.Before.OvenHours, 1e-9)
		require.InDelta(t, c.was, x.Before.Energy, 1e-9)
		require.InDelta(t, c.is, x.After.Energy, 1e-9)
		require.Equal(t, c.known, x.Before.EnergyKnown && x.After.EnergyKnown)
		require.Equal(t, c.known, slices.ContainsFunc(x.Rows(), func(r whatif.Row) bool { return r.What == "oven energy, kWh" }))
	}
}
