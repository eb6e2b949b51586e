// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
)

// Question is a date that was asked for, with what is known of it.
type Question struct {
	ID     string            `json:"id" doc:"names the question while it is remembered"`
	State  string            `json:"state" doc:"of the second look, which takes longer: waiting, running, done, stopped or failed"`
	Before int               `json:"before" doc:"second looks that are taken before it, the one under way included; 0: its turn has come"`
	Doing  string            `json:"doing" doc:"what is under way, in words; empty: nothing"`
	Done   int               `json:"done" doc:"steps of it done"`
	Most   int               `json:"most" doc:"steps of it; 0: not known"`
	Text   string            `json:"text" doc:"why it failed; empty: it did not"`
	Stale  bool              `json:"stale" doc:"true: another plan has been published since"`
	Hold   resources.Seconds `json:"hold_s" doc:"how long capacity would be kept unconfirmed, seconds"`
	Kept   string            `json:"promise" doc:"number of the promise it became; empty: none"`
	Answer *promise.Answer   `json:"answer" doc:"what is known so far"`
}

// Open tells whether the second look is still to come or under way.
func (q *Question) Open() bool { return q.State == "waiting" || q.State == "running" }

// PromisePage is the page on which dates are asked for and promised.
type PromisePage struct {
	Can      bool     // a date can be asked for here
	Products []Choice // of the plant
	Holds    []Choice // how long capacity may be kept, seconds
	Question *Question
	Lost     bool           // a question is named that is not remembered
	Tries    bool           // changes can be tried here
	Number   string         // that the next promise would have
	Zone     *time.Location // of the plant
	promise.Record
}

// PromisePage is the page with a question; nil: none is asked.
func (v *View) PromisePage(q *Question, can bool) PromisePage {
	p := PromisePage{
		Can: can, Question: q, Record: promise.Recorded(v.Picture.State),
		Number: promise.FreeNumber(v.Picture.State), Zone: v.Picture.State.Plant.Zone,
	}
	for i := range v.Picture.State.Plant.Products {
		x := &v.Picture.State.Plant.Products[i]
		p.Products = append(p.Products, Choice{Key: x.ID, Word: cmp.Or(x.Name, x.ID)})
	}
	holds := []resources.Seconds{30 * resources.Minute, promise.DefaultHold, 8 * resources.Hour, resources.Day, 3 * resources.Day, 7 * resources.Day}
	if q != nil {
		holds = append(holds, q.Hold) // it may have been asked elsewhere, for another time
	}
	slices.Sort(holds)
	for _, h := range slices.Compact(holds) {
		p.Holds = append(p.Holds, Choice{Key: fmt.Sprint(int64(h)), Word: Span(h)})
	}
	return p
}

// MostWeight is the most an order can weigh.
func (p PromisePage) MostWeight() int64 { return events.MaxWeight }

// HoldKey is the hold that the form shows.
func (p PromisePage) HoldKey() string {
	if p.Question != nil {
		return fmt.Sprint(int64(p.Question.Hold))
	}
	return fmt.Sprint(int64(promise.DefaultHold))
}

// Waiting are the promises whose capacity is kept and that nobody has
// confirmed, the one that ends first at the top.
func (p PromisePage) Waiting() []promise.Entry {
	list := slices.DeleteFunc(slices.Clone(p.Entries), func(e promise.Entry) bool { return e.Status != string(scheduler.Reserved) })
	slices.SortStableFunc(list, func(a, b promise.Entry) int { return cmp.Compare(a.Expires, b.Expires) })
	return list
}

// Given are the promises that became orders, cancelled ones among them, newest
// first.
func (p PromisePage) Given() []promise.Entry {
	return slices.DeleteFunc(slices.Clone(p.Entries), func(e promise.Entry) bool {
		return e.Status != string(scheduler.Confirmed) && !e.Cancelled()
	})
}

// Gone counts the promises that were let go or expired.
func (p PromisePage) Gone() int { return len(p.Entries) - p.Reserved - p.Confirmed - p.Cancelled }

// Became is the promise the question became; nil: none, or it is forgotten.
func (p PromisePage) Became() *promise.Entry {
	if p.Question == nil || p.Question.Kept == "" {
		return nil
	}
	i := slices.IndexFunc(p.Entries, func(e promise.Entry) bool { return e.Promise == p.Question.Kept })
	if i < 0 {
		return nil
	}
	return &p.Entries[i]
}
