// SPDX-License-Identifier: Apache-2.0

package risk

// window is how many works that are there people look at when the first of them
// cannot begin.
const window = 12

// beginOne begins one work or changeover at a station; false: nothing can.
func (y *Player) beginOne(st *stationNow) bool {
	if !st.unattended && !st.openAt(y.now) {
		if _, next, open := y.openNow(st); !open && !y.anyUrgent(st) {
			y.lookAgain(st.number, next)
			return false
		}
	}
	st.short = -1
	if head := st.turn; head >= 0 {
		if len(st.extras) > 0 && y.rather(st, head) {
			return true
		}
		if st.families > 0 && (y.now < st.turnStart-y.early || y.nodes[head].lacking > 0) && y.setAhead(st, head) {
			return true
		}
	}
	if len(st.avail) > 0 && y.beginAvail(st) {
		return true
	}
	for _, n := range st.extras {
		if y.start(st, n, &y.nodes[n]) {
			return true
		}
	}
	return false
}

// beginAvail begins one of the works that are there. Until some time after it
// might begin it is the turn of the next alone, unless another would spoil.
func (y *Player) beginAvail(st *stationNow) bool {
	avail, turn := st.avail, y.turnOver(st)
	if len(avail) > window {
		avail = avail[:window]
	}
	if y.now < turn && st.spoiling == 0 {
		// It is nobody's turn but that of the first, and none hurries.
		k := 0
		if avail[0] == st.turn {
			k = 1
		}
		if k < len(avail) {
			y.lookAgain(st.number, turn)
		}
		avail = avail[:k]
	}
	for _, n := range avail {
		x := &y.nodes[n]
		if y.tooSoon(st, n, x, turn) {
			continue
		}
		if x.lacking > 0 && !y.complete(st, n) {
			continue
		}
		if st.short >= 0 && y.lacks(x, st.short) {
			y.delay(x, causeOf(causePeople, st.short))
			continue
		}
		if y.start(st, n, x) {
			return true
		}
		if st.short >= 0 && st.common>>uint32(st.short)&1 != 0 {
			y.lacked(st, st.short)
			return false
		}
	}
	return false
}

// turnOver is when others may begin before the next in turn.
func (y *Player) turnOver(st *stationNow) Tick {
	if st.turn < 0 {
		return never
	}
	return max(st.turnStart-y.early, st.freeSince) + y.turnWait
}

// tooSoon says that a work which is there must not begin yet: it is not its
// turn, or before its time. All there, it rather begins early than spoils.
func (y *Player) tooSoon(st *stationNow, n int32, x *nodeNow, turn Tick) bool {
	at := Tick(x.start) - y.early
	if y.now >= at && (y.now >= turn || n == st.turn) {
		return false
	}
	if y.now < turn && n != st.turn && Tick(x.spoil) == never {
		y.lookAgain(st.number, turn)
		return true
	}
	if x.lacking == 0 {
		at = min(at, Tick(x.spoil))
	}
	if y.now < at {
		y.lookAgain(st.number, at)
		return true
	}
	return false
}

// takeTurn finds the first node of a station's queue that is not begun, and
// keeps what is known of it.
func (y *Player) takeTurn(st *stationNow) {
	st.turn, st.turnStart = -1, never
	y.rank[st.number] = never
	for ; st.next < len(st.queue); st.next++ {
		n := st.queue[st.next]
		if x := &y.nodes[n]; x.state == waiting {
			st.turn, st.turnStart = n, Tick(x.start)
			y.hurry(st, Tick(x.spoil) < never)
			return
		}
	}
}

// hurry puts a station before or behind others as what is next in turn there
// would spoil or not.
func (y *Player) hurry(st *stationNow, spoils bool) {
	y.rank[st.number] = st.turnStart
	if spoils {
		y.rank[st.number] -= never // what would spoil goes first
	}
}

// rather begins an extra whose order is due before that of the next in turn.
func (y *Player) rather(st *stationNow, head int32) bool {
	for _, n := range st.extras {
		if y.due(n) < y.due(head) && y.start(st, n, &y.nodes[n]) {
			return true
		}
	}
	return false
}

func (y *Player) due(n int32) Tick {
	if a := y.nodes[n].first; a >= 0 {
		return y.g.due[a]
	}
	return 0
}

// complete says that a node's members are there, or that its load is closed
// without the late ones: it has waited long enough for them, or one that is
// there would spoil.
func (y *Player) complete(st *stationNow, n int32) bool {
	x := &y.nodes[n]
	if x.there == 0 {
		return false
	}
	y.delay(x, causeOf(causeMember, x.station))
	by := max(Tick(x.start)-y.early, st.freeSince, Tick(x.firstIn)) + Tick(y.g.floor.LoadWait)
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
func (y *Player) lacks(x *nodeNow, skill int32) bool {
	way := &y.g.ways[y.acts[x.first].mode]
	for k := way.wants[0]; k < way.wants[phases]; k++ {
		if y.g.wants[k].skill == skill {
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
	way      *way // of the first member
	kind     *kindOf
	length   [phases]int32 // as stated, for the members that are ready
	alone    bool          // it has one member
	pausable bool          // its run stops when people go home
	urgent   bool          // it has a member that would be lost by the next shift
}

// consider fills in a trial of a node, all but the changeover.
func (y *Player) consider(t *trial, st *stationNow, n int32) {
	x := &y.nodes[n]
	a := &y.acts[x.first]
	t.n, t.x, t.st = n, x, st
	t.way, t.kind = &y.g.ways[a.mode], &y.g.kinds[a.kind]
	t.alone = a.next < 0
	t.pausable = t.alone && t.kind.pausable
	t.urgent = Tick(x.spoil) < y.now+overnight
	if t.alone {
		t.length = t.way.alone
	} else {
		t.length = y.together(x.first)
	}
}

// together is how long the parts of a load take as stated.
func (y *Player) together(first int32) [phases]int32 {
	var loadEach, unloadEach, load, run, unload int32
	for a := first; a >= 0; a = y.acts[a].next {
		if y.acts[a].state != ready {
			continue
		}
		w := &y.g.ways[y.acts[a].mode]
		load, run, unload = max(load, w.load), max(run, w.run), max(unload, w.unload)
		loadEach, unloadEach = loadEach+w.loadEach, unloadEach+w.unloadEach
	}
	return [phases]int32{phaseLoad: load + loadEach, phaseRun: run, phaseUnload: unload + unloadEach}
}

// placeFor is the free place a node goes to: the planned one, else the one
// with the shortest changeover. -1: none is free.
func (y *Player) placeFor(st *stationNow, n int32) int32 {
	if st.places == 1 {
		return st.place // it has one free
	}
	x := &y.nodes[n]
	if at := int32(x.wanted); at >= 0 && at < st.places && !y.places[st.place+at].busy {
		return st.place + at
	}
	best, least := int32(-1), int32(never)
	for k := st.place; k < st.place+st.places; k++ {
		if !y.places[k].busy {
			if t := y.changeover(st, n, k); t < least {
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
func (y *Player) changeover(st *stationNow, n, place int32) int32 {
	if st.families == 0 {
		return 0
	}
	return st.changeover[y.places[place].family*st.families+y.family(n)]
}

// setAhead begins the changeover for the next in turn before it is there.
func (y *Player) setAhead(st *stationNow, n int32) bool {
	x, s := &y.nodes[n], st.number
	if x.setUp || x.first < 0 {
		return false
	}
	place := y.placeFor(st, n)
	if place < 0 {
		return false
	}
	stated := y.changeover(st, n, place)
	if stated == 0 {
		return false
	}
	if at := y.g.nodes[n].setup - y.early; y.now < at {
		y.lookAgain(s, at)
		return false
	}
	long := Tick(stated)
	end, next, open := y.openNow(st)
	if !open || end < y.now+long && next < never && long <= Tick(st.longest) {
		y.lookAgain(s, next)
		return false
	}
	if stop := y.stopped(st, y.now+long); stop > 0 {
		y.lookAgain(s, stop)
		return false
	}
	w := &y.works[place]
	w.node = n
	if skill := y.acquireSetup(w, y.now+long); skill >= 0 {
		y.wait(s, skill)
		return false
	}
	x.setUp = true
	p := &y.places[place]
	p.busy, p.setup, p.family = true, n, y.family(n)
	y.seize(st)
	y.push(y.now+Tick(y.setupTime(n, stated)), evPlace, place, place)
	return true
}

func (y *Player) setupTime(n, stated int32) int32 {
	a := y.nodes[n].first
	u := y.luck.uniform(y.acts[a].key, forSetup, uint64(y.acts[a].tries))
	return scale(stated, y.g.tables[y.g.stations[y.nodes[n].station].spread].draw(u))
}

func scale(t int32, factor float64) int32 { return short32(Tick(float64(t)*factor + 0.5)) }

// placeReady ends a changeover made ahead of time.
func (y *Player) placeReady(place int32) {
	p := &y.places[place]
	st := &y.stations[y.nodes[p.setup].station]
	y.release(&y.works[place])
	p.busy, p.setup = false, -1
	y.vacate(st)
	y.touch(st.number)
}

// start begins a node when hours, people and tools allow; else it notes what
// for it waits.
func (y *Player) start(st *stationNow, n int32, x *nodeNow) bool {
	a := &y.acts[x.first]
	if w := &y.g.ways[a.mode]; w.brief && a.next < 0 && x.lacking == 0 {
		return y.startBrief(st, n, x, a, w)
	}
	return y.startAny(st, n)
}

// startAny does that for any work.
func (y *Player) startAny(st *stationNow, n int32) bool {
	x := &y.nodes[n]
	if st.families == 0 {
		if skill := y.nobody(&y.g.ways[y.acts[x.first].mode]); skill >= 0 {
			return y.forPeople(st, x, skill)
		}
	}
	place := y.placeFor(st, n)
	if place < 0 {
		return false
	}
	t := &y.trial
	y.consider(t, st, n)
	if st.families > 0 {
		t.length[phaseSetup] = y.changeover(st, n, place)
	}
	if at := y.openFor(t); at > y.now {
		return y.forHours(st, x, at)
	}
	if !t.alone || t.kind.clocks {
		if at := y.pulled(n, &t.length); at > y.now {
			return y.forNext(st, x, at)
		}
	}
	if !t.alone || t.kind.takes > 0 {
		if pool := y.toolFor(n); pool >= 0 {
			return y.forTool(st, x, pool)
		}
	}
	if skill := y.peopleFor(t); skill >= 0 {
		return y.forPeople(st, x, skill)
	}
	y.begin(t, place)
	return true
}

// forHours has a node wait for its station's hours.
func (y *Player) forHours(st *stationNow, x *nodeNow, at Tick) bool {
	y.delay(x, causeOf(causeHours, st.number))
	y.lookAgain(st.number, at)
	return false
}

// forNext has a node wait until what must follow it can be expected to.
func (y *Player) forNext(st *stationNow, x *nodeNow, at Tick) bool {
	y.delay(x, causeOf(causeNext, st.number))
	y.lookAgain(st.number, at)
	return false
}

// forTool has a node wait for a tool.
func (y *Player) forTool(st *stationNow, x *nodeNow, pool int32) bool {
	y.delay(x, causeOf(causeTool, pool))
	y.onPool[pool].add(st.number)
	return false
}

// forPeople has a node wait for people with a skill.
func (y *Player) forPeople(st *stationNow, x *nodeNow, skill int32) bool {
	y.delay(x, causeOf(causePeople, skill))
	y.wait(st.number, skill)
	st.short = skill
	return false
}

// nobody is a skill that the first part of a work needs and of which nobody at
// all is free, found without much ado; -1: perhaps somebody is.
func (y *Player) nobody(w *way) int32 {
	for k := w.wants[w.opens]; k < w.wants[w.opens+1]; k++ {
		if want := &y.g.wants[k]; !y.anyFree(want.skill) {
			return want.skill
		}
	}
	return -1
}

// openFor is when a trial may begin by its station's hours, as far as these can
// be seen now: now, or a later instant at which to look again.
func (y *Player) openFor(t *trial) Tick {
	st := t.st
	loaded := y.now + Tick(t.length[phaseSetup]+t.length[phaseLoad])
	ran := loaded + Tick(t.length[phaseRun])
	if len(st.stops) > 0 {
		if stop := y.stopped(st, ran); stop > 0 {
			return stop
		}
	}
	if st.always {
		return y.now
	}
	until := ran
	switch {
	case t.pausable:
		until = loaded
	case st.unattended && t.way.wants[phaseRun] == t.way.wants[phaseRun+1]:
		if until = loaded; until == y.now {
			return y.now // nobody is wanted
		}
	case !t.way.inside:
		until = ran + Tick(t.length[phaseUnload])
	}
	if st.openAt(y.now) && until <= st.opens.end {
		return y.now
	}
	end, next, open := y.openNow(st)
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
func (y *Player) pauses(n *nodeNow) bool {
	x := &y.acts[n.first]
	return x.next < 0 && y.g.kinds[x.kind].pausable
}

// toolFor is a pool in which a node's tools are not all there; -1: they are.
func (y *Player) toolFor(n int32) int32 {
	short, a := int32(-1), y.nodes[n].first
	if x := &y.acts[a]; x.next < 0 && y.g.kinds[x.kind].takes == 1 {
		if pool := y.g.p.Holds[y.g.holds[x.holds]].Pool; y.pools[pool] <= 0 {
			return pool
		}
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
	for ph := 0; ph < phases && (first || ph <= int(t.way.closes)); ph++ {
		to := at + Tick(t.length[ph])
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
