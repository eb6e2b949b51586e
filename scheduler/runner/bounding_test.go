// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

// A repair is published without bounds; they are computed when there is nothing
// else to do, and belong to that plan alone.
func TestRepairedPlanGetsItsGapsLater(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(3)
		time.Sleep(2 * time.Second)
		p := s.runner.Picture()
		require.NotNil(t, p.Plan())
		require.Empty(t, p.Plan().Gaps, "the repair did not wait for bounds")
		require.NotEmpty(t, p.Gaps)
		tardy := p.Gaps[1]
		require.Equal(t, "tardiness", tardy.Part)
		require.Equal(t, p.Score.WeightedTardinessSeconds, tardy.Value)
		for _, g := range p.Gaps {
			require.GreaterOrEqual(t, g.Open(), int64(0), g.Part)
		}
		s.agree()
	})
}

// An improvement is published with its gaps, so that they are in the log.
func TestImprovedPlanIsPublishedWithItsGaps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &hooked{}
		h.repair = func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
			if from == nil {
				return worst(p)
			}
			return runner.Engine{}.Repair(p, from)
		}
		h.improve = func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error) {
			return runner.Engine{}.Improve(ctx, p, nil, runner.Budget{Iterations: 200, Seed: 1, Workers: 1})
		}
		s := newShop(t, withPlanner(h, time.Second))
		defer s.end()
		soon := added("B", 1)
		data := soon.Data.(events.OrderData)
		data.ShipBy, data.Due, data.Weight = start+15000, start+15000, 50
		soon.Data = data
		s.must(declared(), added("A", 1), soon)
		time.Sleep(20 * time.Second)
		p := s.runner.Picture()
		require.Zero(t, p.Score.Late)
		require.NotEmpty(t, p.Plan().Gaps)
		require.Equal(t, p.Plan().Gaps, p.Gaps)
		published := false
		for _, x := range p.Recent {
			data, ok := x.Event.Data.(events.PlanData)
			published = published || ok && data.Version == p.Plan().Version && len(data.Parts) == len(p.Plan().Gaps)
		}
		require.True(t, published)
		s.agree()
	})
}
