// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/scheduler"

// repairLarge repairs the plan of a large shop: what is near is placed again, the
// others as the old plan has them. Where that would move work past the others, all
// that facts reach is moved later instead, in the order of the old plan, and what
// pushing cannot tell (new work, waits that break, mixes that are there and will not
// do) is placed near now, with all else where pushing has it. nil: everything has to
// be timed again.
func repairLarge(p *scheduler.Problem, old *scheduler.Plan) *scheduler.Plan {
	w, ok := matched(p, old)
	if !ok {
		return nil
	}
	if plan := w.near(); plan != nil {
		return plan
	}
	switch x := rightShift(w); {
	case x == nil:
		return nil
	case x.odd:
		return x.shifted().near()
	default:
		return x.plan()
	}
}
