// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"sync"
	"sync/atomic"

	"towpath/scheduler/risk"
)

// Risk plays a plan's histories on several cores, as risk.Play does on one and
// with the same answer. It tells after each batch how many are played; told is
// called by one goroutine at a time. When ctx ends first, what is returned
// speaks of the batches played until then, nil if there is none, with ctx's
// error.
func Risk(ctx context.Context, g *risk.Program, o risk.Options, workers int, told func(done, most int)) (*risk.Report, *risk.Sample, error) {
	o = o.Or()
	if err := o.Check(); err != nil {
		return nil, nil, err
	}
	s := g.NewSample(o.Replications, o.Seed)
	players := make([]*risk.Player, max(1, min(workers, o.Replications)))
	for i := range players {
		players[i] = g.NewPlayer()
	}
	done := 0
	for done < o.Replications && ctx.Err() == nil {
		to := min(o.Replications, done+risk.Batch)
		if err := playBatch(ctx, s, players, done, to); err != nil {
			return nil, nil, err
		}
		if ctx.Err() != nil {
			break
		}
		if done = to; told != nil {
			told(done, o.Replications)
		}
		if o.Width > 0 && s.Widest(done, o.Confidence) <= o.Width {
			break
		}
	}
	if done == 0 {
		return nil, nil, ctx.Err()
	}
	return s.Report(done, o.Confidence), s, ctx.Err()
}

// playBatch plays the histories from one number to another.
func playBatch(ctx context.Context, s *risk.Sample, players []*risk.Player, from, to int) error {
	var (
		wait  sync.WaitGroup
		next  atomic.Int64
		once  sync.Once
		fault error
	)
	next.Store(int64(from))
	for _, y := range players {
		wait.Go(func() {
			err := guarded(func() error {
				for ctx.Err() == nil {
					r := int(next.Add(1)) - 1
					if r >= to {
						break
					}
					y.Play(s, r)
				}
				return nil
			})
			if err != nil {
				once.Do(func() { fault = err })
			}
		})
	}
	wait.Wait()
	return fault
}
