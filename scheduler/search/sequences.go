// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"math"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// sequences is a solution of a problem in which only stations, their hours,
// changeovers and loads matter: the order of work on every lane, a lane being
// one place of one station. A change times again only what it touches: the
// items after it on their lanes, until nothing moves any more.
type sequences struct {
	m *model
	p *scheduler.Problem

	lanes  []lane
	laneAt []int32 // lanes of station s are laneAt[s] … laneAt[s+1]
	items  []stint
	free   []int32 // numbers of items not in use
	itemOf []int32 // per act
	modes  []int32 // per act and station: its mode there, -1: none
	worth  []worth // per act

	dates []lateness // per order that more than one activity completes
	ends  [][]int32  // per line: the activities that complete it
	flows []Tick     // per piece, when flow counts
	sums  totals

	was     history // before the change in hand
	touched []int32 // items to be timed again
	later   []int32 // items before which something has moved later
	queued  []bool  // per item: it is among them
	stale   []bool  // per item: members or neighbours have changed
	orders  []int32 // to be told again
	pieces  []int32 // whose flow has changed
	stamp   []int64 // per order: the change that last touched it
	seen    []int64 // per piece, likewise
	change  int64

	levels  [6]int // of the objective's terms, as value has them
	weights [6]int64
	prices  [6]float64 // the same in the guide
	plain   bool       // every order depends on one activity, and flow does not count
	guided  bool       // the tardiness comes after the lost orders
	flow    bool
}

// lane is one place of a station.
type lane struct {
	station     int32
	first, last int32 // items; -1: none
	open        []resources.Interval
}

// stint is what a lane does in one go: an activity, or the members of a load.
type stint struct {
	acts       []int32
	lane       int32
	prev, next int32 // on the lane
	window     int32 // of the lane's hours
	shape
	start, end Tick
	changed    Tick // length of the changeover before it
	setupCost  int64
	lateness   // of the members whose orders depend on nothing else
}

// shape is what members and lane make of a stint.
type shape struct {
	key     int32 // members of one load have equal keys
	family  int32
	release Tick
	length  Tick
	run     Tick
	longest Tick // no longer run is allowed; 0: no limit

	// What an end means at a glance: nobody is late up to early; past late
	// everybody is, which loses them all.
	early, late Tick
	all         int64
}

// worth is what an activity's end means when its order depends on nothing else.
type worth struct {
	alone bool
	last  bool
	event bool
	due   Tick
	cost  int64
	order int32
}

// lateness is what being late costs, of a stint or of an order of several activities.
type lateness struct {
	lost, tardy, far int64
}

// totals are the parts of the cost.
type totals struct {
	lost, tardy, far       int64
	oven, setup, setupCost int64
	flow                   int64
}

// mostModes bounds the table of modes.
const mostModes = 1 << 23

// sequenced tells whether order alone settles a solution: no waits, people,
// tools, resin, material or pauses, and nothing begun.
func (m *model) sequenced() bool {
	p := m.p
	if len(p.Arcs) > 0 || len(p.Holds) > 0 || len(p.Mixes) > 0 || len(p.Loads) > 0 || len(p.Acts)*len(p.Stations) > mostModes {
		return false
	}
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.MayPause || act.Resin >= 0 || len(act.Draws) > 0 || act.Fixed != nil || act.Frozen || act.Deadline != 0 ||
			act.Was != nil || len(act.After) > 0 || act.Key >= 0 && len(act.Size) > 4 {
			return false
		}
		for k := act.ModeAt; k < act.ModeTo; k++ {
			if md := &p.Modes[k]; md.NeedTo > md.NeedAt || md.LoadEach > 0 || md.UnloadEach > 0 || md.WaitInside && md.Unload > 0 {
				return false
			}
		}
	}
	for i := range p.Stations {
		if st := &p.Stations[i]; st.SetupSkill >= 0 || st.Families > 0 && st.Places > 1 || len(st.Stops)+len(st.Busy) > 0 {
			return false
		}
	}
	return true
}

// newSequences takes over the solution on a board.
func newSequences(d *decoder) *sequences {
	m, p := d.m, d.m.p
	n := len(p.Acts)
	s := &sequences{m: m, p: p, itemOf: make([]int32, n)}
	s.tables()
	s.begin()
	x := picture{}
	for a := range n {
		t := &d.b.at[a]
		if t.node.acts[0] != int32(a) {
			continue
		}
		x.acts = append(x.acts, t.node.acts...)
		station := t.node.options[t.option].station
		x.items = append(x.items, pictured{len(x.acts), s.laneAt[station] + t.place, station, t.start})
	}
	s.fill(&x)
	return s
}

// load makes the solution the one of a copy.
func (s *sequences) load(x *picture) {
	s.items, s.free = s.items[:0], s.free[:0]
	s.queued, s.stale = s.queued[:0], s.stale[:0]
	s.touched, s.later, s.orders, s.pieces = s.touched[:0], s.later[:0], s.orders[:0], s.pieces[:0]
	for l := range s.lanes {
		s.lanes[l].first, s.lanes[l].last = -1, -1
	}
	for o := range s.dates {
		s.dates[o] = lateness{}
	}
	clear(s.flows)
	s.sums = totals{}
	s.begin()
	s.fill(x)
	s.settle(math.Inf(1))
}

// fill puts the items of a copy on their empty lanes, in the order of their
// starts, to be timed.
func (s *sequences) fill(x *picture) {
	order := make([]int, len(x.items))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(x.items[a].start, x.items[b].start)
	})
	for _, k := range order {
		row, from := x.items[k], 0
		if k > 0 {
			from = x.items[k-1].end
		}
		i := s.newItem()
		s.items[i].acts = append(s.items[i].acts[:0], x.acts[from:row.end]...)
		s.enter(i, row.lane, s.lanes[row.lane].last)
		for _, a := range s.items[i].acts {
			s.itemOf[a] = i
		}
		s.measure(i)
		s.touch(i)
	}
}

// tables fills in what never changes.
func (s *sequences) tables() {
	p := s.p
	for st := range p.Stations {
		s.laneAt = append(s.laneAt, int32(len(s.lanes)))
		open := p.Stations[st].Open
		if p.Stations[st].Always || p.Stations[st].Unattended {
			open = []resources.Interval{{Start: p.Now, End: p.End}}
		}
		for range p.Stations[st].Places {
			s.lanes = append(s.lanes, lane{station: int32(st), first: -1, last: -1, open: open})
		}
	}
	s.laneAt = append(s.laneAt, int32(len(s.lanes)))
	s.modes = make([]int32, len(p.Acts)*len(p.Stations))
	for i := range s.modes {
		s.modes[i] = -1
	}
	for a := range p.Acts {
		for k := p.Acts[a].ModeAt; k < p.Acts[a].ModeTo; k++ {
			s.modes[a*len(p.Stations)+int(p.Modes[k].Station)] = k
		}
	}
	s.tableDates()
	goal := &p.Goal
	for i, t := range []resources.Term{goal.Lost, goal.Tardiness, goal.Oven, goal.SetupTime, goal.SetupCost, goal.Flow} {
		s.levels[i], s.weights[i] = levelOf(t), t.Weight
		s.prices[i] = price(t)
	}
	s.guided = goal.Tardiness.Level > goal.Lost.Level
	s.flow = goal.Flow.Weight != 0
	s.plain = !s.flow
	for a := range s.worth {
		s.plain = s.plain && (s.worth[a].alone || !s.worth[a].last)
	}
	if s.flow {
		s.flows, s.seen = make([]Tick, p.Pieces), make([]int64, p.Pieces)
	}
}

// tableDates notes which activities complete which orders.
func (s *sequences) tableDates() {
	p := s.p
	s.worth = make([]worth, len(p.Acts))
	s.dates = make([]lateness, len(p.Orders))
	s.stamp = make([]int64, len(p.Orders))
	s.ends = make([][]int32, len(p.Lines))
	for o := range p.Orders {
		count := 0
		for _, l := range p.Orders[o].Lines {
			for _, a := range p.Lines[l].Acts {
				if p.Acts[a].Last {
					s.ends[l] = append(s.ends[l], a)
					count++
				}
			}
		}
		alone := count == 1 && len(p.Orders[o].Lines) == 1 && p.Lines[p.Orders[o].Lines[0]].Done == 0
		for _, l := range p.Orders[o].Lines {
			line := &p.Lines[l]
			for _, a := range s.ends[l] {
				s.worth[a] = worth{alone: alone, last: true, event: line.Event, due: line.Due, cost: line.Weight, order: int32(o)}
			}
		}
	}
}

func (s *sequences) mode(a, station int32) int32 {
	return s.modes[int(a)*len(s.p.Stations)+int(station)]
}

// picture is a copy of a solution: the items lane by lane.
type picture struct {
	acts  []int32
	items []pictured
}

type pictured struct {
	end     int // its members are acts[…:end], from where the one before ends
	lane    int32
	station int32
	start   Tick
}

// copyTo takes a copy.
func (s *sequences) copyTo(x *picture) {
	x.acts, x.items = x.acts[:0], x.items[:0]
	for l := range s.lanes {
		for i := s.lanes[l].first; i >= 0; i = s.items[i].next {
			x.acts = append(x.acts, s.items[i].acts...)
			x.items = append(x.items, pictured{len(x.acts), int32(l), s.lanes[l].station, s.items[i].start})
		}
	}
}

// write makes a genome of a copy that decodes to the same times.
func (x *picture) write(m *model, g *genome) bool {
	at := 0
	for _, it := range x.items {
		acts := x.acts[at:it.end]
		at = it.end
		n := m.nodeOf(acts)
		if n == nil {
			return false
		}
		for _, a := range acts {
			g.node[a], g.key[a], g.want[a] = n, float64(it.start), it.station
			g.floor[a], g.out[a] = it.start, 0
		}
	}
	return true
}
