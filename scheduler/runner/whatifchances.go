// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"time"

	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/whatif"
)

// Playing is what is played of both plans of a what-if: as many histories of
// both, whatever a width says, for on other counts the luck would not be the
// same.
type Playing struct {
	risk.Options
	Workers int                  // at least 1
	Told    func(done, most int) // as for Risk, counting those of both; may be nil
}

// fewest histories of each plan are played however little time is left: with
// fewer, a chance says nothing.
const fewest = 100

// paced is how many histories are played to tell how long all of them take.
const paced = 4

// pace is how long it takes to play a plan: to lay it out, and each history.
type pace struct{ laid, one time.Duration }

// timed plays some histories of a plan for the shop as it is.
func (o *Playing) timed(q *whatif.Question, plan *scheduler.Plan) (p pace) {
	_ = Guarded(func() error { // what fails here fails again when it counts
		began := time.Now()
		g, err := risk.Compile(q.Before, q.Now, plan)
		if err != nil {
			return err
		}
		y, s := g.NewPlayer(), g.NewSample(paced, o.Seed)
		p.laid = time.Since(began)
		for r := range paced {
			y.Play(s, r)
		}
		p.one = (time.Since(began) - p.laid) / paced / time.Duration(max(1, o.Workers))
		return nil
	})
	return p
}

// of is about how long n histories of both plans take.
func (p pace) of(n int) time.Duration { return 2 * (p.laid + time.Duration(n)*p.one) }

// within is how many of the histories asked are over in time.
func (o *Playing) within(p pace, left time.Duration) int {
	asked := o.Or().Replications
	if p.of(asked) <= left {
		return asked
	}
	return min(asked, max(fewest, int((left/2-p.laid)/max(1, p.one))))
}

// Play plays both plans of a comparison forward with one seed and keeps what may
// become of them in it. When ctx ends first, what both have is kept, with ctx's
// error; nothing is when one has none.
func (t *Tried) Play(ctx context.Context, q *whatif.Question, play Playing) error {
	o := play.Or()
	o.Width = 0
	var samples [2]*risk.Sample
	least := o.Replications
	for i, side := range []struct {
		state *scheduler.State
		plan  *scheduler.Plan
	}{{q.Before, t.Before}, {q.After, t.After}} {
		var g *risk.Program
		err := Guarded(func() (err error) {
			g, err = risk.Compile(side.state, q.Now, side.plan)
			return err
		})
		if err != nil {
			return err
		}
		report, sample, err := Risk(ctx, g, o, Hands{Cores: play.Workers}, func(done, most int) {
			if play.Told != nil {
				play.Told(i*most+done, 2*most)
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
