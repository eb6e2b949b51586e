// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/scheduler"
)

// tellMixes has mixes begun no sooner than people were told, and one that was
// told to make room for the next as long before the first of its work: so that a
// mix that is pushed goes behind what it was told to follow, not in front of it.
func (m *model) tellMixes(g *genome, old *scheduler.Plan) {
	starts := map[string][]Tick{}
	for i := range old.Mixes {
		if x := &old.Mixes[i]; x.Status == scheduler.Planned {
			starts[x.Station] = append(starts[x.Station], x.Start)
		}
	}
	for _, list := range starts {
		slices.Sort(list)
	}
	for i := range old.Mixes {
		x := &old.Mixes[i]
		if x.Status != scheduler.Planned {
			continue
		}
		first, one := never, int32(-1)
		for _, user := range x.Users {
			if a := m.names().find(user); a >= 0 {
				g.fine[a].pour = x.Start
				if g.floor[a] < first {
					first, one = g.floor[a], a
				}
			}
		}
		room := starts[x.Station]
		if next, _ := slices.BinarySearch(room, x.End); one >= 0 && next < len(room) && room[next] < first {
			for _, a := range g.node[one].acts {
				g.fine[a].lead = first - x.End
			}
		}
	}
}

// letGo frees activities from the times that people were told.
func (g *genome) letGo(which func(act int32) bool) {
	for a := range g.floor {
		if which(int32(a)) {
			g.floor[a], g.out[a], g.fine[a] = 0, 0, fine{}
		}
	}
}

// advance lets activities begin sooner than people were told, by so much.
func (g *genome) advance(which func(act int32) bool, by Tick) {
	for a := range g.floor {
		if which(int32(a)) {
			g.floor[a], g.out[a], g.fine[a].pour = max(0, g.floor[a]-by), 0, max(0, g.fine[a].pour-by)
		}
	}
}

// close has all that is not near now begin as soon as it can, though not in
// front of what people near now were told.
func (m *model) close(g *genome, old *scheduler.Plan) {
	near := func(a int32) bool { was := m.p.Acts[a].Was; return was != nil && was.Near }
	g.letGo(func(a int32) bool { return !near(a) })
	clear(g.out)
	copy(g.floor, m.toldStarts())
	m.soonEnough(g, old)
}
