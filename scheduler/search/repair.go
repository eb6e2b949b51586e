// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Repair keeps the loads and the order of an earlier plan as far as facts
// allow and gives everything its times again: what the floor sees first after
// an event. Nothing is pulled forward unless dates suffer, and near now not even
// then, so that people find what they were told. Work the old plan does not
// know is fitted in by its latest start. Where the old order locks up (tools held
// by work that waits for other tools), the old plan stands if it can be followed
// to the second; else what gives tools back goes first, and where even that does not
// help a new one is constructed.
//
// In a large shop only what begins soon, what facts have touched and what
// hangs together with either is timed again, when the rest can stay as it is; else
// everything is placed once as it was told.
func Repair(p *scheduler.Problem, old *scheduler.Plan) (*scheduler.Plan, error) {
	if len(p.Acts) >= wide && old.Base >= p.Declared {
		if plan := repairLarge(p, old); plan != nil {
			return plan, nil
		}
	}
	return RepairWhole(p, old)
}

// RepairWhole is Repair with everything timed again, however large the shop.
func RepairWhole(p *scheduler.Problem, old *scheduler.Plan) (*scheduler.Plan, error) {
	d, err := newDecoder(p)
	if err != nil {
		return nil, explained(p, err)
	}
	plan, like, err := d.repair(old)
	if err != nil || like != nil {
		return plan, err
	}
	if plan := followed(p, old); plan != nil {
		return plan, nil
	}
	if g, err := d.told(old); err == nil && d.m.handBack(g) {
		if plan, like := d.repairOf(old, g, nil); like != nil {
			return plan, nil
		}
	}
	if _, err := d.start(); err != nil {
		return nil, explained(p, err)
	}
	return d.emit(), nil
}

// followed is the earlier plan to the second, with what it does not know put into
// its gaps; nil when facts have overtaken it, or there is no gap.
func followed(p *scheduler.Problem, old *scheduler.Plan) *scheduler.Plan {
	x, err := NewInserter(p, old)
	if err != nil {
		return nil
	}
	if !x.around.stands() {
		return nil
	}
	fit, err := x.Around()
	if err != nil {
		return nil
	}
	return fit.Plan()
}

// stands tells whether what is on the board can still be done as it stands: in
// the future, while its station runs, after what it waits for, and with no crew in
// two places.
func (d *decoder) stands() bool {
	p := d.m.p
	for a := range p.Acts {
		at := &d.b.at[a]
		if !at.on || p.Acts[a].Fixed != nil {
			continue
		}
		if at.start < max(p.Now, p.Acts[a].Release) {
			return false
		}
		for _, stop := range p.Stations[at.node.options[at.option].station].Stops {
			if max(at.setup, p.Now) < stop.End && at.end > stop.Start {
				return false
			}
		}
		for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
			arc := &p.Arcs[i]
			if from := &d.b.at[arc.From]; from.on && at.start < anchor(arc, from)+Tick(arc.Min) {
				return false
			}
		}
	}
	for c := range d.b.crews {
		for _, pg := range d.b.crews[c].pages {
			if slices.ContainsFunc(pg.steps, func(s step) bool { return s.free < 0 }) {
				return false
			}
		}
	}
	return true
}

// Pushed is an earlier plan with its loads and its order kept, everything only
// later where facts ask for it, and longest waits broken where that breaks them:
// what comes of a plan when nobody thinks about it again. The error is
// scheduler.ErrNothingPossible when its order has become impossible.
func Pushed(p *scheduler.Problem, old *scheduler.Plan) (*scheduler.Plan, error) {
	d, err := newDecoder(p)
	if err != nil {
		return nil, explained(p, err)
	}
	g, err := d.told(old)
	if err != nil {
		return nil, explained(p, err)
	}
	kept, ok := d.asTold(g)
	if !ok {
		return nil, d.fail.err(p)
	}
	d.unjump(kept)
	return d.emit(), nil
}

// repair is Repair on the board as it is, with the genome of the plan: none,
// without an error, when the old order of things has become impossible.
func (d *decoder) repair(old *scheduler.Plan) (*scheduler.Plan, *genome, error) {
	g, err := d.told(old)
	if err != nil {
		return nil, nil, err
	}
	plan, like := d.repairOf(old, g, nil)
	return plan, like, nil
}

// told is the genome of an earlier plan with its mixes as they were told.
func (d *decoder) told(old *scheduler.Plan) (*genome, error) {
	g, err := d.like(old)
	if err == nil {
		d.m.tellMixes(g, old)
	}
	return g, err
}

// repairOf is repair from the genome of an earlier plan: none also where, everything
// as it was told, it is hopeless already.
func (d *decoder) repairOf(old *scheduler.Plan, g *genome, hopeless func() bool) (*scheduler.Plan, *genome) {
	// First as it was, only later where facts ask for it; then, where dates
	// suffer, with the gaps closed, if that is better.
	kept := g.clone()
	if !d.decode(kept) {
		g.letGo(func(int32) bool { return true })
		if d.decode(g) {
			return d.emit(), g
		}
		return nil, nil
	}
	if hopeless != nil && hopeless() {
		return nil, nil
	}
	d.unjump(kept)
	if d.fresh(old) > 0 {
		plan, best := d.letGo(old, kept, g)
		return plan, best
	}
	if d.newLast || !d.suffers(old) {
		return d.emit(), kept
	}
	plan, was := d.emit(), d.calm()
	closed := kept.clone()
	d.m.close(closed, old)
	if d.decode(closed) {
		if is := d.calm(); is.moved <= was.moved && is.value.better(&was.value) {
			return d.emit(), closed
		}
	}
	return plan, kept
}

// suffers tells whether the solution on the board is noticeably worse for the
// dates than the old plan said.
func (d *decoder) suffers(old *scheduler.Plan) bool {
	ends := make([]Tick, len(d.m.p.Acts))
	for i, a := range d.m.names().works(old) {
		if a >= 0 {
			ends[a] = old.Work[i].End
		}
	}
	var was, is Cost
	d.assessDates(&is, d.completion)
	d.assessDates(&was, func(line int32) Tick {
		l := &d.m.p.Lines[line]
		done := l.Done
		for _, a := range l.Acts {
			if d.m.p.Acts[a].Last {
				done = max(done, ends[a])
			}
		}
		return done
	})
	return noticeable(&is, &was)
}

// toldStarts is when people expect the work near now to begin. The other comes
// after what is near at its station, so that nobody finds it before what they
// were told, and after the frozen window; unless facts ask for it sooner. A
// better order of what is near is for a search to find, which weighs what it
// gains against what it changes.
func (m *model) toldStarts() []Tick {
	last := make([]Tick, len(m.p.Stations)) // start of what is near
	mixed := Tick(0)                        // and of what is wound from a mix
	for a := range m.p.Acts {
		act := &m.p.Acts[a]
		if was := act.Was; was != nil && was.Near {
			st := m.p.Modes[was.Mode].Station
			last[st] = max(last[st], was.Start)
			if act.Resin >= 0 {
				mixed = max(mixed, was.Start)
			}
		}
	}
	floor := make([]Tick, len(m.p.Acts))
	for a := range m.p.Acts {
		act := &m.p.Acts[a]
		if was := act.Was; was != nil && was.Near {
			floor[a] = was.Start
		} else if was != nil {
			floor[a] = max(was.Told, last[m.p.Modes[was.Mode].Station])
			if act.Resin >= 0 && mixed > 0 {
				floor[a] = max(floor[a], mixed+Tick(m.p.Resins[act.Resin].Mixing)) // nor its mix before theirs
			}
			floor[a] = min(was.Start, floor[a])
		}
	}
	return floor
}

// margin is how long before a longest wait is over what it holds is begun when it
// cannot begin when it was told.
const margin = Tick(10 * resources.Minute)

// soonEnough lowers the floors of what would come too late there after work that
// has begun or is done, with those of its load: to a little before the wait is
// over, which is nearest to what people were told; to nothing when it is over
// anyway or an earlier plan has given it up: the sooner the better then.
func (m *model) soonEnough(g *genome, old *scheduler.Plan) {
	given := map[int32]bool{}
	for i := range old.Breaches {
		if a := m.names().find(old.Breaches[i].To); a >= 0 {
			given[a] = true
		}
	}
	m.mustStart(func(a int32, by Tick) {
		acts := g.node[a].acts
		if !slices.ContainsFunc(acts, func(x int32) bool { return g.floor[x] > by }) {
			return
		}
		soon := by - margin
		if soon < m.p.Now || given[a] {
			soon = 0
		}
		for _, x := range acts {
			g.floor[x] = min(g.floor[x], soon)
		}
	})
}

// like is the genome of an earlier plan.
func (d *decoder) like(old *scheduler.Plan) (*genome, error) {
	key, err := d.m.keys(Weighted)
	if err != nil {
		return nil, err
	}
	acts := d.m.names()
	known := make([]bool, len(key))
	floor, out := make([]Tick, len(key)), make([]Tick, len(key))
	want, station := make([]int32, len(key)), map[string]int32{}
	for i := range d.m.p.Stations {
		station[d.m.p.Stations[i].ID] = int32(i)
	}
	for a := range want {
		want[a] = -1
	}
	for i, a := range acts.works(old) {
		if w := &old.Work[i]; a >= 0 {
			known[a] = true
			if key[a] > settledKey {
				key[a] = float64(w.Start)
			}
			floor[a], out[a] = d.m.told(a, w)
			want[a] = station[w.Station]
		}
	}
	if d.newLast {
		for a := range key {
			if !known[a] && key[a] > settledKey {
				key[a] += lastKey
			}
		}
	}
	nodes := d.m.plain()
	if slices.Contains(known, false) {
		nodes = d.m.form(key, groupings[0])
	}
	g := newGenome(nodes, key)
	d.m.follow(g, old, acts, known)
	copy(g.want, want)
	copy(g.floor, floor)
	copy(g.out, out)
	d.m.soonEnough(g, old)
	return g, nil
}

// told is when people expect the work of an earlier plan to begin, and to be
// unloaded; 0: nobody does. That plan may be a proposal made some time ago: what
// has been published for the frozen window since stays, and nothing else that
// is published comes in front of it there.
func (m *model) told(a int32, w *scheduler.Work) (start, out Tick) {
	act := &m.p.Acts[a]
	switch {
	case act.Was == nil || act.Was.Start == w.Start:
		return w.Start, w.Unload
	case act.Frozen:
		return act.Was.Start, 0
	}
	return max(w.Start, act.Was.Told), w.Unload
}

// names finds activities by piece and operation, for as long as the model
// lives.
func (m *model) names() *finder {
	if m.named == nil {
		m.named = newFinder(m.p)
	}
	return m.named
}

// follow forms the loads of the earlier plan again; pieces it does not know
// keep the loads they have been given among themselves.
func (m *model) follow(g *genome, old *scheduler.Plan, acts *finder, known []bool) {
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
			if a := acts.find(member); a >= 0 && free(a) {
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
