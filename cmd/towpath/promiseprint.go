// SPDX-License-Identifier: Apache-2.0

package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
)

// shownMoved is how many moved orders are printed; the JSON has all.
const shownMoved = 12

// printPromise writes the answer for people.
func printPromise(out io.Writer, plant *resources.Plant, r *promiseReport) error {
	w, zone := &lines{out: out}, plant.Zone
	w.add("%s, asked %s", cmp.Or(plant.Name, plant.ID), moment(r.Now, zone))
	w.add("%d × %s, wished by %s (last carrier %s)", r.Ask.Quantity, r.Ask.Product, moment(r.Ask.Wish, zone), moment(r.WishDue, zone))
	if r.Pieces > r.Ask.Quantity {
		w.add("%s in work for it, with tubes, samples and spares", plural(r.Pieces, "piece"))
	}
	w.add("")
	w.add("  earliest shipment   %s   %s", moment(r.Earliest.Ship, zone), inTime(r.Meets))
	w.add("  all packed          %s   %.1f h before the carrier", moment(r.Earliest.Ready, zone), float64(r.Earliest.Slack)/3600)
	if c := r.Chances; c != nil {
		sure := fmt.Sprintf("  sure to %2.0f %%        ", r.Ask.Confidence*100)
		if c.Known {
			w.add("%s%s   %s", sure, moment(c.Date.Ship, zone), inTime(c.Meets))
		} else {
			w.add("%sno date within the calendars", sure)
		}
		w.add("  the earliest holds in %.0f %% of %d histories (%.0f to %.0f %%)", c.Chance*100, c.Replications, c.Low*100, c.High*100)
	}
	w.add("")
	if len(r.Moved) == 0 {
		w.add("no other order is complete at another time")
	} else {
		w.add("%s complete at another time, none beyond its date:", plural(len(r.Moved), "order line"))
	}
	for _, m := range r.Moved[:min(len(r.Moved), shownMoved)] {
		w.add("  %-10s %s instead of %s, due %s", m.Order+"/"+m.Line, moment(m.Will, zone), moment(m.Was, zone), moment(m.Due, zone))
	}
	if n := len(r.Moved) - shownMoved; n > 0 {
		w.add("  and %d more; --json has all", n)
	}
	printOtherwise(w, zone, r.Answer)
	if !r.Whole && r.DeepenedMS > 0 {
		w.add("interrupted: not everything was looked at")
	}
	took := fmt.Sprintf("present plan made in %.1f s, answered in %d ms", float64(r.PlannedMS)/1000, r.AnsweredMS)
	if r.DeepenedMS > 0 {
		took += fmt.Sprintf(", looked at more closely in %.1f s", float64(r.DeepenedMS)/1000)
	}
	w.add("verified; %s; nothing is reserved", took)
	return w.err
}

func inTime(meets bool) string {
	if meets {
		return "in time for the wish"
	}
	return "NOT in time for the wish"
}

// printOtherwise lists the alternatives to a wish that cannot be met.
func printOtherwise(w *lines, zone *time.Location, a *promise.Answer) {
	o := a.Otherwise
	if o == nil {
		return
	}
	w.add("")
	if len(o.Alternatives) == 0 {
		w.add("none of the %d ways tried comes nearer to the wish without breaking a date", o.Tried)
	} else {
		w.add("what else could be done, no date broken (%s tried):", plural(o.Tried, "way"))
	}
	for i := range o.Alternatives {
		x := &o.Alternatives[i]
		w.add("  %d. %s", i+1, x.Words)
		for _, part := range x.Parts {
			w.add("       %d ship %s   %s", part.Quantity, moment(part.Ship, zone), inTime(part.Ship <= a.WishDue))
		}
		w.add("       %s", strings.Join(costs(x), ", "))
	}
	if slices.ContainsFunc(o.Alternatives, func(x promise.Alternative) bool { return x.Kind == promise.Shift }) {
		w.add("an extra shift is for the people, the site's rules and local law to allow")
	}
	w.add("")
}

// costs says what an alternative asks for and what it does to others.
func costs(x *promise.Alternative) (out []string) {
	if x.PersonHours > 0 {
		out = append(out, fmt.Sprintf("%.1f person-hours", x.PersonHours))
	}
	out = append(out, fmt.Sprintf("%+.1f oven hours", x.OvenHours))
	if x.Pieces != 0 {
		out = append(out, fmt.Sprintf("%+d pieces in work", x.Pieces))
	}
	later, spare := 0, scheduler.Seconds(0)
	for _, m := range x.Moved {
		if m.Later > 0 {
			if later++; later == 1 || m.Spare < spare {
				spare = m.Spare
			}
		}
	}
	if later == 0 {
		out = append(out, "nobody later")
	} else {
		out = append(out, fmt.Sprintf("%s later, %.1f h in all, %.1f h or more to spare", plural(later, "order line"), x.LaterHours, float64(spare)/3600))
	}
	if c := x.Chances; c != nil {
		out = append(out, fmt.Sprintf("holds in %.0f %% of %d histories", c.Chance*100, c.Replications))
		if n := len(c.Others); n > 0 {
			out = append(out, fmt.Sprintf("%s with a lower chance, %s most (%.0f to %.0f %%)", plural(n, "order"), c.Others[0].Order, c.Others[0].Was*100, c.Others[0].Will*100))
		}
	}
	return out
}
