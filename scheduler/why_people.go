// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"strings"

	"towpath/resources"
)

// atWork is when so much of a crew is at work, from a day before t on, in order
// and apart.
func (x *explainer) atWork(crew *resources.Crew, share int64, t Tick) []resources.Interval {
	steps := x.roster(crew)
	var out []resources.Interval
	for i, step := range steps {
		at := resources.Interval{Start: step.At, End: x.end}
		if i == 0 {
			at.Start -= Tick(resources.Day) // what began before the plan was made is not in question
		}
		if i+1 < len(steps) {
			at.End = steps[i+1].At
		}
		switch last := len(out) - 1; {
		case step.Cap < share || at.End <= t-Tick(resources.Day):
		case last >= 0 && out[last].End == at.Start:
			out[last].End = at.End
		default:
			out = append(out, at)
		}
	}
	return out
}

// roster lays out a crew once; a calendar that cannot be laid out has nobody on.
func (x *explainer) roster(crew *resources.Crew) []CapStep {
	steps, known := x.rosters[crew.ID]
	if !known {
		steps, _ = x.s.Roster(crew, x.p.Made, x.end, func(calendar string) ([]resources.Interval, error) {
			return x.s.Plant.Calendar(calendar).Windows(x.s.Plant.Zone, x.p.Made, x.end)
		})
		x.rosters[crew.ID] = steps
	}
	return steps
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
