// SPDX-License-Identifier: Apache-2.0

package risk

import "towpath/scheduler"

// capacity is how much of a crew is there from a step of its calendar on, the
// absent taken off: each head is away for whole days.
func (y *Player) capacity(c int32, step int) int32 {
	x := &y.g.crews[c]
	full := int32(x.steps[step].Cap)
	if x.absence > 0 && full > 0 {
		return full - y.absent(x, step, full)
	}
	return full
}

// absent is how much of a crew is away during a step of its calendar.
func (y *Player) absent(x *crew, step int, full int32) int32 {
	away := int32(0)
	for head := uint64(0); head < uint64(full/1000); head++ {
		if y.luck.uniform(x.key, forAbsence, uint64(x.day[step])<<8|head&255) < x.absence {
			away += 1000
		}
	}
	return away
}

// stand has so many heads of a crew be there until an instant.
func (y *Player) stand(c, there, until int32) {
	x := &y.crews[c]
	y.loosen(c, there-x.there)
	x.there, x.until = there, until
}

// loosen has so much more of a crew be free.
func (y *Player) loosen(c, share int32) {
	x := &y.crews[c]
	x.free += share
	bit := uint64(1) << uint32(c) // none for the 65th and later
	if y.loose |= bit; x.free <= 0 {
		y.loose &^= bit
	}
}

// turnCrews moves the calendars on of crews whose heads change now, and notes
// whose change is waited for.
func (y *Player) turnCrews() {
	turns := y.g.turns[y.turn:]
	for len(turns) > 0 && turns[0].at <= y.now {
		t := &turns[0]
		x, there := &y.crews[t.crew], t.full
		x.step++
		if t.varies {
			there = y.capacity(t.crew, int(x.step))
		}
		y.stand(t.crew, there, t.until)
		if y.watched.has(t.crew) {
			y.turned.add(t.crew)
		}
		turns = turns[1:]
	}
	y.turnFrom(len(y.g.turns) - len(turns))
}

// turnFrom has a change of heads be the next.
func (y *Player) turnFrom(k int) {
	y.turn, y.turnAt = k, never
	if k < len(y.g.turns) {
		y.turnAt = y.g.turns[k].at
	}
}

// expecting says that heads will change of a crew that somebody waits for.
func (y *Player) expecting() bool {
	for c := range y.crews {
		if y.crews[c].until < int32(never) && y.watched.has(int32(c)) {
			return true
		}
	}
	return false
}

// wakeTurned lets those look again who wait for a change of heads that is now.
func (y *Player) wakeTurned() {
	for c := y.turned.least(); c >= 0; c = y.turned.least() {
		y.turned.drop(c)
		y.watched.drop(c)
		y.wake(c)
	}
}

// there says that a crew has so many heads from an instant to another, as far
// as the calendar goes; how many are busy is not asked.
func (y *Player) there(c, share int32, from, to Tick) bool {
	x := &y.crews[c]
	if from < Tick(x.until) && (x.there < share || to <= Tick(x.until)) {
		return x.there >= share
	}
	crew := &y.g.crews[c]
	for i := range crew.duty {
		if d := &crew.duty[i]; d.share == share {
			return y.onDuty(d, from, to)
		}
	}
	steps := crew.steps
	k := int(x.step)
	for k+1 < len(steps) && steps[k+1].At <= from {
		k++
	}
	for ; k < len(steps); k++ {
		if y.capacity(c, k) < share {
			return false
		}
		if k+1 < len(steps) && steps[k+1].At >= to {
			break
		}
	}
	return true
}

// onDuty says that an instant and what follows until another lie within one of
// a crew's spans.
func (y *Player) onDuty(d *duty, from, to Tick) bool {
	k := y.dutyAt(d, from)
	return k < len(d.on) && d.on[k].start <= from && to <= d.on[k].end
}

// dutyAt is the first of a crew's spans that ends after an instant. What is
// asked for mostly moves on.
func (y *Player) dutyAt(d *duty, from Tick) int {
	k := int(y.duty[d.number])
	for k < len(d.on) && d.on[k].end <= from {
		k++
	}
	for k > 0 && d.on[k-1].end > from {
		k--
	}
	y.duty[d.number] = int32(k)
	return k
}

// openAt says that a station is in the opening that is known to end next.
func (st *stationNow) openAt(now Tick) bool { return st.opens.start <= now && now < st.opens.end }

// openNow is the opening a station is in, and when the next begins. false: it
// is closed, and opens at next.
func (y *Player) openNow(st *stationNow) (end, next Tick, open bool) {
	if st.always {
		return never, never, true
	}
	if y.now >= st.opens.end {
		y.turnDay(st)
	}
	if y.now < st.opens.start {
		return 0, st.opens.start, false
	}
	return st.opens.end, st.reopens, true
}

// turnDay moves a station's calendar on to the first opening that ends after
// now.
func (y *Player) turnDay(st *stationNow) {
	for st.opening < len(st.open) && st.open[st.opening].end <= y.now {
		st.opening++
	}
	st.opens, st.reopens = span{never, never}, never
	if st.opening < len(st.open) {
		st.opens = st.open[st.opening]
	}
	if st.opening+1 < len(st.open) {
		st.reopens = st.open[st.opening+1].start
	}
}

// stopped is the end of a planned stop that work from now to an instant would
// run into; 0: none.
func (y *Player) stopped(st *stationNow, until Tick) Tick {
	stops := st.stops
	for st.stop < len(stops) && stops[st.stop].end <= y.now {
		st.stop++
	}
	for k := st.stop; k < len(stops) && stops[k].start < max(until, y.now+1); k++ {
		if stops[k].end > y.now {
			return stops[k].end
		}
	}
	return 0
}

// pausing is the end of work that stops when its station or its crew goes home
// and goes on when both are back. Crew -1: nobody.
func (y *Player) pausing(st *stationNow, c, share int32, work Tick) Tick {
	free := st.always || st.unattended && c < 0
	if free && c < 0 {
		return y.now + work
	}
	var steps []scheduler.CapStep
	k := 0
	if c >= 0 {
		steps = y.g.crews[c].steps
		k = int(y.crews[c].step)
	}
	o := 0
	if !free {
		y.openNow(st)
		o = st.opening
	}
	at := y.now
	for work > 0 {
		to := never
		if c >= 0 {
			for k+1 < len(steps) && steps[k+1].At <= at {
				k++
			}
			if k+1 < len(steps) {
				to = steps[k+1].At
			}
			if y.capacity(c, k) < share {
				if to == never {
					return never
				}
				at = to
				continue
			}
		}
		if !free {
			for o < len(st.open) && st.open[o].end <= at {
				o++
			}
			if o == len(st.open) {
				return never
			}
			if st.open[o].start > at {
				at = st.open[o].start
				continue
			}
			to = min(to, st.open[o].end)
		}
		step := min(work, to-at)
		at, work = at+step, work-step
	}
	return at
}

// anyFree says that of the crews with a skill somebody is there and not busy,
// or that there are too many crews to know without much ado.
func (y *Player) anyFree(skill int32) bool {
	able := y.g.ableBits[skill]
	return able == 0 || y.loose&able != 0
}

// anyThere says that a crew with a skill has so many heads from an instant to
// another.
func (y *Player) anyThere(skill, share int32, from, to Tick) bool {
	for _, c := range y.g.able[skill] {
		if y.there(c, share, from, to) {
			return true
		}
	}
	return false
}

// acquire finds people for a part of the work at a place that begins now, and
// has them held by it; nobody is taken when not all needs can be met. It
// returns the skill that is short; -1: none.
func (y *Player) acquire(w *workNow, ph uint8) int32 {
	x := &y.nodes[w.node]
	if ph == phaseSetup {
		return y.acquireSetup(w, y.now+1)
	}
	way := &y.g.ways[y.acts[x.first].mode]
	for k, to := way.wants[ph], way.wants[ph+1]; k < to; k++ {
		want := &y.g.wants[k]
		c := y.pickNow(want.skill, want.share, y.named(x, want))
		if c < 0 {
			y.undo(w)
			return want.skill
		}
		y.hold(w, c, want.share)
	}
	return -1
}

// acquireSetup finds people for the changeover at a place, who are there until
// look.
func (y *Player) acquireSetup(w *workNow, look Tick) int32 {
	x := &y.nodes[w.node]
	sp := &y.g.p.Stations[x.station]
	if sp.SetupSkill < 0 {
		return -1
	}
	c := y.pick(sp.SetupSkill, int32(sp.SetupShare), y.g.nodes[w.node].setupCrew, look)
	if c < 0 {
		return sp.SetupSkill
	}
	y.hold(w, c, int32(sp.SetupShare))
	return -1
}

// named is the crew the plan names for what a node wants.
func (y *Player) named(x *nodeNow, want *want) int32 {
	if x.prefer < 0 {
		return -1
	}
	return y.g.prefer[x.prefer+want.named]
}

// short is a skill of which too few people are free for a part of a trial, those
// kept for other work taken off; -1: none.
func (y *Player) short(t *trial, ph int, look Tick) int32 {
	if ph == phaseSetup {
		w := &y.works[len(y.works)-1]
		w.node = t.n
		skill := y.acquireSetup(w, look)
		y.undo(w)
		return skill
	}
	from, to := t.way.wants[ph], t.way.wants[ph+1]
	if to-from == 1 {
		want := &y.g.wants[from]
		if y.pick(want.skill, want.share+y.kept(t.n, want.skill), y.named(t.x, want), look) < 0 {
			return want.skill
		}
		return -1
	}
	w := &y.works[len(y.works)-1]
	for k := from; k < to; k++ {
		want := &y.g.wants[k]
		c := y.pick(want.skill, want.share+y.kept(t.n, want.skill), y.named(t.x, want), look)
		if c < 0 {
			y.undo(w)
			return want.skill
		}
		y.hold(w, c, want.share)
	}
	y.undo(w)
	return -1
}

func (y *Player) hold(w *workNow, c, share int32) {
	y.loosen(c, -share)
	w.held[w.heldCount] = held{c, share}
	w.heldCount++
}

// undo gives back what was held, as if it had never been.
func (y *Player) undo(w *workNow) {
	for w.heldCount > 0 {
		w.heldCount--
		y.loosen(w.held[w.heldCount].crew, w.held[w.heldCount].share)
	}
}

// release lets the people at a place go.
func (y *Player) release(w *workNow) {
	for w.heldCount > 0 {
		w.heldCount--
		h := w.held[w.heldCount]
		y.loosen(h.crew, h.share)
		y.wake(h.crew)
	}
}

// pick is the crew for a need: the one the plan names, else the first with the
// skill that is free now and there until look.
func (y *Player) pick(skill, share, named int32, look Tick) int32 {
	if named >= 0 && y.freeUntil(named, share, look) {
		return named
	}
	for _, c := range y.g.able[skill] {
		if y.freeUntil(c, share, look) {
			return c
		}
	}
	return -1
}

// pickNow is the same where nobody asks for how long they are there.
func (y *Player) pickNow(skill, share, named int32) int32 {
	if named >= 0 && y.crews[named].free >= share {
		return named
	}
	for _, c := range y.g.able[skill] {
		if y.crews[c].free >= share {
			return c
		}
	}
	return -1
}

// freeUntil says that so much of a crew is not busy now, and there until look.
func (y *Player) freeUntil(c, share int32, look Tick) bool {
	x := &y.crews[c]
	return x.free >= share && (look <= Tick(x.until) || y.there(c, share, y.now, look))
}

// wait notes that a station waits for people with a skill.
func (y *Player) wait(s, skill int32) {
	for _, c := range y.g.able[skill] {
		y.onCrew[c].add(s)
		y.watched.add(c)
	}
}
