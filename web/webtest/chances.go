// SPDX-License-Identifier: Apache-2.0

package webtest

import (
	"context"

	"towpath/scheduler/risk"
	"towpath/web"
)

// Chances plays plans with the engine, so many histories in a batch as it is
// let.
type Chances struct {
	Hold  chan struct{} // each batch is played as it is received from; nil: at once
	Batch int           // histories
}

// Play is risk.Play in batches.
func (f *Chances) Play(ctx context.Context, p *web.Picture, o risk.Options, told func(done, most int)) (*risk.Report, error) {
	g, err := risk.Compile(p.State, p.Now, p.Plan)
	if err != nil {
		return nil, err
	}
	s, y, done := g.NewSample(o.Replications, o.Seed), g.NewPlayer(), 0
	for done < o.Replications {
		if f.Hold != nil {
			select {
			case <-f.Hold:
			case <-ctx.Done():
				if done == 0 {
					return nil, ctx.Err()
				}
				return s.Report(done, o.Confidence), ctx.Err()
			}
		}
		for to := min(o.Replications, done+f.Batch); done < to; done++ {
			y.Play(s, done)
		}
		told(done, o.Replications)
	}
	return s.Report(done, o.Confidence), nil
}
