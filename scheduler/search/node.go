// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/resources"
	"towpath/scheduler"
)

// node is what gets a place in time as one: a single activity, or the members
// of a load. It never changes once made, so solutions share nodes.
type node struct {
	acts     []int32
	options  []option
	grams    int64
	release  Tick
	holds    int32 // how many tool units are taken here
	gives    int32 // and given back
	draws    int32 // how many materials its activities draw, each for itself
	fixed    *scheduler.Fixed
	resin    int32
	load     int32 // settled load, index into Problem.Loads; -1: none
	mayPause bool
	frozen   bool
}

// option is one way to do a node: on one station.
type option struct {
	station int32
	family  int32
	batch   bool
	wait    bool
	load    Seconds
	run     Seconds
	unload  Seconds
	needs   [resources.NumParts][]need
	modes   []int32 // per act, index into Problem.Modes
	people  int     // how many crews it asks for, the changeover's included
}

type need struct {
	skill int32
	share int64
}

// make builds the node of these activities, nil when no station can take them
// as one load.
func (m *model) make(acts []int32) *node {
	if n := new(node); m.build(n, acts) {
		return n
	}
	return nil
}

// build makes n the node of these activities; false when no station can take them as
// one load.
func (m *model) build(n *node, acts []int32) bool {
	m.bare(n, acts)
	first := &m.p.Acts[acts[0]]
	// A lone free piece has the options of all its like.
	like := len(acts) == 1 && first.Fixed == nil && first.Load < 0 && !first.Frozen
	if like {
		if known := m.options[first.ModeAt]; len(known) > 0 {
			n.options = known
			return true
		}
	}
	for mode := first.ModeAt; mode < first.ModeTo; mode++ {
		if o, ok := m.option(acts, mode); ok && m.allowed(n, mode) {
			n.options = append(n.options, o)
		}
	}
	if len(n.options) == 0 {
		return false
	}
	if like {
		m.options[first.ModeAt] = n.options
	}
	return true
}

// allowed keeps started and frozen work and settled loads on their station.
func (m *model) allowed(n *node, mode int32) bool {
	switch station := m.p.Modes[mode].Station; {
	case n.fixed != nil:
		return m.p.Modes[n.fixed.Mode].Station == station
	case n.load >= 0:
		return m.p.Loads[n.load].Station == station
	case n.frozen:
		for _, a := range n.acts {
			act := &m.p.Acts[a]
			if act.Frozen && act.Was != nil && m.p.Modes[act.Was.Mode].Station != station {
				return false
			}
		}
	}
	return true
}

// bare makes n the node without its options.
func (m *model) bare(n *node, acts []int32) {
	act := &m.p.Acts[acts[0]]
	*n = node{
		acts: acts, resin: act.Resin, grams: act.Grams,
		release: act.Release, holds: int32(len(act.Holds)), gives: int32(len(act.Gives)), draws: int32(len(act.Draws)),
		mayPause: act.MayPause, load: act.Load, fixed: act.Fixed, frozen: act.Frozen,
	}
	for _, a := range acts[1:] {
		m.merge(n, &m.p.Acts[a])
	}
}

// merge takes one more member's demands into the node.
func (m *model) merge(n *node, act *scheduler.Act) {
	n.grams += act.Grams
	if n.resin < 0 {
		n.resin = act.Resin
	}
	n.release = max(n.release, act.Release)
	n.holds += int32(len(act.Holds))
	n.gives += int32(len(act.Gives))
	n.draws += int32(len(act.Draws))
	n.mayPause = n.mayPause && act.MayPause
	n.frozen = n.frozen || act.Frozen
	if n.fixed == nil {
		n.fixed = act.Fixed
	}
}

// option builds the way to do these activities on the station of the first
// one's mode; false when the members do not go together there.
func (m *model) option(acts []int32, mode int32) (option, bool) {
	station := m.p.Modes[mode].Station
	st := &m.p.Stations[station]
	o := option{station: station, family: -1, batch: st.Batch}
	if len(acts) > 1 && !st.Batch {
		return o, false
	}
	if st.Families > 0 {
		o.family = m.p.Modes[mode].Family
	}
	o.wait = true
	longest := Seconds(0)
	for i, a := range acts {
		k := mode
		if i > 0 {
			if k = m.modeOn(a, station); k < 0 || m.p.Modes[k].Key != m.p.Modes[mode].Key {
				return o, false
			}
		}
		md := &m.p.Modes[k]
		o.modes = append(o.modes, k)
		o.load = max(o.load, md.Load)
		o.run = max(o.run, md.Run)
		o.unload = max(o.unload, md.Unload)
		o.wait = o.wait && md.WaitInside
		if md.MaxRun > 0 && (longest == 0 || md.MaxRun < longest) {
			longest = md.MaxRun
		}
		for _, nd := range m.p.Needs[md.NeedAt:md.NeedTo] {
			o.want(nd)
		}
	}
	for _, k := range o.modes {
		o.load += m.p.Modes[k].LoadEach
		o.unload += m.p.Modes[k].UnloadEach
	}
	o.people = 1
	for _, needs := range o.needs {
		o.people += len(needs)
	}
	// A load that is closed or running is a fact, whether it fits or not.
	if first := &m.p.Acts[acts[0]]; first.Load >= 0 || first.Fixed != nil {
		return o, true
	}
	return o, (longest == 0 || o.run <= longest) && (!st.Batch || m.fits(acts, st))
}

// want adds a need; members of a load share the largest of each skill.
func (o *option) want(nd scheduler.ActNeed) {
	list := o.needs[nd.Part]
	for i := range list {
		if list[i].skill == nd.Skill {
			list[i].share = max(list[i].share, nd.Share)
			return
		}
	}
	o.needs[nd.Part] = append(list, need{skill: nd.Skill, share: nd.Share})
}

func (m *model) modeOn(act, station int32) int32 {
	a := &m.p.Acts[act]
	for k := a.ModeAt; k < a.ModeTo; k++ {
		if m.p.Modes[k].Station == station {
			return k
		}
	}
	return -1
}

// fits compares the members' sizes with the station's capacity.
func (m *model) fits(acts []int32, st *scheduler.StationP) bool {
	for d, limit := range st.Capacity {
		if limit < 0 {
			continue
		}
		var sum int64
		for _, a := range acts {
			sum += m.p.Acts[a].Size[d]
		}
		if sum > limit {
			return false
		}
	}
	return true
}
