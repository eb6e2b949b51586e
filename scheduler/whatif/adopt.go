// SPDX-License-Identifier: Apache-2.0

package whatif

import (
	"errors"
	"fmt"

	"towpath/events"
	"towpath/scheduler"
)

// Reasons why a set of changes is not adopted.
var (
	// ErrMoved: the log has gone on, so the comparison speaks of another shop.
	ErrMoved = errors.New("the shop has moved on since the comparison; compare again")
	// ErrNothing: the set has no change.
	ErrNothing = errors.New("there is no change to adopt")
	// ErrOfPlant: a plant is declared from its file, which a set does not write.
	ErrOfPlant = errors.New("change the plant file and declare it; then compare and adopt the rest")
)

// Adopt lists the events that make the changes of the set in the shop s, to be
// reported in this order, all or none, and only while s.Seq is still the last
// of the log. Each ID is mark, a dash and a number from 0.
//
// It refuses with ErrMoved when anything was told since the question was asked,
// a new plan included: the comparison holds for that state alone. The first
// adoption is told itself, so a second one is refused too. s stays as it is.
func (q *Question) Adopt(s *scheduler.State, mark string) ([]events.Event, error) {
	if len(q.Set.Changes) == 0 {
		return nil, ErrNothing
	}
	if s.Seq != q.Before.Seq {
		return nil, fmt.Errorf("%w (it holds for event %d, the last one is %d)", ErrMoved, q.Before.Seq, s.Seq)
	}
	for i := range q.Set.Changes {
		if c := &q.Set.Changes[i]; !c.OfOrders() && !atOnce(c, q.Now) {
			return nil, &Fault{Line: c.Line, Change: c.Words(q.Before.Plant.Zone), Err: ErrOfPlant}
		}
	}
	var list []events.Event
	for i, r := range Events(s, q.Now, q.Set) {
		r.ID = fmt.Sprintf("%s-%d", mark, i)
		list = append(list, r.Event)
	}
	return list, nil
}
