// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// begin touches what facts speak against.
func (x *pusher) begin() {
	x.layCrews()
	for i := range x.stays {
		s := &x.stays[i]
		if s.fixed {
			continue
		}
		if s.start > s.at.start || s.setup > s.at.setup || x.differs(s) {
			x.todo.push(x, int32(i))
		}
	}
	for i := range x.stays {
		x.onward(int32(i))
		if s := &x.stays[i]; !s.fixed && s.station >= 0 {
			if s.at.setup < x.until[x.placeAt[s.station]+s.place] && !s.hand {
				x.todo.push(x, int32(i))
			}
			x.setUp(int32(i))
		}
	}
	for h := range x.p.Holds {
		i, hold := x.taker(int32(h)), &x.p.Holds[h]
		if i >= 0 && x.unit[h] >= 0 && x.p.Pools[hold.Pool].FreeAt[x.unit[h]] > x.stays[i].at.setup {
			x.todo.push(x, i)
		}
	}
	for m, k := range x.facts {
		if k >= 0 {
			for _, u := range x.users[m] {
				x.notStarted(u, x.p.Mixes[k].Made)
			}
		}
	}
}

// differs tells whether a stay lasts another time by now, or is in a stop.
func (x *pusher) differs(s *stay) bool {
	if s.station < 0 {
		return false
	}
	w := &s.at
	if w.run-w.start != s.load || w.end-w.unload != s.unload || !s.pauses && w.runEnd-w.run != s.run {
		return true
	}
	for _, stop := range x.p.Stations[s.station].Stops {
		if w.setup < stop.End && w.end > stop.Start {
			return true
		}
	}
	return false
}

// onward tells all that has to do with a stay what its times ask of it.
func (x *pusher) onward(i int32) {
	x.divide(i)
	p, s := x.p, &x.stays[i]
	for _, a := range s.acts {
		for _, k := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[k]
			if to := x.of[arc.To]; to >= 0 && to != i {
				x.notStarted(to, s.since(arc)+Tick(arc.Min))
			}
		}
		for _, k := range p.In[p.InAt[a]:p.InAt[a+1]] {
			arc := &p.Arcs[k]
			from := x.of[arc.From]
			if !arc.HasMax || from < 0 || from == i {
				continue
			}
			if by := s.at.start - Tick(arc.Max); arc.FromStart {
				x.notStarted(from, by)
			} else {
				x.notEnded(from, by)
			}
		}
		for _, h := range p.Acts[a].Gives {
			x.taken(h)
		}
		for _, h := range p.Acts[a].Holds {
			x.taken(h)
		}
	}
	if s.mix >= 0 {
		for _, u := range x.users[s.mix] {
			x.notStarted(u, s.at.end)
		}
		for _, u := range slices.Clone(x.users[s.mix]) {
			x.alive(s.mix, u)
		}
	} else if s.pot >= 0 {
		x.alive(s.pot, i)
	}
	if s.fixed || s.moved {
		x.displace(i)
	}
}

// since is the instant from which a wait after a stay counts.
func (s *stay) since(arc *scheduler.Arc) Tick {
	if arc.FromStart {
		return s.at.start
	}
	return s.at.end
}

func (x *pusher) notStarted(i int32, before Tick) {
	if s := &x.stays[i]; before > s.start {
		s.start = before
		if before > s.at.start {
			x.todo.push(x, i)
		}
	}
}

func (x *pusher) notEnded(i int32, before Tick) {
	if s := &x.stays[i]; before > s.end {
		s.end = before
		if before > s.at.end {
			x.todo.push(x, i)
		}
	}
}
