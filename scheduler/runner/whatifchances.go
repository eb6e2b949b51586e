// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"time"

	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/whatif"
)

// timed is how many histories are played to tell how long all of them take.
const timed = 4

// PlayTime says about how long Play takes: some histories of a plan for the shop
// as it is are played on the way.
func PlayTime(q *whatif.Question, o risk.Options, workers int) func(*scheduler.Plan) time.Duration {
	o = o.Or()
	return func(plan *scheduler.Plan) (whole time.Duration) {
		_ = guarded(func() error { // what fails here fails again when it counts
			began := time.Now()
			g, err := risk.Compile(q.Before, q.Now, plan)
			if err != nil {
				return err
			}
			y, s := g.NewPlayer(), g.NewSample(timed, o.Seed)
			laid := time.Since(began)
			for r := range timed {
				y.Play(s, r)
			}
			one := (time.Since(began) - laid) / timed
			whole = 2 * (laid + one*time.Duration(o.Replications)/time.Duration(max(1, workers)))
			return nil
		})
		return whole
	}
}

// Play plays both plans of a comparison forward with one seed and keeps what may
// become of them in it. As many histories are played of both, whatever o says of
// a width: on other counts the luck would not be the same. told is as for Risk,
// counting those of both. When ctx ends first, what both have is kept, with ctx's
// error; nothing is when one has none.
func (t *Tried) Play(ctx context.Context, q *whatif.Question, o risk.Options, workers int, told func(done, most int)) error {
	o = o.Or()
	o.Width = 0
	var samples [2]*risk.Sample
	least := o.Replications
	for i, side := range []struct {
		state *scheduler.State
		plan  *scheduler.Plan
	}{{q.Before, t.Before}, {q.After, t.After}} {
		var g *risk.Program
		err := guarded(func() (err error) {
			g, err = risk.Compile(side.state, q.Now, side.plan)
			return err
		})
		if err != nil {
			return err
		}
		report, sample, err := Risk(ctx, g, o, workers, func(done, most int) {
			if told != nil {
				told(i*most+done, 2*most)
			}
		})
		if report == nil {
			return err
		}
		samples[i], least = sample, min(least, report.Replications)
	}
	t.Chances = whatif.ChancesOf(samples[0].Report(least, o.Confidence), samples[1].Report(least, o.Confidence))
	return ctx.Err()
}
