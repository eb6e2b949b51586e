// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"fmt"
	"slices"

	"towpath/resources/quality"
	"towpath/scheduler"
)

// Compare lists where a state says something else than what was really done,
// in order; empty: nowhere.
func (m *Model) Compare(s *scheduler.State) []string {
	want, got := m.facts(s.At), factsOf(s)
	var out []string
	for f, n := range want {
		if got[f] < n {
			out = append(out, "the shop does not know: "+f)
		}
	}
	for f, n := range got {
		if want[f] < n {
			out = append(out, "the shop believes: "+f)
		}
	}
	slices.Sort(out)
	return out
}

// facts are sentences about what was done, and how often each is true.
type facts map[string]int

func (f facts) add(format string, args ...any) { f[fmt.Sprintf(format, args...)]++ }

// facts says what was done until an instant: who is expected back by then is not
// away.
func (m *Model) facts(at scheduler.Tick) facts {
	f := facts{}
	for at, list := range m.runs {
		for _, r := range list {
			f.add("%s", r.text(at))
		}
	}
	for id, l := range m.loads {
		f.add("load %s on %s from %d to %d, %d pieces", id, l.station, l.start, l.end, len(l.jobs))
	}
	for id, x := range m.mixes {
		f.add("mix %s of %d g, %d g drawn, gone %v", id, x.grams, x.drawn, x.gone)
	}
	for id, down := range m.down {
		if down {
			f.add("station %s is down", id)
		}
	}
	for unit, who := range m.holder {
		f.add("%s has %s", who, unit)
	}
	for _, a := range m.away {
		if a.goesOn(at) {
			f.add("%d of %s away from %d until %d", a.people, a.crew, a.from, a.until)
		}
	}
	for serial, gone := range m.scrapped {
		if gone {
			f.add("%s is scrap", serial)
		}
	}
	held := map[string]bool{}
	for serial, yes := range m.held {
		held[serial] = held[serial] || yes
	}
	for at, v := range m.gate {
		held[at.piece] = held[at.piece] || v.holds
		for i, passed := range v.passed {
			f.add("verdict %d of %s %s: passed %v", i+1, at.piece, at.operation, passed)
		}
	}
	for tube, parts := range m.parts {
		for _, part := range parts {
			held[part] = held[part] || held[tube] && !m.scrapped[tube]
		}
	}
	for serial, yes := range held {
		if yes && !m.scrapped[serial] {
			f.add("%s is held", serial)
		}
	}
	return f
}

func factsOf(s *scheduler.State) facts {
	f := facts{}
	for serial, p := range s.Pieces {
		for _, list := range [][]scheduler.OpState{p.Earlier, p.Ops} {
			for i := range list {
				o := &list[i]
				if o.Status == scheduler.Planned {
					continue
				}
				r := run{station: o.Station, load: o.Load, mix: o.Mix, tools: o.Tools, start: o.Started, end: o.Ended}
				f.add("%s", r.text(job{serial, o.Operation}))
			}
		}
		times := map[string]int{}
		for i := range p.Results {
			r := &p.Results[i]
			times[r.Operation]++
			f.add("verdict %d of %s %s: passed %v", times[r.Operation], serial, r.Operation, r.Decision == quality.Pass)
		}
		if p.Scrapped {
			f.add("%s is scrap", serial)
		} else if p.Held {
			f.add("%s is held", serial)
		}
	}
	for id, l := range s.Loads {
		if l.Status != scheduler.Planned {
			f.add("load %s on %s from %d to %d, %d pieces", id, l.Station, l.Started, l.Ended, len(l.Members))
		}
	}
	for id, x := range s.Mixes {
		f.add("mix %s of %d g, %d g drawn, gone %v", id, x.Grams, x.Drawn, x.Discarded)
	}
	for id, st := range s.Stations {
		if st.Down {
			f.add("station %s is down", id)
		}
	}
	for unit, t := range s.Tools {
		if t.Holder != "" {
			f.add("%s has %s", t.Holder, unit)
		}
	}
	for _, a := range s.Absences {
		if a.From <= s.At && (a.Until == 0 || s.At < a.Until) {
			f.add("%d of %s away from %d until %d", a.People, a.Crew, a.From, a.Until)
		}
	}
	return f
}
