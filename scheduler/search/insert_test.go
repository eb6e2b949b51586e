// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// asked is the state with one more order.
func asked(t *testing.T, s *scheduler.State, product string, quantity int, now resources.Tick) *scheduler.State {
	t.Helper()
	after := s.Clone()
	_, err := after.Apply(events.Event{ID: "asked", Kind: events.OrderAdded, Plant: s.PlantName(), At: now, Data: events.OrderData{
		Order: "asked", Line: "1", Product: product, Quantity: quantity, ShipBy: now + 1e6, Due: now + 1e6, Weight: 1, Kind: "firm",
	}})
	require.NoError(t, err)
	return after
}

func TestNewWorkGoesAroundThePlanToTheSecond(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	for _, hours := range []resources.Seconds{0, 27, 101} {
		now := s.Plant.StartsAt + resources.Tick(hours*resources.Hour)
		if hours > 0 {
			schedtest.Advance(s, plan, now)
			plan, err = search.Repair(compile(t, s, now), plan)
			require.NoError(t, err)
		}
		after := asked(t, s, "HS-S", 5, now)
		p := compile(t, after, now)
		x, err := search.NewInserter(p, plan)
		require.NoError(t, err)
		fit, err := x.Around()
		require.NoError(t, err)
		got := fit.Plan()
		schedtest.RequireOK(t, after, now, got)
		was := map[scheduler.Member]scheduler.Work{}
		for _, w := range plan.Work {
			was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w
		}
		seen := 0
		for _, w := range got.Work {
			if w.Order == "asked" {
				continue
			}
			old := was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}]
			old.Load, old.Mix, w.Load, w.Mix = "", "", "", "" // named by whoever is first
			require.Equal(t, old, w)
			seen++
		}
		require.Equal(t, len(plan.Work), seen)
		line := slices.IndexFunc(p.Lines, func(l scheduler.LineP) bool { return p.Orders[l.Order].ID == "asked" })
		require.Equal(t, scheduler.MeasureLines(after, got)["asked/1"].End, fit.Ends()[line])

		shared, err := x.Shared(now, nil)
		require.NoError(t, err)
		schedtest.RequireOK(t, after, now, shared.Plan())

		among, err := x.Among(now, nil)
		require.NoError(t, err)
		schedtest.RequireOK(t, after, now, among.Plan())
		ends := among.Ends()
		require.LessOrEqual(t, ends[line], fit.Ends()[line], "with the first turn it is no later")

		kept, err := x.Among(now, ends)
		require.NoError(t, err, "what it does without being asked it does when asked")
		require.Equal(t, ends, kept.Ends())
		ends[line]--
		_, err = x.Among(now, ends)
		var late *search.TooLate
		require.ErrorAs(t, err, &late)
		require.EqualValues(t, line, late.Line)
	}
}

// A kiln that is full of time has room: a tube that is asked for rides in the load
// that is planned, and the shop cures no more often for it.
func TestNewWorkRidesInALoadWithRoom(t *testing.T) {
	s := season(t)
	now := s.Plant.StartsAt
	plan, err := search.Construct(compile(t, s, now))
	require.NoError(t, err)
	rode := 0
	for _, product := range []string{"HS-S", "HS-M", "PS-L", "PX-R"} {
		after := asked(t, s, product, 1, now)
		x, err := search.NewInserter(compile(t, after, now), plan)
		require.NoError(t, err)
		fit, err := x.Shared(now, nil)
		require.NoError(t, err)
		got := fit.Plan()
		schedtest.RequireOK(t, after, now, got)
		cures := func(p *scheduler.Plan) (n int) {
			for i := range p.Loads {
				if p.Loads[i].Recipe != "" {
					n++
				}
			}
			return n
		}
		if cures(got) == cures(plan) {
			rode++
		}
	}
	require.Positive(t, rode)
}

func TestNewWorkNeedsAPlanThatCanBeFollowed(t *testing.T) {
	s := season(t)
	plan, err := search.Construct(compile(t, s, s.Plant.StartsAt))
	require.NoError(t, err)
	now := s.Plant.StartsAt + resources.Tick(5*resources.Day) // and nothing was reported
	_, err = search.NewInserter(compile(t, asked(t, s, "HS-S", 1, now), now), plan)
	require.ErrorIs(t, err, search.ErrOvertaken)
}

// Ways that can only end later are given up early, and that loses none that ends
// sooner.
func TestNewWorkTakesTheWayThatEndsFirst(t *testing.T) {
	schedtest.Long(t)
	s := season(t)
	now := s.Plant.StartsAt
	plan, err := search.Construct(compile(t, s, now))
	require.NoError(t, err)
	apart := 0
	for _, product := range s.Plant.Products {
		for _, quantity := range []int{2, 7, 15} {
			after := asked(t, s, product.ID, quantity, now)
			x, err := search.NewInserter(compile(t, after, now), plan)
			require.NoError(t, err)
			ends, err := x.WayEnds()
			require.NoError(t, err)
			require.NotEmpty(t, ends)
			fit, err := x.Around()
			require.NoError(t, err)
			schedtest.RequireOK(t, after, now, fit.Plan())
			end := resources.Tick(0)
			for _, w := range fit.Plan().Work {
				if w.Order == "asked" {
					end = max(end, w.End)
				}
			}
			require.LessOrEqual(t, end, slices.Min(ends), "%d of %s", quantity, product.ID)
			if slices.Min(ends) < slices.Max(ends) {
				apart++
			}
		}
	}
	require.Positive(t, apart, "ways that end at different times")
}
