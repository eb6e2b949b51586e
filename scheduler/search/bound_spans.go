// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// spans are stretches of time, sorted and apart. As instants at which
// something may begin, both ends count; as times at work, the end does not.
type spans []resources.Interval

// everAfter is all time from an instant on.
func everAfter(t Tick) spans { return spans{{Start: t, End: never}} }

// next is the first instant of the spans, ends included, at or after t; never
// when there is none.
func (s spans) next(t Tick) Tick {
	i, _ := slices.BinarySearchFunc(s, t, func(w resources.Interval, t Tick) int { return cmp.Compare(w.End, t) })
	if i == len(s) {
		return never
	}
	return max(t, s[i].Start)
}

// begins turns times at work into the instants at which something may begin
// that needs them from off seconds later on, for length seconds in one stretch.
func (s spans) begins(off, length Seconds) spans {
	out := make(spans, 0, len(s))
	for _, w := range s {
		if w.End == never {
			out = append(out, resources.Interval{Start: w.Start - Tick(off), End: never})
		} else if w.End-w.Start >= Tick(length) {
			out = append(out, resources.Interval{Start: w.Start - Tick(off), End: w.End - Tick(off+length)})
		}
	}
	return out
}

// and is where both are; instants at both ends count.
func (s spans) and(t spans) spans {
	out := make(spans, 0, max(len(s), len(t)))
	for i, j := 0, 0; i < len(s) && j < len(t); {
		from, to := max(s[i].Start, t[j].Start), min(s[i].End, t[j].End)
		if from <= to {
			out = append(out, resources.Interval{Start: from, End: to})
		}
		if s[i].End < t[j].End {
			i++
		} else {
			j++
		}
	}
	return out
}

// union puts several lists together.
func union(lists ...spans) spans {
	all := spans(slices.Concat(lists...))
	slices.SortFunc(all, func(a, b resources.Interval) int { return cmp.Compare(a.Start, b.Start) })
	out := all[:0]
	for _, w := range all {
		if n := len(out); n > 0 && w.Start <= out[n-1].End {
			out[n-1].End = max(out[n-1].End, w.End)
		} else {
			out = append(out, w)
		}
	}
	return out
}

// outside is all time from an instant on but the stops.
func outside(from Tick, stops []resources.Interval) spans {
	all := slices.Clone(stops)
	slices.SortFunc(all, func(a, b resources.Interval) int { return cmp.Compare(a.Start, b.Start) })
	var out spans
	for _, w := range all {
		if w.Start > from {
			out = append(out, resources.Interval{Start: from, End: w.Start})
		}
		from = max(from, w.End)
	}
	return append(out, resources.Interval{Start: from, End: never})
}

// atWork is when a crew has at least so much of a person.
func atWork(crew *scheduler.CrewP, share int64) spans {
	var out spans
	for i, s := range crew.Steps {
		if s.Cap < share {
			continue
		}
		end := never
		if i+1 < len(crew.Steps) {
			end = crew.Steps[i+1].At
		}
		if n := len(out); n > 0 && out[n-1].End == s.At {
			out[n-1].End = end
		} else {
			out = append(out, resources.Interval{Start: s.At, End: end})
		}
	}
	return out
}

// curve is how much a resource can have done by an instant, when it is never
// idle: a rising piecewise linear function in units × seconds.
type curve struct {
	at   []Tick
	rate []int64
	sum  []int64 // at the beginning of each piece
}

// newCurve adds up rates over times; changes need not be sorted.
func newCurve(from Tick, changes []scheduler.CapStep) *curve {
	slices.SortStableFunc(changes, func(a, b scheduler.CapStep) int { return cmp.Compare(a.At, b.At) })
	c := &curve{at: []Tick{from}, rate: []int64{0}, sum: []int64{0}}
	for _, x := range changes {
		last := len(c.at) - 1
		if x.At > c.at[last] {
			c.sum = append(c.sum, c.sum[last]+c.rate[last]*int64(x.At-c.at[last]))
			c.at = append(c.at, x.At)
			c.rate = append(c.rate, c.rate[last])
			last++
		}
		c.rate[last] += x.Cap
	}
	return c
}

// over gives changes of a rate that holds during the spans; once the horizon
// is over it holds for good, as nobody knows what comes then.
func (s spans) over(rate int64, end Tick) []scheduler.CapStep {
	out := make([]scheduler.CapStep, 0, 2*len(s)+1)
	for _, w := range s {
		if w.Start >= end {
			break
		}
		out = append(out, scheduler.CapStep{At: w.Start, Cap: rate}, scheduler.CapStep{At: min(w.End, end), Cap: -rate})
	}
	return append(out, scheduler.CapStep{At: end, Cap: rate})
}

// done is the work possible by t.
func (c *curve) done(t Tick) int64 {
	i, exact := slices.BinarySearch(c.at, t)
	if !exact {
		i--
	}
	if i < 0 {
		return 0
	}
	return c.sum[i] + c.rate[i]*int64(t-c.at[i])
}

// when is the first instant by which so much work is possible.
func (c *curve) when(work int64) Tick {
	i, _ := slices.BinarySearch(c.sum, work)
	if i == 0 {
		return c.at[0]
	}
	i--
	if c.rate[i] <= 0 {
		return never
	}
	return c.at[i] + Tick((work-c.sum[i]+c.rate[i]-1)/c.rate[i])
}
