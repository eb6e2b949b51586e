// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/whatif"
)

// Adopt tells the shop the changes of a compared question, all or none. They go
// to the log only while the comparison holds there: whatever came first is
// looked at again, as for any report. A *Refusal says why they do not; it wraps
// whatif.ErrMoved, whatif.ErrNothing or whatif.ErrOfPlant, or what the shop says
// to a report that cannot be. mark makes the events' IDs.
func (r *Runner) Adopt(ctx context.Context, q *whatif.Question, mark, by string) (Outcome, error) {
	list, err := q.Adopt(r.Picture().State, mark)
	if err != nil {
		return Outcome{}, &Refusal{Err: err}
	}
	for i := range list {
		list[i].By = by
	}
	return r.send(ctx, &ask{events: list, holds: q.Holds})
}

// TakeOff declares the plant without one of the sets of changes on top of its
// file, told by its key. A *Refusal says why it stays, wrapping
// whatif.ErrNotThere or whatif.ErrMoved, or what the shop says to that plant.
func (r *Runner) TakeOff(ctx context.Context, key, by string) (Outcome, error) {
	was := r.Picture().State
	e, err := whatif.TakeOff(was, key)
	if err != nil {
		return Outcome{}, &Refusal{Err: err}
	}
	e.By, e.At = by, 0
	return r.send(ctx, &ask{events: []events.Event{e}, holds: func(s *scheduler.State) error { return whatif.SamePlant(was, s) }})
}
