// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

// stepped makes a runner stepped, with improvements that end by themselves.
func stepped(h *hooked) func(*runner.Options) {
	return func(o *runner.Options) {
		o.Stepped, o.Planner, o.Budget = true, h, time.Millisecond
		o.Clock = &still{start}
	}
}

// still is a clock that is moved by hand.
type still struct{ at resources.Tick }

func (c *still) Now() resources.Tick { return c.at }
func (c *still) Speed() float64      { return 1 }

// A stepped runner plans in Settle and nowhere else; an improvement is looked
// at one Settle after the one that began it, however long it takes.
func TestSteppedRunnerPlansInSettleOnly(t *testing.T) {
	for _, long := range []time.Duration{0, time.Hour} {
		synctest.Test(t, func(t *testing.T) {
			improved := 0
			h := &hooked{improve: func(_ context.Context, p *scheduler.Problem, from *scheduler.Plan, _ runner.Budget) (*scheduler.Plan, error) {
				time.Sleep(long)
				improved++
				return runner.Engine{}.Repair(p, from)
			}}
			s := newShop(t, stepped(h))
			defer s.end()
			out := s.must(declared(), added("A", 3))
			time.Sleep(time.Minute)
			require.Nil(t, s.runner.Picture().Plan(), "nobody has asked")

			got, err := s.runner.Settle(t.Context(), out.Seq)
			require.NoError(t, err)
			require.NoError(t, got.Err)
			require.Equal(t, out.Seq+1, got.Seq, "the plan is in")
			require.NotNil(t, s.runner.Picture().Plan())
			require.Equal(t, "improving", s.runner.Picture().Planning)

			got, err = s.runner.Settle(t.Context(), got.Seq)
			require.NoError(t, err)
			require.Equal(t, out.Seq+1, got.Seq, "an equal plan is not published")
			require.Equal(t, 1, improved)
			require.Equal(t, "idle", s.runner.Picture().Planning)
			s.agree()
		})
	}
}

// A failure ends the Settle, which says so; the next one tries again at once.
func TestSteppedRunnerTellsOfFailures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		broken := true
		h := &hooked{repair: func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
			if broken {
				return nil, errors.New("no plan today")
			}
			return runner.Engine{}.Repair(p, from)
		}}
		s := newShop(t, stepped(h))
		defer s.end()
		out := s.must(declared(), added("A", 1))
		got, err := s.runner.Settle(t.Context(), out.Seq)
		require.NoError(t, err)
		require.ErrorContains(t, got.Err, "no plan today")
		broken = false
		got, err = s.runner.Settle(t.Context(), out.Seq)
		require.NoError(t, err)
		require.NoError(t, got.Err)
		require.NotNil(t, s.runner.Picture().Plan())
	})
}

func TestOnlySteppedRunnersSettle(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		_, err := s.runner.Settle(t.Context(), 0)
		require.Error(t, err)
	})
}
