// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

// slowly is the engine whose repairs take a wall time.
func slowly(takes *atomic.Int64) *hooked {
	h := &hooked{}
	h.repair = func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
		time.Sleep(time.Duration(takes.Load()))
		return runner.Engine{}.Repair(p, from)
	}
	return h
}

// A repair may take long in a large shop or on a weak machine; its plan is made
// for when it will be out.
func TestSlowRepairIsPublished(t *testing.T) {
	for _, takes := range []time.Duration{time.Second, 3 * time.Second, 20 * time.Second, 50 * time.Second} {
		t.Run(takes.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var wall atomic.Int64
				wall.Store(int64(takes))
				s := newShop(t, withPlanner(slowly(&wall), -1))
				defer s.end()
				s.open(1)
				time.Sleep(10 * time.Minute)
				synctest.Wait()
				p := s.runner.Picture()
				require.NotNil(t, p.Plan())
				require.Empty(t, p.Alerts)
				s.agree()
			})
		})
	}
}

// One so slow that it cannot be published is told, until one has come out.
func TestRepairThatIsAlwaysTooLateIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var takes atomic.Int64
		s := newShop(t, withPlanner(slowly(&takes), -1))
		defer s.end()
		s.open(1)
		version := s.runner.Picture().Plan().Version
		takes.Store(int64(5 * time.Minute))
		s.must(events.Event{ID: "down", Kind: events.StationDown, Station: "SAW", Data: events.StationData{}})
		time.Sleep(30 * time.Minute)
		synctest.Wait()
		p := s.runner.Picture()
		require.Equal(t, version, p.Plan().Version, "the last plan stands")
		require.Len(t, p.Alerts, 1)
		require.Equal(t, "plan", p.Alerts[0].Key)
		require.Contains(t, p.Alerts[0].Text, "4 times")

		takes.Store(int64(time.Second))
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		p = s.runner.Picture()
		require.Greater(t, p.Plan().Version, version)
		require.Empty(t, p.Alerts)
	})
}
