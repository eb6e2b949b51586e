// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// meet is what two lists of closed ranges have in common. Neither list need be
// sorted; ranges of one list may overlap.
func meet(a, b []Interval) []Interval {
	a, b = closedUnion(a), closedUnion(b)
	var both []Interval
	for i, j := 0, 0; i < len(a) && j < len(b); {
		w := Interval{max(a[i].Start, b[j].Start), min(a[i].End, b[j].End)}
		if w.Start <= w.End {
			both = append(both, w)
		}
		if a[i].End < b[j].End {
			i++
		} else {
			j++
		}
	}
	return both
}

// closedUnion sorts closed ranges and joins those that overlap.
func closedUnion(all []Interval) []Interval {
	sorted := slices.Clone(all)
	slices.SortFunc(sorted, func(a, b Interval) int { return cmp.Compare(a.Start, b.Start) })
	var out []Interval
	for _, w := range sorted {
		if n := len(out); n > 0 && w.Start <= out[n-1].End {
			out[n-1].End = max(out[n-1].End, w.End)
			continue
		}
		out = append(out, w)
	}
	return out
}

// canMeet tells whether an instant of the first ranges and one of the second
// lie at least least and at most most apart. Both lists are sorted and apart.
func canMeet(first, second []Interval, least, most Seconds) bool {
	j := 0
	for _, w := range first {
		for j < len(second) && second[j].End < w.Start+Tick(least) {
			j++
		}
		if j < len(second) && second[j].Start <= w.End+Tick(most) {
			return true
		}
	}
	return false
}

// spanText writes a length of time as the plant file would.
func spanText(s Seconds) string {
	if s == 0 {
		return "0m"
	}
	sign := ""
	if s < 0 {
		sign, s = "-", -s
	}
	var parts []string
	for _, u := range []struct {
		long Seconds
		name string
	}{{Day, "d"}, {Hour, "h"}, {Minute, "m"}, {1, "s"}} {
		if n := s / u.long; n > 0 {
			parts = append(parts, fmt.Sprintf("%d%s", n, u.name))
			s %= u.long
		}
	}
	return sign + strings.Join(parts, " ")
}
