// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"
	"strings"

	"towpath/resources"
)

// farAhead is how long after now a forecast may begin without a question.
const farAhead = 2 * 365 * resources.Day

// mostNamed is how many order lines a warning names.
const mostNamed = 5

// datesBefore warns of order lines due before now: they can only be late, and many
// at once are mostly a wrong year.
func datesBefore(in *inputs, now resources.Tick) []resources.Finding {
	var names []string
	over := 0
	for i := range in.lines {
		switch l := &in.lines[i]; {
		case l.Due >= now:
		case len(names) == mostNamed:
			over++
		default:
			names = append(names, fmt.Sprintf("%s/%s (%s)", l.Order, l.Line, moment(l.Due, in.plant.Zone)))
		}
	}
	if len(names) == 0 {
		return nil
	}
	text := fmt.Sprintf("due before now, %s: %s", moment(now, in.plant.Zone), strings.Join(names, ", "))
	if over > 0 {
		text += fmt.Sprintf(" and %d more", over)
	}
	return []resources.Finding{{Severity: resources.Warning, File: in.ordersPath, Field: "ship_by", Text: text,
		Hint: "is the year right? They are planned as late"}}
}

// weeksElsewhere warns of a forecast that has nothing to do with the time from now on.
func weeksElsewhere(in *inputs, now resources.Tick) []resources.Finding {
	f := in.forecast
	if f == nil {
		return nil
	}
	w := resources.Finding{Severity: resources.Warning, File: in.forecastPath, Field: "week", Found: f.First.String() + " to " + f.Last.String(), Hint: "are the year and --now right?"}
	at := moment(now, in.plant.Zone)
	switch {
	case f.Last.Next().Start(in.plant.Zone) <= now:
		w.Text = "all weeks of the forecast are over by now, " + at + ": nothing of it counts"
	case f.First.Start(in.plant.Zone) > now+resources.Tick(farAhead):
		w.Text = "the forecast begins more than two years after now, " + at
	default:
		return nil
	}
	return []resources.Finding{w}
}
