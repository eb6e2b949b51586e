// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"strings"

	"towpath/resources"
)

// atWork is when so much of a crew is at work, from a day before t on, in order
// and apart. Where nobody of it is reported away, that is when its shifts are.
func (x *explainer) atWork(crew *resources.Crew, share int64, t Tick) []resources.Interval {
	if !x.missed(crew.ID) {
		var calendars []string
		for _, shift := range crew.Shifts {
			calendars = append(calendars, shift.Calendar)
		}
		return x.windows(t, calendars...)
	}
	to := t + hoursAhead
	steps, err := x.s.Roster(crew, min(x.p.Made, t), to, func(calendar string) ([]resources.Interval, error) {
		return x.s.Plant.Calendar(calendar).Windows(x.s.Plant.Zone, min(x.p.Made, t), to)
	})
	if err != nil {
		return nil
	}
	var out []resources.Interval
	for i, step := range steps {
		end := to
		if i+1 < len(steps) {
			end = steps[i+1].At
		}
		switch last := len(out) - 1; {
		case step.Cap < share || end <= t-Tick(resources.Day):
		case last >= 0 && out[last].End == step.At:
			out[last].End = end
		default:
			out = append(out, resources.Interval{Start: step.At, End: end})
		}
	}
	return out
}

// missed tells whether people of a crew are reported away.
func (x *explainer) missed(crew string) bool {
	for _, a := range x.s.Absences {
		if a.Crew == crew {
			return true
		}
	}
	return false
}

// away says who of the crews of w is reported away between two instants.
func (x *explainer) away(w *Work, from, to Tick) string {
	var text strings.Builder
	told := map[string]bool{}
	for _, use := range w.People {
		crew := x.s.Plant.Crew(use.Crew)
		if crew == nil || told[use.Crew] {
			continue
		}
		told[use.Crew] = true
		for _, id := range sortedKeys(x.s.Absences) {
			a := x.s.Absences[id]
			if a.Crew != use.Crew || a.From >= to || a.Over(from) {
				continue
			}
			fmt.Fprintf(&text, "; %d of %s away", a.People, cmp.Or(crew.Name, crew.ID))
			if a.Until == 0 {
				text.WriteString(", nobody knows until when")
			} else {
				text.WriteString(" until " + x.s.clock(a.Until))
			}
		}
	}
	return text.String()
}
