// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"cmp"
	"maps"
	"math"
	"math/bits"
	"slices"

	"towpath/scheduler"
)

// byTime numbers nodes and activities anew by their planned start, and arcs by
// what they go out from. What is busy at one time then lies side by side, so
// that a history walks through memory from one end to the other. What goes
// first at one instant is still told by the old numbers.
func (g *Program) byTime(arcs []scheduler.Arc) {
	nodes := make([]int32, len(g.nodes))
	order := indexes(g.planned, func(a, b int32) int {
		return cmp.Or(cmp.Compare(g.nodes[a].start, g.nodes[b].start), cmp.Compare(a, b))
	})
	for k, n := range order {
		nodes[n] = int32(k)
	}
	acts := make([]int32, len(g.acts))
	g.actBy = acts
	order = indexes(int32(len(g.acts)), func(a, b int32) int {
		return cmp.Or(cmp.Compare(nodes[g.acts[a].planned], nodes[g.acts[b].planned]), cmp.Compare(a, b))
	})
	for k, a := range order {
		acts[a] = int32(k)
		nodes[g.acts[a].spare] = g.planned + int32(k)
	}
	g.nodeBy = nodes

	g.moveActs()
	moved := make([]node, len(g.nodes))
	for n := range g.nodes {
		x := g.nodes[n]
		x.number = int32(n)
		moved[nodes[n]] = x
		if x.fixed != nil {
			g.begun = append(g.begun, nodes[n])
		}
	}
	g.nodes = moved
	for i, a := range g.members {
		g.members[i] = acts[a]
	}
	for i := range g.pieces {
		for k, a := range g.pieces[i].acts {
			g.pieces[i].acts[k] = acts[a]
		}
	}
	for s := range g.stations {
		for k, n := range g.stations[s].queue {
			g.stations[s].queue[k] = nodes[n]
			g.stations[s].starts = append(g.stations[s].starts, short32(g.nodes[nodes[n]].start))
		}
	}
	g.layArcs(arcs)
	g.layReady()
}

func indexes(n int32, compare func(a, b int32) int) []int32 {
	list := make([]int32, n)
	for i := range list {
		list[i] = int32(i)
	}
	slices.SortFunc(list, compare)
	return list
}

// moveActs puts the activities, and what they refer to, in their new places.
func (g *Program) moveActs() {
	at := func(a int32) int32 {
		if a < 0 {
			return a
		}
		return g.actBy[a]
	}
	moved, rest := make([]act, len(g.acts)), make([]more, len(g.acts))
	for a := range g.acts {
		k := g.actBy[a]
		x := g.acts[a]
		rest[k] = *x.more
		x.more = &rest[k]
		x.number, x.planned, x.spare, x.back, x.mix = int32(a), g.nodeBy[x.planned], g.nodeBy[x.spare], at(x.back), at(x.mix)
		moved[k] = x
	}
	g.acts = moved
}

// layArcs sorts arcs by what they go out from, and lists by index those that go
// into each activity, in the order of the problem.
func (g *Program) layArcs(arcs []scheduler.Arc) {
	n := len(g.acts)
	outAt, order := scheduler.GroupArcs(n, arcs, func(a *scheduler.Arc) int32 { return g.actBy[a.From] })
	g.out, g.arcs = make([]out, n+1), make([]arc, len(arcs))
	for a := range n {
		own := order[outAt[a]:outAt[a+1]]
		slices.SortStableFunc(own, func(x, y int32) int {
			switch {
			case arcs[x].FromStart == arcs[y].FromStart:
				return 0
			case arcs[x].FromStart:
				return -1
			}
			return 1
		})
		g.out[a] = out{outAt[a], outAt[a]}
		for _, i := range own {
			if arcs[i].FromStart {
				g.out[a].ends++
			}
		}
	}
	g.out[n] = out{outAt[n], outAt[n]}
	place := make([]int32, len(arcs))
	for k, i := range order {
		x := &arcs[i]
		place[i] = int32(k)
		g.arcs[k] = arc{to: g.actBy[x.To], least: short32(Tick(x.Min)), most: int32(never)}
		if x.HasMax {
			g.arcs[k].most = short32(Tick(x.Max))
			g.acts[g.actBy[x.From]].clocks, g.acts[g.actBy[x.To]].clocked = true, true
		}
	}
	inAt, in := scheduler.GroupArcs(n, arcs, func(a *scheduler.Arc) int32 { return g.actBy[a.To] })
	g.inAt, g.in = inAt, make([]incoming, len(in))
	for k, i := range in {
		g.in[k] = incoming{place[i], g.actBy[arcs[i].From]}
	}
}

// layReady lists the activities that wait for nothing but their time, the
// latest first: so they enter a queue of events at its end.
func (g *Program) layReady() {
	for a := range g.acts {
		if g.inAt[a] == g.inAt[a+1] && g.nodes[g.acts[a].planned].fixed == nil {
			g.ready = append(g.ready, int32(a))
		}
	}
	slices.SortStableFunc(g.ready, func(a, b int32) int { return cmp.Compare(g.acts[b].release, g.acts[a].release) })
}

// fromNow counts the planned instants from the program's now.
func (g *Program) fromNow() {
	now := g.p.Now
	for a := range g.acts {
		x := g.acts[a].more
		x.release, x.plannedStart, x.plannedEnd = x.release-now, x.plannedStart-now, x.plannedEnd-now
		for _, limit := range []*Tick{&x.deadline, &x.expiry} {
			if *limit == 0 {
				*limit = never
			} else {
				*limit -= now
			}
		}
	}
	for n := range g.nodes {
		x := &g.nodes[n]
		if int32(n) >= g.planned {
			x.start = -never
			continue
		}
		x.setup, x.start, x.end, x.unload = x.setup-now, x.start-now, x.end-now, x.unload-now
	}
}

// layWays lays modes out for playing, what they want by part.
func (g *Program) layWays() {
	for _, s := range g.p.Skills {
		g.able, g.ableBits = append(g.able, s.Crews), append(g.ableBits, bitsOf(s.Crews))
	}
	for i := range g.modes {
		m := &g.modes[i]
		x := way{
			station: m.Station, family: m.Family, key: m.Key, load: short32(Tick(m.Load)), loadEach: short32(Tick(m.LoadEach)), run: short32(Tick(m.Run)),
			unload: short32(Tick(m.Unload)), unloadEach: short32(Tick(m.UnloadEach)), lead: -1, opens: phaseLoad, inside: m.WaitInside,
		}
		x.alone = [phases]int32{phaseLoad: x.load + x.loadEach, phaseRun: x.run, phaseUnload: x.unload + x.unloadEach}
		if m.Load+m.LoadEach == 0 {
			x.opens = phaseRun
		}
		for ph := range phases {
			x.wants[ph] = int32(len(g.wants))
			for k := m.NeedAt; k < m.NeedTo; k++ {
				need := &g.needs[k]
				if need.Part != partOf[ph] {
					continue
				}
				if k == m.NeedAt {
					x.lead = int32(len(g.wants))
				}
				g.wants = append(g.wants, want{skill: need.Skill, named: k - m.NeedAt, share: int32(need.Share)})
				x.closes = uint8(ph)
			}
		}
		x.wants[phases] = int32(len(g.wants))
		if x.alone == [phases]int32{phaseRun: x.run} && x.run > 0 && x.wants[phases]-x.wants[0] == 1 && x.wants[phaseRun+1]-x.wants[phaseRun] == 1 {
			x.brief, x.want = true, g.wants[x.wants[phaseRun]]
		}
		g.ways = append(g.ways, x)
	}
}

// bitsOf is a list of numbers, a bit each; 0: not all are below 64.
func bitsOf(list []int32) uint64 {
	all := uint64(0)
	for _, i := range list {
		if i >= 64 {
			return 0
		}
		all |= bitOf(i)
	}
	return all
}

// layCommon finds the skills that all work at a station wants.
func (g *Program) layCommon() {
	for s := range g.stations {
		g.stations[s].common = math.MaxUint64
	}
	for i := range g.ways {
		w := &g.ways[i]
		has := uint64(0)
		for _, x := range g.wants[w.wants[0]:w.wants[phases]] {
			has |= bitOf(x.skill)
		}
		g.stations[w.station].common &= has
	}
}

// layNeeds finds for each station a skill of which people are wanted for whatever
// can begin there, the changeover for the next in turn included, by its first
// part; and for each crew the stations that can do nothing without such as it.
// Beyond the 64th station, crew or skill nothing is known.
func (g *Program) layNeeds() {
	first := make([]uint64, len(g.stations)) // skills, a bit each
	for s := range first {
		first[s] = math.MaxUint64
		if g.stations[s].families > 0 {
			first[s] = bitOf(g.p.Stations[s].SetupSkill)
		}
	}
	for i := range g.ways {
		w := &g.ways[i]
		has := uint64(0)
		if w.opens == phaseLoad || w.run > 0 {
			for _, x := range g.wants[w.wants[w.opens]:w.wants[w.opens+1]] {
				has |= bitOf(x.skill)
			}
		}
		first[w.station] &= has
	}
	g.needing = make([]uint64, len(g.crews))
	for s := range min(64, len(g.stations)) {
		if first[s] == 0 || first[s] == math.MaxUint64 {
			continue
		}
		st := &g.stations[s]
		st.needs = int32(bits.TrailingZeros64(first[s]))
		st.needsBits = g.ableBits[st.needs]
		for crews := st.needsBits; crews != 0; crews &= crews - 1 {
			g.needing[bits.TrailingZeros64(crews)] |= 1 << s
		}
	}
}

// bitOf is a number as a bit; none for those below 0 and the 65th and later.
func bitOf(i int32) uint64 {
	if i < 0 {
		return 0
	}
	return 1 << uint32(i)
}

// layTurns puts the changes of heads of all crews in one row.
func (g *Program) layTurns() {
	for c := range g.crews {
		x := &g.crews[c]
		for k, step := range x.steps {
			switch {
			case k == 0:
			case step.At <= 0:
				x.first = int32(k)
			default:
				g.turns = append(g.turns, turn{step.At, int32(c), int32(step.Cap), x.until(k), x.absence > 0})
			}
		}
	}
	slices.SortFunc(g.turns, func(a, b turn) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.crew, b.crew)) })
}

// until is when a step of a crew's calendar ends; never: it is the last.
func (x *crew) until(step int) int32 {
	if step+1 < len(x.steps) {
		return short32(x.steps[step+1].At)
	}
	return int32(never)
}

// layDuties finds when so much of a crew is there as is wanted of it. Where
// people may be absent each history has its own.
func (g *Program) layDuties() {
	shares := map[int32]bool{}
	for i := range g.wants {
		shares[g.wants[i].share] = true
	}
	for s := range g.p.Stations {
		if sp := &g.p.Stations[s]; sp.SetupSkill >= 0 {
			shares[int32(sp.SetupShare)] = true
		}
	}
	for c := range g.crews {
		x := &g.crews[c]
		for _, share := range slices.Sorted(maps.Keys(shares)) {
			if x.absence > 0 {
				break
			}
			d := duty{share: share, number: int32(g.duties)}
			for k, step := range x.steps {
				at, end := step.At, Tick(math.MaxInt64)
				if k+1 < len(x.steps) {
					end = x.steps[k+1].At
				}
				switch last := len(d.on) - 1; {
				case int32(step.Cap) < share:
				case last >= 0 && d.on[last].end == at:
					d.on[last].end = end
				default:
					d.on = append(d.on, span{at, end})
				}
			}
			x.duty = append(x.duty, d)
			g.duties++
		}
	}
}

// layKinds finds the activities that have all in common.
func (g *Program) layKinds() {
	known := map[kindOf]int32{}
	g.due = make([]Tick, len(g.acts))
	for a := range g.acts {
		x := &g.acts[a]
		x.kindOf.size = g.sizeOf(x.more.size)
		if x.line >= 0 {
			g.due[a] = g.p.Lines[x.line].Due
		}
		k, ok := known[x.kindOf]
		if !ok {
			k = int32(len(g.kinds))
			known[x.kindOf] = k
			g.kinds = append(g.kinds, x.kindOf)
		}
		x.kind, x.holds = k, int32(len(g.holds))
		g.holds = append(append(g.holds, x.begins...), x.ends...)
	}
}

// sizeOf numbers a size.
func (g *Program) sizeOf(size []int64) int32 {
	for i, s := range g.sizes {
		if slices.Equal(s, size) {
			return int32(i)
		}
	}
	g.sizes = append(g.sizes, size)
	return int32(len(g.sizes) - 1)
}

// layPools says where the tools are. A unit that work already has is in hand.
func (g *Program) layPools() {
	g.atHand = make([]int64, len(g.p.Pools))
	for i := range g.p.Pools {
		for u, at := range g.p.Pools[i].FreeAt {
			inHand := false
			for h := range g.p.Holds {
				if x := &g.p.Holds[h]; x.Take < 0 && x.Pool == int32(i) && x.Unit == int32(u) {
					inHand = true
					g.inHand = append(g.inHand, int32(h))
				}
			}
			switch {
			case inHand:
			case at <= g.p.Now:
				g.atHand[i]++
			default:
				g.coming = append(g.coming, coming{at - g.p.Now, int32(i)})
			}
		}
	}
}
