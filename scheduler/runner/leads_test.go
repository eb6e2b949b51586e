// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
	"towpath/scheduler/runner"
)

// Two runners on one log: that which leads plans, the other shows the same and
// takes reports; when the lead changes hands the other plans on.
func TestOnlyWhoLeadsPlans(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var lead atomic.Int32
		plans := [2]atomic.Int32{}
		led := func(i int32) func(*runner.Options) {
			return func(o *runner.Options) {
				o.Leads = func() bool { return lead.Load() == i }
				o.Planner = &hooked{repair: func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
					plans[i].Add(1)
					return runner.Engine{}.Repair(p, from)
				}}
			}
		}
		one := newShop(t, led(0))
		two := &shop{t: t, log: one.log, store: &memStore{faults: one.log.faults}, began: one.began}
		two.start(led(1))
		defer one.end()
		defer two.end()

		two.must(declared(), added("A", 2))
		two.settle()
		require.NotNil(t, two.runner.Picture().State.Plan, "the other one has planned")
		require.Zero(t, plans[1].Load())
		one.agree()
		two.agree()

		before := plans[0].Load()
		lead.Store(1)
		two.must(added("B", 1))
		two.settle()
		require.Equal(t, before, plans[0].Load())
		require.NotZero(t, plans[1].Load())
		require.Len(t, two.runner.Picture().State.Plan.Work, 9, "three pieces of three steps")
		one.agree()
		two.agree()

		// Nobody leads: facts are taken in, and nothing is planned.
		lead.Store(-1)
		before, version := plans[1].Load(), two.runner.Picture().State.Plan.Version
		one.must(added("C", 1))
		time.Sleep(time.Hour)
		one.settle()
		require.Equal(t, before, plans[1].Load())
		require.Equal(t, version, one.runner.Picture().State.Plan.Version)
		lead.Store(0)
		one.settle()
		require.Len(t, one.runner.Picture().State.Plan.Work, 12)
		one.agree()
		two.agree()
	})
}
