// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
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
			var improved atomic.Int32
			h := &hooked{improve: func(_ context.Context, p *scheduler.Problem, from *scheduler.Plan, _ runner.Budget) (*scheduler.Plan, error) {
				time.Sleep(long)
				improved.Add(1)
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

			for looked := int32(1); looked <= 3; looked++ { // in vain, three times
				require.Equal(t, "improving", s.runner.Picture().Planning)
				got, err = s.runner.Settle(t.Context(), got.Seq)
				require.NoError(t, err)
				require.Equal(t, out.Seq+1, got.Seq, "an equal plan is not published")
				require.GreaterOrEqual(t, improved.Load(), looked)
			}
			require.EqualValues(t, 3, improved.Load())
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

// An improvement that meets a published plan nobody can follow any more is
// weighed against what a repair of that plan gives: one that is hardly better
// and changes what people were told does not replace it.
func TestImprovementIsWeighedAgainstARepair(t *testing.T) {
	for _, tt := range []struct {
		name string
		late resources.Tick // by how much B is late behind A
		next string
	}{{"a minute for the moves", 60, "A-1-01"}, {"half an hour", 1800, "B-1-01"}} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				clock := &still{start}
				h := &hooked{repair: func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
					if from == nil {
						return worst(p)
					}
					return runner.Engine{}.Repair(p, from)
				}}
				h.improve = func(ctx context.Context, p *scheduler.Problem, _ *scheduler.Plan, _ runner.Budget) (*scheduler.Plan, error) {
					found, err := runner.Plan(ctx, p, nil, runner.Budget{Iterations: 300, Seed: 1, Workers: 1})
					return found.Plan, err
				}
				s := newShop(t, stepped(h), func(o *runner.Options) { o.Clock = clock })
				defer s.end()
				a, b := due(added("A", 1), start+9*3600), due(added("B", 1), start+16200-tt.late)
				out := s.must(declared(), a, b)
				got, err := s.runner.Settle(t.Context(), out.Seq)
				require.NoError(t, err)
				require.Equal(t, "A-1-01", firstGlued(s.runner.Picture().Plan()), "what is due last goes first")
				require.EqualValues(t, tt.late, s.runner.Picture().Score.WeightedTardinessSeconds)
				clock.at += 30 // nobody has begun: the plan cannot be followed
				_, err = s.runner.Settle(t.Context(), got.Seq)
				require.NoError(t, err)
				p := s.runner.Picture()
				require.Equal(t, tt.next == "B-1-01", p.Plan().Made == clock.at, "which is published only where it pays")
				require.Equal(t, tt.next, firstGlued(p.Plan()))
				s.agree()
			})
		})
	}
}

// firstGlued is the piece that is glued first.
func firstGlued(p *scheduler.Plan) string {
	return p.Work[slices.IndexFunc(p.Work, func(w scheduler.Work) bool { return w.Operation == "glue" })].Piece
}

// due gives an order another date.
func due(e events.Event, at resources.Tick) events.Event {
	d := e.Data.(events.OrderData)
	d.ShipBy, d.Due = at, at
	e.Data = d
	return e
}

func TestOnlySteppedRunnersSettle(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		_, err := s.runner.Settle(t.Context(), 0)
		require.Error(t, err)
	})
}
