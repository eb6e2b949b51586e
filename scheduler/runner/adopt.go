// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"

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
