// SPDX-License-Identifier: Apache-2.0

package runner

import "towpath/events"

// asked is why another order of things is looked for.
type asked struct {
	why   string // kind of the fact, or words; empty: nobody asks
	since uint64 // sequence of the log at which it was asked first
	firm  bool   // a fact asks that the table of reactions answers so
}

// note takes one more reason, at a sequence of the log. What is asked for
// already keeps its place; facts give their name before reasons of the
// runner's own.
func (a *asked) note(why string, seq uint64, firm bool) {
	switch {
	case a.why == "":
		*a = asked{why, seq, firm}
	case firm && !a.firm:
		a.why, a.firm = why, true
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

// event is it in the words of events; nil when nobody has asked.
func (a asked) event() *events.PlanAsked {
	if a.why == "" {
		return nil
	}
	return &events.PlanAsked{Why: a.why, Since: a.since}
}
