// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// window is how many works that are there people look at when the first of them
// cannot begin.
const window = 12

// try lets a station begin all it can begin now.
func (y *Player) try(s int32) {
	if y.stillShort(s) {
		return
	}
	for y.stations[s].free > 0 && y.beginOne(s) {
	}
}

// stillShort says that all a station waited for, when it was last looked at,
// was people with one skill, and that none are free.
func (y *Player) stillShort(s int32) bool {
	st := &y.stations[s]
	if st.changed || st.short < 0 {
		st.changed = false
		return false
	}
	for _, c := range y.g.p.Skills[st.short].Crews {
		if y.freeNow(c, 1) {
			return false
		}
	}
	y.wait(s, st.short)
	return true
}

// beginOne begins one work or changeover at a station; false: nothing can.
func (y *Player) beginOne(s int32) bool {
	g, st := y.g, &y.stations[s]
	if sp := &g.p.Stations[s]; !sp.Always && !sp.Unattended {
		if _, next, open := y.openNow(s); !open && !y.anyUrgent(st) {
			y.lookAgain(s, next)
			return false
		}
	}
	st.short = -1
	early := Tick(g.floor.BeginEarly)
	head, turn := y.nextInTurn(s), never
	if head >= 0 {
		at := g.nodes[head].start - early
		turn = max(at, st.freeSince) + Tick(g.floor.TurnWait)
		if y.rather(s, head) || (y.now < at || y.nodes[head].lacking > 0) && y.setAhead(s, head) {
			return true
		}
	}
	for looked, n := range st.avail {
		if looked == window {
			break
		}
		if n != head && y.now < turn && !y.clocked(n) {
			y.lookAgain(s, turn)
			continue
		}
		if at := g.nodes[n].start - early; y.now < at {
			if y.nodes[n].lacking == 0 {
				at = min(at, y.spoils(n)) // all are there: rather early than spoilt
			}
			if y.now < at {
				y.lookAgain(s, at)
				continue
			}
		}
		if y.complete(n) && !y.wants(n, st.short) && y.start(n) {
			return true
		}
	}
	for _, n := range st.extras {
		if y.start(n) {
			return true
		}
	}
	return false
}

// nextInTurn is the first node of a station's queue that is not begun; -1: all
// are.
func (y *Player) nextInTurn(s int32) int32 {
	st, queue := &y.stations[s], y.g.stations[s].queue
	for st.next < len(queue) {
		if n := queue[st.next]; y.nodes[n].state == waiting {
			return n
		}
		st.next++
	}
	return -1
}

// rather begins an extra whose order is due before that of the next in turn.
func (y *Player) rather(s, head int32) bool {
	for _, n := range y.stations[s].extras {
		if y.due(n) < y.due(head) && y.start(n) {
			return true
		}
	}
	return false
}

func (y *Player) due(n int32) Tick {
	if a := y.nodes[n].first; a >= 0 && y.g.acts[a].line >= 0 {
		return y.g.p.Lines[y.g.acts[a].line].Due
	}
	return 0
}

// complete says that a node's members are there, or that its load is closed
// without the late ones: it has waited long enough for them, or one that is
// there would spoil.
func (y *Player) complete(n int32) bool {
	x, g := &y.nodes[n], y.g
	if x.lacking == 0 {
		return x.there > 0
	}
	if x.there == 0 {
		return false
	}
	x.why = cause{causeMember, y.g.nodes[n].station}
	nd := &g.nodes[n]
	st := &y.stations[nd.station]
	by := max(nd.start-Tick(g.floor.BeginEarly), st.freeSince, x.firstIn) + Tick(g.floor.LoadWait)
	if spoil := y.spoils(n); spoil < by && y.spoilt(n, by) >= x.lacking {
		by = spoil
	}
	if y.now >= by {
		return true
	}
	y.lookAgain(nd.station, by)
	return false
}

// wants says that a node needs people with a skill that has just been found
// short.
func (y *Player) wants(n, skill int32) bool {
	if skill < 0 {
		return false
	}
	mode := &y.g.modes[y.acts[y.nodes[n].first].mode]
	for k := mode.NeedAt; k < mode.NeedTo; k++ {
		if y.g.needs[k].Skill == skill {
			y.nodes[n].why = cause{causePeople, skill}
			return true
		}
	}
	return false
}

// expected is how long the parts of a node take as stated, for the members that
// are ready.
func (y *Player) expected(n int32) (length [phases]Tick) {
	x := &y.nodes[n]
	if a := x.first; y.acts[a].next < 0 {
		m := &y.g.modes[y.acts[a].mode]
		return [phases]Tick{phaseLoad: Tick(m.Load + m.LoadEach), phaseRun: Tick(m.Run), phaseUnload: Tick(m.Unload + m.UnloadEach)}
	}
	var loadEach, unloadEach Seconds
	var load, run, unload Seconds
	for a := x.first; a >= 0; a = y.acts[a].next {
		if y.acts[a].state != ready {
			continue
		}
		m := &y.g.modes[y.acts[a].mode]
		load, run, unload = max(load, m.Load), max(run, m.Run), max(unload, m.Unload)
		loadEach, unloadEach = loadEach+m.LoadEach, unloadEach+m.UnloadEach
	}
	length[phaseLoad], length[phaseRun], length[phaseUnload] = Tick(load+loadEach), Tick(run), Tick(unload+unloadEach)
	return length
}

// placeFor is the free place a node goes to: the planned one, else the one
// with the shortest changeover. -1: none is free.
func (y *Player) placeFor(n int32) int32 {
	g, nd := y.g, &y.g.nodes[n]
	base := g.stations[nd.station].place
	count := int32(g.p.Stations[nd.station].Places)
	if nd.place >= 0 && nd.place < count && !y.places[base+nd.place].busy {
		return base + nd.place
	}
	best, least := int32(-1), never
	for k := base; k < base+count; k++ {
		if !y.places[k].busy {
			if t := y.changeover(n, k); t < least {
				best, least = k, t
			}
		}
	}
	return best
}

func (y *Player) family(n int32) int32 {
	a := y.nodes[n].first
	if a < 0 {
		return 0
	}
	return y.g.modes[y.acts[a].mode].Family
}

// changeover is how long a place takes, as stated, to be set up for a node.
func (y *Player) changeover(n, place int32) Tick {
	sp := &y.g.p.Stations[y.g.nodes[n].station]
	if sp.Families == 0 {
		return 0
	}
	return Tick(sp.SetupTime[y.places[place].family*sp.Families+y.family(n)])
}

// setAhead begins the changeover for the next in turn before it is there.
func (y *Player) setAhead(s, n int32) bool {
	g, nd, x := y.g, &y.g.nodes[n], &y.nodes[n]
	if g.p.Stations[s].Families == 0 || x.setUp || x.first < 0 {
		return false
	}
	place := y.placeFor(n)
	if place < 0 {
		return false
	}
	long := y.changeover(n, place)
	if long == 0 {
		return false
	}
	if at := nd.setup - Tick(g.floor.BeginEarly); y.now < at {
		y.lookAgain(s, at)
		return false
	}
	end, next, open := y.openNow(s)
	if !open || end < y.now+long && next < never && long <= Tick(g.stations[s].longest) {
		y.lookAgain(s, next)
		return false
	}
	if stop := y.stopped(s, y.now+long); stop > 0 {
		y.lookAgain(s, stop)
		return false
	}
	if skill := y.acquire(n, phaseSetup, y.now+long, &y.works[place]); skill >= 0 {
		y.wait(s, skill)
		return false
	}
	x.setUp = true
	p := &y.places[place]
	p.busy, p.setup, p.family = true, n, y.family(n)
	y.stations[s].free--
	y.events.push(event{y.now + y.setupTime(n, long), evPlace, place})
	return true
}

func (y *Player) setupTime(n int32, long Tick) Tick {
	a := y.nodes[n].first
	u := y.luck.uniform(y.g.acts[a].key, forSetup, uint64(y.acts[a].tries))
	return scale(long, y.g.tables[y.g.stations[y.g.nodes[n].station].spread].draw(u))
}

func scale(t Tick, factor float64) Tick { return Tick(float64(t)*factor + 0.5) }

// placeReady ends a changeover made ahead of time.
func (y *Player) placeReady(place int32) {
	p := &y.places[place]
	s := y.g.nodes[p.setup].station
	y.release(&y.works[place])
	p.busy, p.setup = false, -1
	y.stations[s].free++
	y.touch(s)
}

// start begins a node when hours, people and tools allow; else it notes what
// for it waits.
func (y *Player) start(n int32) bool {
	x := &y.nodes[n]
	s := y.g.nodes[n].station
	if skill := y.nobody(n); skill >= 0 {
		x.why = cause{causePeople, skill}
		y.wait(s, skill)
		y.stations[s].short = skill
		return false
	}
	place := y.placeFor(n)
	if place < 0 {
		return false
	}
	length := y.expected(n)
	length[phaseSetup] = y.changeover(n, place)
	if at := y.openFor(n, &length); at > y.now {
		x.why = cause{causeHours, s}
		y.lookAgain(s, at)
		return false
	}
	if at := y.pulled(n, &length); at > y.now {
		x.why = cause{causeNext, s}
		y.lookAgain(s, at)
		return false
	}
	if pool := y.toolFor(n); pool >= 0 {
		x.why = cause{causeTool, pool}
		if !slices.Contains(y.onPool[pool], s) {
			y.onPool[pool] = append(y.onPool[pool], s)
		}
		return false
	}
	if skill := y.peopleFor(n, &length); skill >= 0 {
		x.why = cause{causePeople, skill}
		y.wait(s, skill)
		y.stations[s].short = skill
		return false
	}
	y.begin(n, place, length)
	return true
}

// nobody is a skill that a node's first part needs and of which nobody at all
// is free, found without much ado; -1: perhaps somebody is.
func (y *Player) nobody(n int32) int32 {
	g := y.g
	if g.p.Stations[g.nodes[n].station].Families > 0 {
		return -1
	}
	mode := &g.modes[y.acts[y.nodes[n].first].mode]
	part := partOf[phaseLoad]
	if mode.Load+mode.LoadEach == 0 {
		part = partOf[phaseRun]
	}
	for k := mode.NeedAt; k < mode.NeedTo; k++ {
		need := &g.needs[k]
		if need.Part != part {
			continue
		}
		free := false
		for _, c := range g.p.Skills[need.Skill].Crews {
			free = free || y.freeNow(c, need.Share)
		}
		if !free {
			return need.Skill
		}
	}
	return -1
}

// openFor is when a node may begin by its station's hours, as far as these can
// be seen now: now, or a later instant at which to look again.
func (y *Player) openFor(n int32, length *[phases]Tick) Tick {
	g, nd, x := y.g, &y.g.nodes[n], &y.nodes[n]
	s := nd.station
	sp := &g.p.Stations[s]
	loaded := y.now + length[phaseSetup] + length[phaseLoad]
	ran := loaded + length[phaseRun]
	if stop := y.stopped(s, ran); stop > 0 {
		return stop
	}
	end, next, open := y.openNow(s)
	mode := &g.modes[y.acts[x.first].mode]
	until := ran
	switch {
	case y.pauses(n):
		until = loaded
	case sp.Unattended && !y.attended(mode, resources.PartRun):
		if until = loaded; until == y.now {
			return y.now // nobody is wanted
		}
	case !mode.WaitInside:
		until = ran + length[phaseUnload]
	}
	if !open {
		if y.urgent(n) {
			return y.now
		}
		return next
	}
	if until > end && !y.urgent(n) && Seconds(until-y.now) <= g.stations[s].longest {
		return next
	}
	return y.now
}

func (y *Player) attended(mode *scheduler.Mode, part resources.Part) bool {
	for k := mode.NeedAt; k < mode.NeedTo; k++ {
		if y.g.needs[k].Part == part {
			return true
		}
	}
	return false
}

// pauses says that a node's run stops when people go home.
func (y *Player) pauses(n int32) bool {
	a := y.nodes[n].first
	return y.g.acts[a].pausable && y.acts[a].next < 0
}

// toolFor is a pool in which a node's tools are not all there; -1: they are.
func (y *Player) toolFor(n int32) int32 {
	g, short := y.g, int32(-1)
	last := int32(-1)
	if a := y.nodes[n].first; y.acts[a].next < 0 && !g.acts[a].tools {
		return -1
	}
	for a := y.nodes[n].first; a >= 0 && short < 0; a = y.acts[a].next {
		if y.acts[a].state != ready {
			continue
		}
		last = a
		for _, h := range g.acts[a].takes {
			pool := g.p.Holds[h].Pool
			if y.pools[pool]--; y.pools[pool] < 0 && short < 0 {
				short = pool
			}
		}
	}
	for a := y.nodes[n].first; a >= 0 && last >= 0; a = y.acts[a].next {
		if y.acts[a].state == ready {
			for _, h := range g.acts[a].takes {
				y.pools[g.p.Holds[h].Pool]++
			}
		}
		if a == last {
			break
		}
	}
	return short
}

// peopleFor is a skill that is short for beginning a node: people for its
// first part must be free now, those for what follows at once must be on shift
// then. -1: none is short.
func (y *Player) peopleFor(n int32, length *[phases]Tick) int32 {
	g, x := y.g, &y.nodes[n]
	at, first, urgent := y.now, true, y.urgent(n)
	mode := &g.modes[y.acts[x.first].mode]
	for ph := range phases {
		to := at + length[ph]
		if length[ph] == 0 || ph == phaseUnload && mode.WaitInside {
			continue
		}
		look := to
		if urgent || ph == phaseRun && y.pauses(n) {
			look = at + 1
		}
		if first {
			if skill := y.short(n, ph, look); skill >= 0 {
				return skill
			}
			first = false
		} else if urgent {
			break
		} else if skill := y.onShift(n, ph, mode, at, look); skill >= 0 {
			return skill
		}
		if at = to; ph == phaseRun && y.pauses(n) {
			break // nobody knows when it will end
		}
	}
	return -1
}

func (y *Player) onShift(n int32, ph int, mode *scheduler.Mode, at, to Tick) int32 {
	for k := mode.NeedAt; k < mode.NeedTo; k++ {
		need := &y.g.needs[k]
		if need.Part != partOf[ph] {
			continue
		}
		if !slices.ContainsFunc(y.g.p.Skills[need.Skill].Crews, func(c int32) bool { return y.there(c, need.Share, at, to) }) {
			return need.Skill
		}
	}
	return -1
}
