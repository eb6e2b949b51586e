// SPDX-License-Identifier: Apache-2.0

package simulate_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
	"towpath/scheduler/simulate"
	"towpath/testdata/demo"
)

// few is the demo shop with its first order lines.
func few(t *testing.T, lines int) *scheduler.State {
	t.Helper()
	plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", found)
	all, _ := resources.ReadOrders("orders.csv", demo.Orders, plant)
	require.Greater(t, len(all), lines)
	state, err := scheduler.StateOf(plant, all[:lines])
	require.NoError(t, err)
	return state
}

// run is a shop at work under a plan that is repaired after each report.
type run struct {
	t       *testing.T
	state   *scheduler.State
	now     resources.Tick
	events  []events.Event
	refused []string
}

func begin(t *testing.T, lines int) *run {
	state := few(t, lines)
	r := &run{t: t, state: state, now: state.Plant.StartsAt}
	r.plan()
	return r
}

func (r *run) plan() {
	r.t.Helper()
	problem, err := scheduler.Compile(r.state, r.now)
	require.NoError(r.t, err)
	var plan *scheduler.Plan
	if r.state.Plan == nil {
		plan, err = search.Construct(problem)
	} else if plan, err = search.Repair(problem, r.state.Plan); err != nil {
		plan, err = search.Construct(problem)
	}
	require.NoError(r.t, err)
	e, broken := scheduler.Commit(r.state, r.now, plan)
	require.Empty(r.t, broken)
	e.Seq = r.state.Seq + 1
	_, err = r.state.Apply(e)
	require.NoError(r.t, err)
}

// live lets the shop work until an instant, looking every so often.
func (r *run) live(shop *simulate.Shop, long, every resources.Seconds) {
	r.t.Helper()
	for end := r.now + resources.Tick(long); r.now < end; r.now += resources.Tick(every) {
		batch := shop.Step(r.state.Clone(), r.now)
		for _, e := range batch {
			require.NoError(r.t, events.Validate(e))
			require.LessOrEqual(r.t, e.At, r.now, "nothing is reported before it happens")
			e.Seq = r.state.Seq + 1
			if _, err := r.state.Apply(e); err != nil {
				r.state.Skip(e.Seq)
				r.refused = append(r.refused, e.ID+": "+err.Error())
			}
		}
		r.events = append(r.events, batch...)
		if len(batch) > 0 || r.now%7200 == 0 {
			r.plan()
		}
	}
}

func (r *run) count(kind events.Kind) int {
	n := 0
	for _, e := range r.events {
		if e.Kind == kind {
			n++
		}
	}
	return n
}

// calm is a shop in which everything goes as planned.
func calm() simulate.Odds { return simulate.Odds{} }

func TestCalmShopDoesWhatIsPlanned(t *testing.T) {
	r := begin(t, 3)
	plan := r.state.Plan
	r.live(simulate.New(1, calm()), 30*resources.Hour, 120)
	require.Empty(t, r.refused)
	starts := map[string]resources.Tick{}
	for _, l := range plan.Loads {
		starts[l.ID] = l.Start
	}
	first := true
	for _, e := range r.events {
		if data, ok := e.Data.(events.LoadData); ok && e.Kind == events.LoadStarted && first {
			require.Equal(t, starts[data.Load], e.At, "the first load starts as published")
			first = false
		}
	}
	require.False(t, first, "a load has started")
	require.NotZero(t, r.count(events.MixMade))
	require.NotZero(t, r.count(events.OperationStarted))
	require.NotZero(t, r.count(events.OperationFinished))
	require.NotZero(t, r.count(events.LoadFinished))
	require.Zero(t, r.count(events.StationDown))
	require.Zero(t, r.count(events.PieceScrapped))
}

func TestUnrulyShopIsBelievedAndPlannedAround(t *testing.T) {
	schedtest.Long(t)
	odds := simulate.Ordinary()
	odds.Stop, odds.Hold, odds.Repeated, odds.Nonsense, odds.Forgotten = 0.5, 0.1, 0.1, 0.1, 0.2
	r := begin(t, 4)
	r.live(simulate.New(2, odds), 2*resources.Day, 120)
	require.NotEmpty(t, r.refused, "repeats and nonsense are refused")
	for _, why := range r.refused {
		if !strings.Contains(why, "applied already") {
			require.Contains(t, why, "there is no such piece", "nothing else is")
		}
	}
	require.NotZero(t, r.count(events.StationDown))
	require.NotZero(t, r.count(events.StationUp))
	require.NotZero(t, r.count(events.PieceHeld))
}

func TestSeedDecides(t *testing.T) {
	ids := func(seed uint64) []string {
		r := begin(t, 2)
		r.live(simulate.New(seed, simulate.Ordinary()), 14*resources.Hour, 300)
		var list []string
		for _, e := range r.events {
			list = append(list, e.ID)
		}
		return list
	}
	one := ids(7)
	require.NotEmpty(t, one)
	require.Equal(t, one, ids(7))
	require.NotEqual(t, one, ids(8))
}

func TestShopGoesOnAfterARestart(t *testing.T) {
	r := begin(t, 2)
	r.live(simulate.New(3, calm()), 5*resources.Hour, 60)
	before := len(r.events)
	require.NotZero(t, before)
	r.live(simulate.New(3, calm()), 20*resources.Hour, 60) // a new memory
	require.Greater(t, len(r.events), before)
	require.Empty(t, r.refused, "nothing is reported twice")
}

func TestShopWithoutAPlanWaits(t *testing.T) {
	state := few(t, 1)
	require.Empty(t, simulate.New(1, simulate.Ordinary()).Step(state, state.Plant.StartsAt))
	require.Empty(t, simulate.New(1, simulate.Ordinary()).Step(scheduler.NewState(nil), 0))
}

// Crews that go are reported, and those who are back before they were expected, or
// of whom nobody knew; the rest need not. Where nobody tells, nothing is reported.
func TestPeopleWhoGoAreReported(t *testing.T) {
	odds := calm()
	odds.Absent, odds.AwayLong, odds.Told, odds.Unsaid = 0.4, 2*resources.Hour, 1, 0.3
	r := begin(t, 2)
	r.live(simulate.New(5, odds), 2*resources.Day, 300)
	require.Empty(t, r.refused)
	gone := map[string]events.Event{}
	said, open, back := 0, 0, 0
	for _, e := range r.events {
		switch d := e.Data.(type) {
		case events.AbsentData:
			require.Equal(t, r.state.Plant.Crew(d.Crew).Heads(), d.People)
			gone[e.ID] = e
			if said++; d.Until == 0 {
				open++
			}
		case events.PresentData:
			was, known := gone[d.Absence]
			require.True(t, known, "they went")
			require.Equal(t, was.Data.(events.AbsentData).Crew, d.Crew)
			require.Greater(t, e.At, was.At)
			if until := was.Data.(events.AbsentData).Until; until != 0 {
				require.Less(t, e.At, until, "else they need not say so")
				require.LessOrEqual(t, until-e.At, resources.Tick(30*resources.Minute))
			}
			delete(gone, d.Absence)
			back++
		}
	}
	require.NotZero(t, open)
	require.Less(t, open, said)
	require.NotZero(t, back)
	require.Less(t, back, said, "some come back when they said")
	for id, a := range r.state.Absences {
		require.Contains(t, gone, id)
		require.True(t, a.Until == 0 || a.Until > r.now-resources.Tick(2*resources.Day))
	}
	odds.Told = 0
	quiet := begin(t, 2)
	quiet.live(simulate.New(5, odds), resources.Day, 300)
	require.Zero(t, quiet.count(events.CrewAbsent)+quiet.count(events.CrewPresent))
	require.NotZero(t, quiet.count(events.OperationStarted))
}
