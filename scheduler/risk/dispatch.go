// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// window is how many works in turn people look at when the first cannot begin.
const window = 8

// try lets a station begin all it can begin now.
func (y *Player) try(s int32) {
	for y.stations[s].free > 0 && y.beginOne(s) {
	}
}

// beginOne begins one work or changeover at a station; false: nothing can.
func (y *Player) beginOne(s int32) bool {
	g, st := y.g, &y.stations[s]
	queue := g.stations[s].queue
	early := Tick(g.floor.BeginEarly)
	head, turn := int32(-1), never
	looked := 0
	if sp := &g.p.Stations[s]; !sp.Always && !sp.Unattended {
		if _, next, open := y.openNow(s); !open {
			y.lookAgain(s, next)
			return false
		}
	}
	st.short = -1
	for i := st.next; i < len(queue) && looked < window; i++ {
		n := queue[i]
		x := &y.nodes[n]
		if x.state != waiting {
			if i == st.next {
				st.next++
			}
			continue
		}
		looked++
		nd := &g.nodes[n]
		if head < 0 {
			head = n
			turn = max(nd.start-early, st.freeSince) + Tick(g.floor.TurnWait)
			if y.rather(s, n) {
				return true
			}
			if y.now < nd.start-early || x.lacking > 0 {
				if y.setAhead(s, n) {
					return true
				}
			}
		} else if y.now < turn {
			y.lookAgain(s, turn)
			break
		}
		if y.now < nd.start-early {
			y.lookAgain(s, nd.start-early)
			break
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
	x.why = cause{causeMember, 0}
	if x.there == 0 {
		return false
	}
	nd := &g.nodes[n]
	st := &y.stations[nd.station]
	by := max(nd.start-Tick(g.floor.BeginEarly), st.freeSince, x.firstIn) + Tick(g.floor.LoadWait)
	for a := x.first; a >= 0; a = y.acts[a].next {
		if y.acts[a].state == ready {
			by = min(by, y.acts[a].spoilAt)
		}
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
	if ok, skill := y.acquire(n, phaseSetup, y.now+long, true); !ok {
		y.wait(s, skill)
		return false
	}
	if x.heldCount > 0 {
		x.heldCount--
		y.setups[place] = x.held[x.heldCount]
	} else {
		y.setups[place] = held{-1, 0}
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
	if h := y.setups[place]; h.crew >= 0 {
		y.crews[h.crew].used -= h.share
		y.wake(h.crew)
	}
	p.busy, p.setup = false, -1
	y.stations[s].free++
	y.touch(s)
}

// start begins a node when hours, people and tools allow; else it notes what
// for it waits.
func (y *Player) start(n int32) bool {
	nd, x := &y.g.nodes[n], &y.nodes[n]
	s := nd.station
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
		return next
	}
	if until > end && Seconds(until-y.now) <= g.stations[s].longest {
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
	at, first := y.now, true
	mode := &g.modes[y.acts[x.first].mode]
	for ph := range phases {
		to := at + length[ph]
		if length[ph] == 0 || ph == phaseUnload && mode.WaitInside {
			continue
		}
		look := to
		if ph == phaseRun && y.pauses(n) {
			look = at + 1
		}
		if first {
			if ok, skill := y.acquire(n, ph, look, false); !ok {
				return skill
			}
			first = false
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
