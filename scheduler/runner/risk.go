// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"sync"

	"towpath/scheduler/risk"
)

// Hands are who plays histories.
type Hands struct {
	Cores int       // of this machine; at least 1
	Away  Elsewhere // other machines; nil: none
}

// Risk plays a plan's histories on several cores, as risk.Play does on one and
// with the same answer, whoever plays which. It tells after each batch how many
// are played; told is called by one goroutine at a time. When ctx ends first,
// what is returned speaks of the batches told of until then, nil if there is
// none, with ctx's error.
func Risk(ctx context.Context, g *risk.Program, o risk.Options, hands Hands, told func(done, most int)) (*risk.Report, *risk.Sample, error) {
	o = o.Or()
	if err := o.Check(); err != nil {
		return nil, nil, err
	}
	s := g.NewSample(o.Replications, o.Seed)
	d := newDeal(s, o.Replications)
	defer context.AfterFunc(ctx, d.end)()
	finish := playAll(ctx, g, s, d, hands)
	done := 0
	for done < o.Replications && ctx.Err() == nil {
		to := min(o.Replications, done+risk.Batch)
		if !d.wait(to) || ctx.Err() != nil {
			break
		}
		if done = to; told != nil {
			told(done, o.Replications)
		}
		if o.Width > 0 && s.Widest(done, o.Confidence) <= o.Width {
			break
		}
	}
	if err := finish(); err != nil {
		return nil, nil, err
	}
	if done == 0 {
		return nil, nil, ctx.Err()
	}
	return s.Report(done, o.Confidence), s, ctx.Err()
}

// playAll has everybody play until the deal is over. finish ends it, and says
// what went wrong.
func playAll(ctx context.Context, g *risk.Program, s *risk.Sample, d *deal, hands Hands) (finish func() error) {
	var (
		wait  sync.WaitGroup
		once  sync.Once
		fault error
	)
	ctx, cancel := context.WithCancel(ctx)
	try := func(f func() error) {
		wait.Go(func() {
			if err := Guarded(f); err != nil {
				once.Do(func() { fault = err })
				d.end()
			}
		})
	}
	for range max(1, min(hands.Cores, len(d.at))) {
		y := g.NewPlayer()
		try(func() error {
			for {
				r, ok := d.take()
				if !ok {
					return nil
				}
				y.Play(s, r)
				d.done(r)
			}
		})
	}
	if hands.Away != nil {
		try(func() error {
			hands.Away(ctx, d.lend, d.bring)
			return nil
		})
	}
	return func() error {
		d.end()
		cancel()
		wait.Wait()
		return fault
	}
}
