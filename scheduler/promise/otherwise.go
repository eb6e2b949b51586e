// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"errors"
	"slices"

	"towpath/scheduler"
)

// Effort is how hard alternatives are looked for.
type Effort struct {
	Iterations int64 // of each search; 0: DefaultIterations
	Seed       uint64
	Stop       func() bool                        // asked between tries and within searches; true: give up; nil: never
	Tell       func(doing string, done, most int) // told before each try: sorts of alternatives done, of how many; nil: nobody listens
}

// DefaultIterations is what an Effort does when it does not say.
const DefaultIterations = 1000

// ErrStopped says that the look for alternatives was given up.
var ErrStopped = errors.New("stopped")

// ways is the look for alternatives to an answer.
type ways struct {
	a      *Answer
	b      *Present
	effort Effort
	out    *Otherwise
	at     int  // in allWays
	nearly *Fit // everything anew, in time for the wish, others beyond their dates; nil: none
}

// way is one sort of alternative.
type way struct {
	kind Kind
	text string // what is under way, in words
	look func(*ways) error
}

func allWays() []way {
	return []way{
		{Split, "trying two shipments", (*ways).split},
		{Loads, "trying other oven loads", (*ways).loads},
		{Orders, "trying who could make way", (*ways).makeWay},
		{Replan, "planning everything anew", (*ways).replan},
		{Shift, "trying extra shifts", (*ways).shift},
	}
}

// Alternatives looks for other ways to serve a wish that the answer cannot
// meet, all of them within everybody else's dates; the answer it gives back has
// Answer.Otherwise filled in. One that meets its wish needs none and comes back
// as it is. When it is given up, what was found by then comes back with
// ErrStopped.
func (a *Answer) Alternatives(e Effort) (*Answer, error) {
	if a.Meets {
		return a, nil
	}
	w, err := a.ways(e)
	if err != nil {
		return a, err
	}
	for i, x := range allWays() {
		w.at = i
		if err = x.look(w); err != nil {
			break
		}
	}
	rank(w.out.Alternatives)
	next := *a
	next.Otherwise = w.out
	return &next, err
}

// Again looks once more for an alternative that was found to an earlier answer to
// the same question, by the plan that this one has: the same orders make way, loads
// are formed otherwise, or everything is planned anew. Nil: that is no way any more,
// or takes more than another plan.
func (a *Answer) Again(x *Alternative, e Effort) (*Alternative, error) {
	if !x.Keepable() {
		return nil, nil
	}
	w, err := a.ways(e)
	if err != nil {
		return nil, err
	}
	w.at = slices.IndexFunc(allWays(), func(one way) bool { return one.kind == x.Kind })
	if x.Kind == Orders {
		err = w.again(x.MakeWay)
	} else {
		err = allWays()[w.at].look(w)
	}
	if err != nil || len(w.out.Alternatives) == 0 {
		return nil, err
	}
	return &w.out.Alternatives[0], nil
}

// ways begins a look.
func (a *Answer) ways(e Effort) (*ways, error) {
	if e.Iterations == 0 {
		e.Iterations = DefaultIterations
	}
	b, err := a.present.proven()
	if err != nil {
		return nil, err
	}
	return &ways{a: a, b: b, effort: e, out: &Otherwise{Alternatives: []Alternative{}}}, nil
}

// stopped is asked before each try, which it counts and tells of.
func (w *ways) stopped() error {
	if w.effort.Stop != nil && w.effort.Stop() {
		return ErrStopped
	}
	w.out.Tried++
	if w.effort.Tell != nil {
		w.effort.Tell(allWays()[w.at].text, w.at, len(allWays()))
	}
	return nil
}

// nearer tells whether a fit of all pieces comes nearer to the wish than the
// answer does.
func (w *ways) nearer(f *Fit) bool { return f != nil && f.Kept && f.Ships[0] < w.a.Earliest.Ship }

// meets tells whether a fit meets the wish.
func (w *ways) meets(f *Fit) bool { return f != nil && f.Kept && f.Ships[0] <= w.a.WishDue }

// found notes an alternative.
func (w *ways) found(x Alternative) { w.out.Alternatives = append(w.out.Alternatives, x) }

// asked is the present with all pieces ordered by the wish.
func (w *ways) asked() (*scheduler.State, []string, error) {
	return w.a.Ask.with(w.b.State, w.b.Now, part{w.a.Ask.Quantity, w.a.WishDue})
}
