// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/scheduler"
)

// Repair keeps the loads and the order of an earlier plan as far as facts
// allow and gives everything its times again: what the floor sees first after
// an event. Near now nothing is pulled forward, so that people find what they
// were told; further on gaps close. Work the old plan does not know is fitted
// in by its latest start.
func Repair(p *scheduler.Problem, old *scheduler.Plan) (*scheduler.Plan, error) {
	d, err := newDecoder(p)
	if err != nil {
		return nil, err
	}
	g, err := d.like(old)
	if err != nil {
		return nil, err
	}
	kept := g.clone()
	kept.floor = d.m.toldStarts()
	if d.decode(kept) || d.decode(g) {
		return d.emit(), nil
	}
	return nil, d.fail.err(p)
}

// toldStarts is when people expect the work near now to begin, unless facts ask
// for it sooner.
func (m *model) toldStarts() []Tick {
	p := m.p
	floor := make([]Tick, len(p.Acts))
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.Was == nil || !act.Was.Near {
			continue
		}
		floor[a] = act.Was.Start
		if act.Deadline != 0 {
			floor[a] = min(floor[a], act.Deadline)
		}
		for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
			arc := &p.Arcs[i]
			if f := p.Acts[arc.From].Fixed; f != nil && arc.HasMax {
				at := f.End
				if arc.FromStart {
					at = f.Start
				}
				floor[a] = min(floor[a], at+Tick(arc.Max))
			}
		}
	}
	return floor
}

// like is the genome of an earlier plan.
func (d *decoder) like(old *scheduler.Plan) (*genome, error) {
	key, err := d.m.keys(Weighted)
	if err != nil {
		return nil, err
	}
	acts := d.m.names()
	known := make([]bool, len(key))
	for i := range old.Work {
		w := &old.Work[i]
		if a, ok := acts[scheduler.Member{Piece: w.Piece, Operation: w.Operation}]; ok {
			known[a] = true
			if key[a] > settledKey {
				key[a] = float64(w.Start)
			}
		}
	}
	g := newGenome(d.m.form(key, groupings[0]), key)
	d.m.follow(g, old, acts, known)
	d.m.keepStations(g)
	return g, nil
}

// keepStations makes activities with a choice want the station they had.
func (m *model) keepStations(g *genome) {
	for a := range m.p.Acts {
		if act := &m.p.Acts[a]; act.Was != nil && act.ModeTo-act.ModeAt > 1 {
			g.want[a] = m.p.Modes[act.Was.Mode].Station
		}
	}
}

// names finds activities by piece and operation.
func (m *model) names() map[scheduler.Member]int32 {
	acts := make(map[scheduler.Member]int32, len(m.p.Acts))
	for a := range m.p.Acts {
		acts[scheduler.Member{Piece: m.p.Acts[a].Piece, Operation: m.p.Acts[a].Operation}] = int32(a)
	}
	return acts
}

// follow forms the loads of the earlier plan again; pieces it does not know
// keep the loads they have been given among themselves.
func (m *model) follow(g *genome, old *scheduler.Plan, acts map[scheduler.Member]int32, known []bool) {
	free := func(a int32) bool {
		act := &m.p.Acts[a]
		return act.Fixed == nil && act.Load < 0
	}
	for a := range g.node {
		n := g.node[a]
		if n.acts[0] != int32(a) || len(n.acts) < 2 || !free(int32(a)) {
			continue
		}
		var fresh []int32
		for _, x := range n.acts {
			if known[x] {
				g.node[x] = m.singles[x]
			} else {
				fresh = append(fresh, x)
			}
		}
		if len(fresh) > 0 && len(fresh) < len(n.acts) && !m.regroup(g, fresh) {
			for _, x := range fresh {
				g.node[x] = m.singles[x]
			}
		}
	}
	for i := range old.Loads {
		var list []int32
		for _, member := range old.Loads[i].Members {
			if a, ok := acts[member]; ok && free(a) {
				list = append(list, a)
			}
		}
		m.regroupAll(g, list)
	}
}

// regroupAll puts activities into as few loads as stations take, in order.
func (m *model) regroupAll(g *genome, list []int32) {
	for len(list) > 0 {
		k := len(list)
		for k > 1 && !m.regroup(g, list[:k]) {
			k--
		}
		if k == 1 {
			g.node[list[0]] = m.singles[list[0]]
		}
		list = list[k:]
	}
}
