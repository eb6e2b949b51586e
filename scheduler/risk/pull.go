// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"slices"

	"towpath/resources"
)

const (
	// holdBack is how long at most a step that starts a clock is put off because
	// what must follow in time could not.
	holdBack = Tick(2 * resources.Day)
	// askAgain is after how long people look again whether it could now, when
	// they do not know when it can.
	askAgain = Tick(30 * resources.Minute)
)

// clocked says that a member is there that spoils unless it goes on in time.
func (y *Player) clocked(n int32) bool { return Tick(y.nodes[n].spoil) < never }

// spoils is when the first of a node's members that are there should begin.
func (y *Player) spoils(n int32) Tick {
	at := never
	for a := y.nodes[n].first; a >= 0; a = y.acts[a].next {
		if y.acts[a].state == ready {
			at = min(at, Tick(y.acts[a].spoilAt))
		}
	}
	return at
}

// spoilt counts a node's members that are there and spoil before an instant.
func (y *Player) spoilt(n int32, by Tick) int32 {
	count := int32(0)
	for a := y.nodes[n].first; a >= 0; a = y.acts[a].next {
		if x := &y.acts[a]; x.state == ready && Tick(x.spoilAt) < by {
			count++
		}
	}
	return count
}

// overnight is how soon something must spoil for people to stay for it.
const overnight = Tick(8 * resources.Hour)

// urgent says that a member is there that would be lost by the next shift: then
// people who are there begin although the station is closed, or will be before
// the end.
func (y *Player) urgent(n int32) bool { return Tick(y.nodes[n].spoil) < y.now+overnight }

func (y *Player) anyUrgent(st *stationNow) bool {
	for _, n := range st.avail {
		if y.urgent(n) {
			return true
		}
	}
	return false
}

// pulled says when a node whose end starts a clock may begin: only when what
// must follow within it can be expected to. Now, or an instant at which to ask
// again.
func (y *Player) pulled(n int32, length *[phases]int32) Tick {
	g := y.g
	for a := y.nodes[n].first; a >= 0; a = y.acts[a].next {
		x := &y.acts[a]
		last := Tick(max(y.nodes[n].start, x.readyAt)) + holdBack
		if !g.kinds[x.kind].clocks || x.state != ready || y.now >= last {
			continue
		}
		begin := y.now + Tick(length[phaseSetup])
		end := begin + Tick(length[phaseLoad]) + Tick(length[phaseRun]) + Tick(length[phaseUnload])
		for i := g.out[a].starts; i < g.out[a+1].starts; i++ {
			arc := &g.arcs[i]
			if !arc.clocks() || y.released[i] {
				continue
			}
			from := end
			if i < g.out[a].ends {
				from = begin
			}
			if by := from + Tick(arc.most); !y.follows(arc.to, from+Tick(arc.least), by) {
				return min(last, y.now+y.untilFollowed(arc.to, by))
			}
		}
	}
	return y.now
}

// follows says that an activity can be expected to begin between two instants,
// and not before its planned time, with its station open and people on shift.
func (y *Player) follows(a int32, from, by Tick) bool {
	x := &y.acts[a]
	if x.state == gone {
		return true
	}
	at := max(Tick(y.nodes[x.node].start), from)
	if at > by {
		return false
	}
	if d := y.g.begins[x.mode]; d != nil {
		next := y.dutyAt(d, at)
		return next < len(d.on) && d.on[next].start <= by
	}
	return y.staffed(a, at) || y.staffed(a, by)
}

// untilFollowed is how much later an activity's last instant to begin would
// have to be for it to be expected to.
func (y *Player) untilFollowed(a int32, by Tick) Tick {
	x := &y.acts[a]
	if later := Tick(y.nodes[x.node].start) - by; later > 0 {
		return later
	}
	if d := y.g.begins[x.mode]; d != nil {
		if next := y.dutyAt(d, by); next < len(d.on) {
			return d.on[next].start - by
		}
	}
	return askAgain
}

// staffed says that an activity's station is open at an instant, and people for
// its first part are on shift for as long as that is stated to take.
func (y *Player) staffed(a int32, at Tick) bool {
	g, x := y.g, &y.acts[a]
	way := &g.ways[x.mode]
	if y.onShift(way, int(way.opens), at, at+way.opening()) >= 0 {
		return false
	}
	st := &y.stations[way.station]
	if st.always {
		return true
	}
	for o := st.opening; o < len(st.open) && st.open[o].start <= at; o++ {
		if at < st.open[o].end {
			return true
		}
	}
	return false
}

// owe notes that what must follow an activity in time has its clock running:
// people are kept for it.
func (y *Player) owe(a int32) {
	g := y.g
	for i := g.out[a].starts; i < g.out[a+1].starts; i++ {
		arc := &g.arcs[i]
		if !arc.clocks() || y.acts[arc.to].owed || y.acts[arc.to].state > ready {
			continue
		}
		lead := g.ways[y.acts[arc.to].mode].lead
		if lead < 0 {
			continue
		}
		y.acts[arc.to].owed = true
		skill := g.wants[lead].skill
		y.owed[skill] = append(y.owed[skill], arc.to)
	}
}

func (y *Player) paid(a int32) {
	y.acts[a].owed = false
	skill := y.g.wants[y.g.ways[y.acts[a].mode].lead].skill
	l := y.owed[skill]
	if i := slices.Index(l, a); i >= 0 {
		l[i] = l[len(l)-1]
		y.owed[skill] = l[:len(l)-1]
	}
}

// kept is how much of the people with a skill is to be kept free from a node:
// for what the plan has before it and what has a clock running.
func (y *Player) kept(n, skill int32) int32 {
	if len(y.owed[skill]) == 0 || y.clocked(n) {
		return 0
	}
	share := int32(0)
	for _, a := range y.owed[skill] {
		x := &y.acts[a]
		if x.node != n && y.now <= Tick(x.spoilAt) && y.nodes[x.node].start <= y.nodes[n].start {
			share = max(share, y.g.wants[y.g.ways[x.mode].lead].share)
		}
	}
	return share
}
