// SPDX-License-Identifier: Apache-2.0

package webtest

import (
	"context"

	"towpath/scheduler/relax"
	"towpath/web"
)

// Saver finds what would save an order with little effort, one change after
// another.
type Saver struct {
	Hold chan struct{} // each change is solved as it is received from; nil: at once
	Most int           // changes solved, the first ones; 0: all
}

// Save solves the first changes of the engine, two iterations each.
func (s *Saver) Save(ctx context.Context, p *web.Picture, order string, told func(*relax.Answer)) error {
	q, err := relax.Ask(p.State, p.Now, p.Plan, order, relax.Effort{Seed: 1, Iterations: 2, Stop: func() bool { return ctx.Err() != nil }})
	if err != nil {
		return err
	}
	first := q.First
	if s.Most > 0 {
		first = first[:min(s.Most, len(first))]
	}
	var done []relax.Relaxation
	for _, c := range first {
		if s.Hold != nil {
			select {
			case <-s.Hold:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		r, err := q.Try(c)
		if err != nil {
			return err
		}
		done = append(done, r)
		told(q.Answer(done, len(first)))
	}
	return nil
}
