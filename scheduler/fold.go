// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"errors"
	"fmt"
	"iter"
	"slices"

	"towpath/events"
	"towpath/resources"
)

// Rejection is an event of a log that was not believed, and why.
type Rejection struct {
	Event events.Event
	Err   error
}

// Fold is the state after a whole log that begins with the declaration of the
// plant. Voided events never happened: the log is gone through twice, first
// for the voids. Without a void in the log the result is that of Apply on one
// event after another, with Skip for those refused.
//
// A void may be voided, which brings the event back. The state holds every
// entity as changed; a store that has another state must be emptied first.
func Fold(log iter.Seq[events.Event]) (*State, []Rejection) { return FoldOnto(nil, log) }

// FoldOnto is Fold on a plant that is known before the log.
func FoldOnto(p *resources.Plant, log iter.Seq[events.Event]) (*State, []Rejection) {
	s, rejected, _ := fold(NewState(p), log, nil) // an empty state holds nothing that a void could reach
	return s, rejected
}

// ErrTooDeep says that a void in a tail reaches an event that is in the base
// already: fold from an earlier base.
var ErrTooDeep = errors.New("a void reaches behind the state it is folded onto")

// TooDeep is the ErrTooDeep of one void: fold from a base before Seq, where
// what it reaches was applied.
type TooDeep struct {
	Void   string // ID of the void
	At     uint64 // its sequence
	Target string // ID of the event it voids
	Seq    uint64
}

func (e *TooDeep) Error() string {
	return fmt.Sprintf("%v: %s voids %s, and what that changes was applied as number %d", ErrTooDeep, e.Void, e.Target, e.Seq)
}

func (e *TooDeep) Unwrap() error { return ErrTooDeep }

// FoldAfter is Fold of a log whose beginning was folded before: base is the
// state after it, tail what follows, and base stays as it was. The result is
// that of Fold on the whole, so a mistake of this morning costs a fold of this
// morning and not of the year. It is ErrTooDeep when a void of the tail reaches
// into the base. pass, which may be nil, sees the state after each event that
// was taken; it may clone it and must not change it.
func FoldAfter(base *State, tail iter.Seq[events.Event], pass func(*State)) (*State, []Rejection, error) {
	return fold(base, tail, pass)
}

func fold(base *State, log iter.Seq[events.Event], pass func(*State)) (*State, []Rejection, error) {
	counts := map[string]int{}
	for {
		f := &folding{s: base.Clone(), base: base, struck: strike(base, log, counts), counts: counts, pass: pass}
		whole, err := f.run(log)
		if err != nil {
			return nil, nil, err
		}
		if whole {
			return f.s, f.rejected, nil
		}
	}
}

// Skip moves the state past an event of the log that was refused.
func (s *State) Skip(seq uint64) { s.Seq = max(s.Seq, seq) }

// void is a void event and its place in the log.
type void struct {
	id, target string
	at         int
}

// strike goes through the log for voids and finds the event IDs they strike
// out, each with its voids in the order of the log. The last void counts
// first: one that is struck out itself strikes nothing. Of a void that was sent
// several times the place in counts is the one that counts, else the first.
//
// A void that the base knows to have counted, and events that the base has
// taken, are not struck out here: run meets such a void and says so.
func strike(base *State, log iter.Seq[events.Event], counts map[string]int) map[string][]void {
	baked := map[string]bool{}
	for _, by := range base.voided {
		baked[by] = true
	}
	var voids []void
	known := map[string]bool{}
	at := 0
	for e := range log {
		at++
		again := known[e.ID]
		if place, ok := counts[e.ID]; ok {
			again = place != at
		}
		again = again || base.holds(e.ID)
		if d, ok := e.Data.(events.VoidData); ok && e.Kind == events.EventVoided && !again {
			if known[d.Event] && d.Event != e.ID && !baked[d.Event] && !base.holds(d.Event) {
				voids = append(voids, void{e.ID, d.Event, at})
			}
		}
		known[e.ID] = true
	}
	struck := map[string][]void{}
	for _, v := range slices.Backward(voids) {
		if len(struck[v.id]) == 0 {
			struck[v.target] = append([]void{v}, struck[v.target]...)
		}
	}
	return struck
}

// holds tells whether an event ID was taken.
func (s *State) holds(id string) bool {
	_, ok := s.seen.seq(id)
	return ok
}

// folding is a log on its way into a state.
type folding struct {
	s        *State
	base     *State
	pass     func(*State)
	struck   map[string][]void // by the ID they strike out
	counts   map[string]int    // places of voids that count
	at       int               // place in the log, from 1
	rejected []Rejection
}

// run is false when a void that was sent again, and is in order only now,
// must be counted from the beginning.
func (f *folding) run(log iter.Seq[events.Event]) (bool, error) {
	for e := range log {
		f.at++
		err := f.take(e)
		if err == ErrRebuild {
			if deep := f.deep(e); deep != nil {
				return false, deep
			}
			if _, counted := f.counts[e.ID]; !counted {
				f.counts[e.ID] = f.at
				return false, nil
			}
			// Two voids of one ID that contradict each other: one counts.
			err = refuse(RefusedRepeated, "event "+e.ID, "give every event an ID of its own", "the ID is that of another void")
		}
		if err != nil {
			f.rejected = append(f.rejected, Rejection{Event: e, Err: err})
			f.s.Skip(e.Seq)
		}
		if f.pass != nil {
			f.pass(f.s)
		}
	}
	return true, nil
}

// deep tells how a void that is in order reaches into the base: at an event
// there, or at a void of the tail that struck one out there. It is nil when it
// does not.
func (f *folding) deep(e events.Event) error {
	d, ok := e.Data.(events.VoidData)
	if !ok {
		return nil
	}
	seq, reaches := f.base.seen.seq(d.Event)
	for target, by := range f.base.voided {
		if by != d.Event {
			continue
		}
		if struck, known := f.base.seen.seq(target); !reaches || known && struck < seq {
			seq, reaches = struck, true
		}
	}
	if !reaches {
		return nil
	}
	return &TooDeep{Void: e.ID, At: e.Seq, Target: d.Event, Seq: seq}
}

// take applies one event, or passes over it when it is void. A void event that
// would have been refused anyway is refused, and so is its void: a state that
// met them one by one did the same.
func (f *folding) take(e events.Event) error {
	by := f.struckBy(e.ID)
	if e.Kind == events.PlantDeclared {
		by = "" // a declaration cannot be voided, whatever else had its ID
	}
	if by == "" && e.Kind != events.EventVoided {
		_, err := f.s.Apply(e)
		return err
	}
	if r := f.s.admit(&e); r != nil {
		return r
	}
	var err error
	if e.Kind == events.EventVoided {
		if err = f.voidable(e); by != "" && err == ErrRebuild {
			err = nil
		}
	} else if r := f.s.try(e); r != nil {
		err = r
	}
	switch {
	case err != nil:
		return err
	case by != "":
		f.s.pass(&e, by)
	default:
		f.s.witness(&e)
	}
	return nil
}

// struckBy is the first later void of an event; empty when there is none.
func (f *folding) struckBy(id string) string {
	for _, v := range f.struck[id] {
		if v.at > f.at {
			return v.id
		}
	}
	return ""
}

// voidable looks at a void as a state did that met it when it came: nil when
// its target was passed over for it, ErrRebuild when it would have been in
// order then. A target that a later void strikes out was not void yet.
func (f *folding) voidable(e events.Event) error {
	err := f.s.voidable(e)
	d, ok := e.Data.(events.VoidData)
	if !ok {
		return err
	}
	by, gone := f.s.voided[d.Event]
	if gone && by == e.ID {
		return nil
	}
	for _, v := range f.struck[d.Event] {
		if gone && v.id == by && v.at > f.at {
			return ErrRebuild
		}
	}
	return err
}

// try tells why Apply would refuse an event, without taking it.
func (s *State) try(e events.Event) *Refusal {
	t := s.begin()
	t.e = e
	return t.apply()
}

// pass records an event that never happened: its ID is used up.
func (s *State) pass(e *events.Event, by string) {
	s.fresh = append(s.fresh, s.seen.add(e.ID, e.Seq))
	s.Skip(e.Seq)
	s.voided[e.ID] = by
	s.touch(keyVoid + e.ID)
}

// voidable looks at a void: ErrRebuild when it is in order.
func (s *State) voidable(e events.Event) error {
	d, ok := e.Data.(events.VoidData)
	if !ok {
		return refuse(RefusedMalformed, "", "", "the payload of %s is a %T", e.Kind, e.Data)
	}
	about := "event " + d.Event
	_, seen := s.seen.seq(d.Event)
	void, gone := s.voided[d.Event]
	switch {
	case gone:
		return refuse(RefusedAlready, about, "to bring it back, void "+void, "it was voided already, by %s", void)
	case !seen:
		return refuse(RefusedUnknown, about, "check its ID; what was refused needs no void", "no event of that ID was applied")
	case slices.Contains(s.plants, d.Event):
		return refuse(RefusedInUse, about, "declare the right plant instead", "it declared the plant")
	}
	return ErrRebuild
}
