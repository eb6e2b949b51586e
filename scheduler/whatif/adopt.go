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
	// ErrMoved: the comparison speaks of another shop.
	ErrMoved = errors.New("the shop has moved on since the comparison; compare again")
	// ErrNothing: the set has no change.
	ErrNothing = errors.New("there is no change to adopt")
	// ErrOfPlant: a plant is declared from its file, which a set does not write.
	ErrOfPlant = errors.New("change the plant file and declare it; then compare and adopt the rest")
)

// Adopt lists the events that make the changes of the set in the shop s, to be
// reported in this order, all or none, and only while Holds says so. Each ID is
// mark, a dash and a number from 0.
//
// It refuses with ErrMoved when the comparison no longer holds. What is adopted
// changes the shop, so a second adoption is refused too. s stays as it is.
func (q *Question) Adopt(s *scheduler.State, mark string) ([]events.Event, error) {
	if len(q.Set.Changes) == 0 {
		return nil, ErrNothing
	}
	if err := q.Holds(s); err != nil {
		return nil, err
	}
	for i := range q.Set.Changes {
		c, err := &q.Set.Changes[i], error(nil)
		switch {
		case !c.OfOrders() && !atOnce(c, q.Now):
			err = ErrOfPlant
		case c.Down != nil && c.Down.Span(q.Now).End <= s.At:
			err = fmt.Errorf("%w: the stop would be over by now", ErrMoved)
		}
		if err != nil {
			return nil, &Fault{Line: c.Line, Change: c.Words(q.Before.Plant.Zone), Err: err}
		}
	}
	var list []events.Event
	for i, r := range Events(s, q.Now, q.Set) {
		r.ID = fmt.Sprintf("%s-%d", mark, i)
		list = append(list, r.Event)
	}
	return list, nil
}

// OfPlant lists the changes, in words, that only another plant file makes. With
// any of them the set is not adopted.
func (q *Question) OfPlant() []string {
	list := []string{}
	for i := range q.Set.Changes {
		if c := &q.Set.Changes[i]; !c.OfOrders() && !atOnce(c, q.Now) {
			list = append(list, c.Words(q.Before.Plant.Zone))
		}
	}
	return list
}
