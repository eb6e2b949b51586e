// SPDX-License-Identifier: Apache-2.0

package risk

import "slices"

// window is how many works that are there people look at when the first of them
// cannot begin.
const window = 12

// try lets a station begin all it can begin now.
func (y *Player) try(st *stationNow) {
	if y.stillShort(st) {
		return
	}
	for st.free > 0 && y.beginOne(st) {
	}
}

// stillShort says that all a station waited for, when it was last looked at,
// was people with one skill, and that none are free.
func (y *Player) stillShort(st *stationNow) bool {
	if st.changed || st.short < 0 {
		st.changed = false
		return false
	}
	if y.anyFree(st.short, 1) {
		return false
	}
	y.wait(st.number, st.short)
	return true
}

// beginOne begins one work or changeover at a station; false: nothing can.
func (y *Player) beginOne(st *stationNow) bool {
	g, s := y.g, st.number
	if !st.always && !st.unattended {
		if _, next, open := y.openNow(st); !open && !y.anyUrgent(st) {
			y.lookAgain(s, next)
			return false
		}
	}
	st.short = -1
	early := Tick(g.floor.BeginEarly)
	head, turn := y.nextInTurn(st), never
	if head >= 0 {
		at := st.turnStart - early
		turn = max(at, st.freeSince) + Tick(g.floor.TurnWait)
		if len(st.extras) > 0 && y.rather(st, head) || st.families > 0 && (y.now < at || y.nodes[head].lacking > 0) && y.setAhead(st, head) {
			return true
		}
	}
	avail := st.avail[:min(len(st.avail), window)]
	if y.now < turn && st.spoiling == 0 {
		// It is nobody's turn but that of the first, and none hurries.
		k := 0
		if len(avail) > 0 && avail[0] == head {
			k = 1
		}
		if k < len(avail) {
			y.lookAgain(s, turn)
		}
		avail = avail[:k]
	}
	for _, n := range avail {
		x := &y.nodes[n]
		if n != head && y.now < turn && Tick(x.spoil) == never {
			y.lookAgain(s, turn)
			continue
		}
		if at := Tick(x.start) - early; y.now < at {
			if x.lacking == 0 {
				at = min(at, Tick(x.spoil)) // all are there: rather early than spoilt
			}
			if y.now < at {
				y.lookAgain(s, at)
				continue
			}
		}
		if (x.lacking == 0 || y.complete(n)) && !(st.short >= 0 && y.lacks(n, st.short)) && y.start(n) {
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
func (y *Player) nextInTurn(st *stationNow) int32 {
	for st.passed {
		st.next++
		y.takeTurn(st)
	}
	return st.turn
}

// takeTurn keeps what is known of the node that is next in a station's queue.
func (y *Player) takeTurn(st *stationNow) {
	st.turn, st.turnStart, st.passed, st.hurry = -1, never, false, false
	if st.next < len(st.queue) {
		st.turn = st.queue[st.next]
		x := &y.nodes[st.turn]
		st.turnStart, st.passed, st.hurry = Tick(x.start), x.state != waiting, Tick(x.spoil) < never
	}
}

// rather begins an extra whose order is due before that of the next in turn.
func (y *Player) rather(st *stationNow, head int32) bool {
	for _, n := range st.extras {
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
	x := &y.nodes[n]
	if x.lacking == 0 {
		return true
	}
	if x.there == 0 {
		return false
	}
	x.why = cause{causeMember, x.station}
	st := &y.stations[x.station]
	by := max(Tick(x.start)-Tick(y.g.floor.BeginEarly), st.freeSince, Tick(x.firstIn)) + Tick(y.g.floor.LoadWait)
	if spoil := Tick(x.spoil); spoil < by && y.spoilt(n, by) >= x.lacking {
		by = spoil
	}
	if y.now >= by {
		return true
	}
	y.lookAgain(x.station, by)
	return false
}

// lacks says that a node needs people with a skill that has just been found
// short.
func (y *Player) lacks(n, skill int32) bool {
	x := &y.nodes[n]
	way := &y.g.ways[y.acts[x.first].mode]
	for k := way.wants[0]; k < way.wants[phases]; k++ {
		if y.g.wants[k].skill == skill {
			x.why = cause{causePeople, skill}
			return true
		}
	}
	return false
}

// trial is a node that would begin now.
type trial struct {
	n        int32
	x        *nodeNow
	st       *stationNow
	first    *actNow // member
	way      *way    // of the first member
	kind     *kindOf
	length   [phases]Tick // as stated, for the members that are ready
	alone    bool         // it has one member
	pausable bool         // its run stops when people go home
	urgent   bool         // it has a member that would be lost by the next shift
}

// consider fills in a trial of a node, all but how long it takes.
func (y *Player) consider(t *trial, n int32) {
	x := &y.nodes[n]
	a := &y.acts[x.first]
	t.n, t.x, t.first, t.st = n, x, a, &y.stations[x.station]
	t.way, t.kind = &y.g.ways[a.mode], &y.g.kinds[a.kind]
	t.alone = a.next < 0
	t.pausable = t.alone && t.kind.pausable
	t.urgent = Tick(x.spoil) < y.now+overnight
}

// expect says how long the parts of a trial take as stated.
func (y *Player) expect(t *trial) {
	w := t.way
	if t.alone {
		t.length = [phases]Tick{phaseLoad: Tick(w.load + w.loadEach), phaseRun: Tick(w.run), phaseUnload: Tick(w.unload + w.unloadEach)}
		return
	}
	var loadEach, unloadEach, load, run, unload int32
	for a := t.x.first; a >= 0; a = y.acts[a].next {
		if y.acts[a].state != ready {
			continue
		}
		w := &y.g.ways[y.acts[a].mode]
		load, run, unload = max(load, w.load), max(run, w.run), max(unload, w.unload)
		loadEach, unloadEach = loadEach+w.loadEach, unloadEach+w.unloadEach
	}
	t.length = [phases]Tick{phaseLoad: Tick(load + loadEach), phaseRun: Tick(run), phaseUnload: Tick(unload + unloadEach)}
}

// placeFor is the free place a node goes to: the planned one, else the one
// with the shortest changeover. -1: none is free.
func (y *Player) placeFor(n int32) int32 {
	x := &y.nodes[n]
	st := y.stations[x.station].station
	if at := int32(x.wanted); at >= 0 && at < st.places && !y.places[st.place+at].busy {
		return st.place + at
	}
	best, least := int32(-1), never
	for k := st.place; k < st.place+st.places; k++ {
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
	return y.g.ways[y.acts[a].mode].family
}

// changeover is how long a place takes, as stated, to be set up for a node.
func (y *Player) changeover(n, place int32) Tick {
	st := y.stations[y.nodes[n].station].station
	if st.families == 0 {
		return 0
	}
	return st.changeover[y.places[place].family*st.families+y.family(n)]
}

// setAhead begins the changeover for the next in turn before it is there.
func (y *Player) setAhead(st *stationNow, n int32) bool {
	g, nd, x, s := y.g, &y.g.nodes[n], &y.nodes[n], st.number
	if st.families == 0 || x.setUp || x.first < 0 {
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
	end, next, open := y.openNow(st)
	if !open || end < y.now+long && next < never && long <= Tick(st.longest) {
		y.lookAgain(s, next)
		return false
	}
	if stop := y.stopped(st, y.now+long); stop > 0 {
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
	st.free--
	y.push(y.now+y.setupTime(n, long), evPlace, place)
	return true
}

func (y *Player) setupTime(n int32, long Tick) Tick {
	a := y.nodes[n].first
	u := y.luck.uniform(y.acts[a].key, forSetup, uint64(y.acts[a].tries))
	return scale(long, y.g.tables[y.g.stations[y.nodes[n].station].spread].draw(u))
}

func scale(t Tick, factor float64) Tick { return Tick(float64(t)*factor + 0.5) }

// placeReady ends a changeover made ahead of time.
func (y *Player) placeReady(place int32) {
	p := &y.places[place]
	s := y.nodes[p.setup].station
	y.release(&y.works[place])
	p.busy, p.setup = false, -1
	y.stations[s].free++
	y.touch(s)
}

// start begins a node when hours, people and tools allow; else it notes what
// for it waits.
func (y *Player) start(n int32) bool {
	t := &y.trial
	y.consider(t, n)
	s := t.x.station
	if skill := y.nobody(t); skill >= 0 {
		return y.forPeople(t, skill)
	}
	place := y.placeFor(n)
	if place < 0 {
		return false
	}
	y.expect(t)
	if t.st.families > 0 {
		t.length[phaseSetup] = y.changeover(n, place)
	}
	if at := y.openFor(t); at > y.now {
		t.x.why = cause{causeHours, s}
		y.lookAgain(s, at)
		return false
	}
	if !t.alone || t.kind.clocks {
		if at := y.pulled(n, &t.length); at > y.now {
			t.x.why = cause{causeNext, s}
			y.lookAgain(s, at)
			return false
		}
	}
	if !t.alone || t.kind.takes > 0 {
		if pool := y.toolFor(n); pool >= 0 {
			t.x.why = cause{causeTool, pool}
			if !slices.Contains(y.onPool[pool], s) {
				y.onPool[pool] = append(y.onPool[pool], s)
			}
			return false
		}
	}
	if skill := y.peopleFor(t); skill >= 0 {
		return y.forPeople(t, skill)
	}
	y.begin(t, place)
	return true
}

// forPeople has a trial wait for people with a skill.
func (y *Player) forPeople(t *trial, skill int32) bool {
	t.x.why = cause{causePeople, skill}
	y.wait(t.x.station, skill)
	t.st.short = skill
	return false
}

// nobody is a skill that a trial's first part needs and of which nobody at all
// is free, found without much ado; -1: perhaps somebody is.
func (y *Player) nobody(t *trial) int32 {
	if t.st.families > 0 {
		return -1
	}
	for k := t.way.wants[t.way.opens]; k < t.way.wants[t.way.opens+1]; k++ {
		if want := &y.g.wants[k]; !y.anyFree(want.skill, want.share) {
			return want.skill
		}
	}
	return -1
}

// openFor is when a trial may begin by its station's hours, as far as these can
// be seen now: now, or a later instant at which to look again.
func (y *Player) openFor(t *trial) Tick {
	st := t.st
	loaded := y.now + t.length[phaseSetup] + t.length[phaseLoad]
	ran := loaded + t.length[phaseRun]
	if len(st.stops) > 0 {
		if stop := y.stopped(st, ran); stop > 0 {
			return stop
		}
	}
	if st.always {
		return y.now
	}
	end, next, open := y.openNow(st)
	until := ran
	switch {
	case t.pausable:
		until = loaded
	case st.unattended && t.way.wants[phaseRun] == t.way.wants[phaseRun+1]:
		if until = loaded; until == y.now {
			return y.now // nobody is wanted
		}
	case !t.way.inside:
		until = ran + t.length[phaseUnload]
	}
	if !open {
		if t.urgent {
			return y.now
		}
		return next
	}
	if until > end && !t.urgent && Seconds(until-y.now) <= st.longest {
		return next
	}
	return y.now
}

// pauses says that a node's run stops when people go home.
func (y *Player) pauses(n int32) bool {
	a := y.nodes[n].first
	x := &y.acts[a]
	return x.next < 0 && y.g.kinds[x.kind].pausable
}

// toolFor is a pool in which a node's tools are not all there; -1: they are.
func (y *Player) toolFor(n int32) int32 {
	short, a := int32(-1), y.nodes[n].first
	if y.acts[a].next < 0 && y.g.kinds[y.acts[a].kind].takes == 0 {
		return -1
	}
	last := a
	for ; a >= 0 && short < 0; a = y.acts[a].next {
		last = a
		for _, h := range y.wants(a) {
			pool := y.g.p.Holds[h].Pool
			if y.pools[pool]--; y.pools[pool] < 0 && short < 0 {
				short = pool
			}
		}
	}
	for a = y.nodes[n].first; ; a = y.acts[a].next {
		for _, h := range y.wants(a) {
			y.pools[y.g.p.Holds[h].Pool]++
		}
		if a == last {
			return short
		}
	}
}

// wants are the holds that an activity which is there begins.
func (y *Player) wants(a int32) []int32 {
	x := &y.acts[a]
	if x.state != ready {
		return nil
	}
	return y.g.holds[x.holds : x.holds+y.g.kinds[x.kind].takes]
}

// peopleFor is a skill that is short for beginning a trial: people for its
// first part must be free now, those for what follows at once must be on shift
// then. -1: none is short.
func (y *Player) peopleFor(t *trial) int32 {
	at, first := y.now, true
	for ph := range phases {
		to := at + t.length[ph]
		if to == at || ph == phaseUnload && t.way.inside {
			continue
		}
		look := to
		if t.urgent || ph == phaseRun && t.pausable {
			look = at + 1
		}
		if first {
			if skill := y.short(t, ph, look); skill >= 0 {
				return skill
			}
			first = false
		} else if t.urgent {
			break
		} else if skill := y.onShift(t.way, ph, at, look); skill >= 0 {
			return skill
		}
		if at = to; ph == phaseRun && t.pausable {
			break // nobody knows when it will end
		}
	}
	return -1
}

// onShift is a skill of which nobody is on shift for a part from an instant to
// another; -1: none.
func (y *Player) onShift(way *way, ph int, at, to Tick) int32 {
	for k := way.wants[ph]; k < way.wants[ph+1]; k++ {
		if want := &y.g.wants[k]; !y.anyThere(want.skill, want.share, at, to) {
			return want.skill
		}
	}
	return -1
}
