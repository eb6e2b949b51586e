// SPDX-License-Identifier: Apache-2.0

package runner

import "towpath/events"

// asked is why another order of things is looked for.
type asked struct {
	why   string // kind of the fact, or words; empty: nobody asks
	since uint64 // sequence of the log at which it was asked first
	firm  bool   // a fact asks that the table of reactions answers so
	vain  int    // searches for it, the last ones, that saved no date
}

// enough is how many searches one after the other must save no date before
// nobody looks on. A search is short, so that a fact does not wait for it, and
// the next begins elsewhere with another seed: one alone leaves orders late that
// need not be.
const enough = 3

// note takes one more reason, at a sequence of the log. What is asked for
// already keeps its place; facts give their name before reasons of the
// runner's own.
func (a *asked) note(why string, seq uint64, firm bool) {
	switch {
	case a.why == "":
		*a = asked{why: why, since: seq, firm: firm}
	case firm && !a.firm:
		a.why, a.firm = why, true
	}
	if firm {
		a.vain = 0
	}
}

// still takes back what a search was begun for and has not answered.
func (a *asked) still(of asked) {
	later := *a
	*a = of
	if later.why != "" {
		a.note(later.why, later.since, later.firm)
	}
}

// on asks for a search after the one begun for of, until enough have saved no
// date or no plan can be better.
func (a *asked) on(of asked, saved, proven bool) {
	of.vain++
	if saved {
		of.vain = 0
	}
	if of.vain < enough && !proven {
		a.still(of)
	}
}

// event is it in the words of events; nil when nobody has asked.
func (a asked) event() *events.PlanAsked {
	if a.why == "" {
		return nil
	}
	return &events.PlanAsked{Why: a.why, Since: a.since}
}
