// SPDX-License-Identifier: Apache-2.0

package whatif

import (
	"errors"
	"fmt"
	"slices"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// Reasons why a set of changes is not adopted.
var (
	// ErrMoved: the comparison speaks of another shop.
	ErrMoved = errors.New("the shop has moved on since the comparison; compare again")
	// ErrNothing: the set has no change.
	ErrNothing = errors.New("there is no change to adopt")
	// ErrOfPlant: the plant was not declared from a file, or a change of it not
	// read from one, so that there is nothing for it to stand on top of.
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
		case c.OfPlant(q.Now) && (s.PlantFile == "" || c.Source == ""):
			err = ErrOfPlant
		case c.Down != nil && c.Down.Span(q.Now).End <= s.At:
			err = fmt.Errorf("%w: the stop would be over by now", ErrMoved)
		case c.Absent != nil && c.Absent.Span(q.Now).End <= s.At:
			err = fmt.Errorf("%w: they would be back by now", ErrMoved)
		}
		if err != nil {
			return nil, &Fault{Line: c.Line, Change: c.Words(q.Before.Plant.Zone), Err: err}
		}
	}
	var list []events.Event
	if len(q.OfPlant()) > 0 {
		e, err := q.declare(s)
		if err != nil {
			return nil, err
		}
		list = append(list, e)
	}
	for _, r := range Events(s, q.Now, q.Set) {
		list = append(list, r.Event)
	}
	for i := range list {
		list[i].ID = fmt.Sprintf("%s-%d", mark, i)
	}
	return list, nil
}

// declare is the event that puts the changes of the plant on top of its file.
func (q *Question) declare(s *scheduler.State) (events.Event, error) {
	a, err := q.Set.Adopt(q.Now)
	if err != nil {
		return events.Event{}, err
	}
	if len(s.Adopted) >= resources.MaxAdopted {
		return events.Event{}, fmt.Errorf("%d sets stand on top of the plant file already: %w", len(s.Adopted), ErrOfPlant)
	}
	return events.Event{
		Kind: events.PlantDeclared, Plant: s.PlantName(), At: max(q.Now, s.At),
		Data: events.PlantData{File: s.PlantFile, Adopted: append(slices.Clip(s.Adopted), a)},
	}, nil
}

// OfPlant lists the changes, in words, that are of the plant. Adopted, they stand
// on top of its file, until another file is declared.
func (q *Question) OfPlant() []string {
	list := []string{}
	for i := range q.Set.Changes {
		if c := &q.Set.Changes[i]; c.OfPlant(q.Now) {
			list = append(list, c.Words(q.Before.Plant.Zone))
		}
	}
	return list
}

// ErrNotThere: no such set stands on top of the plant file.
var ErrNotThere = errors.New("that set does not stand on top of the plant file; somebody has taken it off, or declared another file")

// TakeOff is the event that declares the plant of the shop s without one of the
// sets on top of its file, told by Adopted.Key. It is to be reported only to a
// shop that SamePlant takes.
func TakeOff(s *scheduler.State, key string) (events.Event, error) {
	i := slices.IndexFunc(s.Adopted, func(a resources.Adopted) bool { return a.Key() == key })
	if i < 0 {
		return events.Event{}, ErrNotThere
	}
	return events.Event{
		Kind: events.PlantDeclared, Plant: s.PlantName(), At: s.At,
		Data: events.PlantData{File: s.PlantFile, Adopted: slices.Delete(slices.Clone(s.Adopted), i, i+1)},
	}, nil
}

// SamePlant says with ErrMoved that a shop has another plant than one before.
func SamePlant(was, s *scheduler.State) error {
	if s.Plant != was.Plant && (s.PlantFile != was.PlantFile || !slices.Equal(s.Adopted, was.Adopted) || s.PlantName() != was.PlantName()) {
		return moved("another plant has been declared")
	}
	return nil
}
