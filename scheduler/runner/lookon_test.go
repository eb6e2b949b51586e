// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

// lookingOn is a shop whose first plan has an order late, and whose search finds
// the plan without in its try of that number; the others give back what they were
// given, with proven as an optimum.
func lookingOn(t *testing.T, finds int64, proven bool) (s *shop, searches *atomic.Int64) {
	searches = &atomic.Int64{}
	h := &hooked{repair: func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
		if from == nil {
			return worst(p)
		}
		return search.Repair(p, from)
	}}
	h.improve = func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, _ runner.Budget) (*scheduler.Plan, error) {
		time.Sleep(time.Second)
		if searches.Add(1) == finds {
			found, err := runner.Plan(ctx, p, nil, runner.Budget{Iterations: 200, Seed: 1, Workers: 1})
			return found.Plan, err
		}
		same := *from
		same.Optimal = proven
		return &same, nil
	}
	s = newShop(t, withPlanner(h, time.Second))
	s.must(declared(), due(added("A", 1), start+9*3600), due(added("B", 1), start+16200-1200))
	return s, searches
}

// One search may leave late what another saves: it is looked on until three in a
// row have saved no date, and again when a fact asks.
func TestSearchGoesOnWhileItSavesDates(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, searches := lookingOn(t, 3, false)
		defer s.end()
		time.Sleep(30 * time.Second)
		p := s.runner.Picture()
		require.Zero(t, p.Score.Late, "saved by the third search")
		require.EqualValues(t, 3+3, searches.Load())
		require.Equal(t, "idle", p.Planning)
		require.Contains(t, whys(p), "plant.declared", "the reason is the fact that asked first")

		s.must(op("a", events.OperationStarted, "SAW", "B-1-01", "saw", 40))
		time.Sleep(30 * time.Second)
		require.EqualValues(t, 6, searches.Load(), "a beginning asks for none")
		s.must(events.Event{ID: "d", Kind: events.StationDown, Station: "GLUE", Data: events.StationData{Until: start + 600}})
		time.Sleep(30 * time.Second)
		require.EqualValues(t, 9, searches.Load())
		require.Equal(t, "idle", s.runner.Picture().Planning)

		// While the second search of three is under way: the counting begins anew.
		s.must(events.Event{ID: "e", Kind: events.StationUp, Station: "GLUE", Data: events.StationData{}})
		time.Sleep(1800 * time.Millisecond)
		require.EqualValues(t, 10, searches.Load())
		s.must(events.Event{ID: "f", Kind: events.StationDown, Station: "GLUE", Data: events.StationData{Until: start + 900}})
		time.Sleep(30 * time.Second)
		require.EqualValues(t, 9+2+3, searches.Load())
		s.agree()
	})
}

func TestSearchEndsInVainOrWithAProof(t *testing.T) {
	for _, tt := range []struct {
		proven bool
		want   int64
	}{{false, 3}, {true, 1}} {
		synctest.Test(t, func(t *testing.T) {
			s, searches := lookingOn(t, 0, tt.proven)
			defer s.end()
			time.Sleep(time.Minute)
			require.Equal(t, tt.want, searches.Load())
			require.Equal(t, 1, s.runner.Picture().Score.Late)
			require.Equal(t, "idle", s.runner.Picture().Planning)
		})
	}
}
