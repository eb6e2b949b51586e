// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"slices"

	"towpath/scheduler"
)

// capacity is how much of a crew is there from a step of its calendar on, the
// absent taken off: each head is away for whole days.
func (y *Player) capacity(c int32, step int) int64 {
	steps := y.g.crews[c].steps
	full := steps[step].Cap
	x := &y.g.crews[c]
	if x.absence <= 0 || full <= 0 {
		return full
	}
	for head := uint64(0); head < uint64(full/1000); head++ {
		if y.luck.uniform(x.key, forAbsence, uint64(x.day[step])<<8|head&255) < x.absence {
			full -= 1000
		}
	}
	return full
}

// stepOn moves a crew's calendar on to now.
func (y *Player) stepOn(c int32) {
	x, steps := &y.crews[c], y.g.crews[c].steps
	x.step = max(x.step, 0)
	for x.step+1 < len(steps) && steps[x.step+1].At <= y.now {
		x.step++
	}
	x.there, x.until = y.capacity(c, x.step), never
	if x.step+1 < len(steps) {
		x.until = steps[x.step+1].At
	}
}

// crew is a crew as it is now.
func (y *Player) crew(c int32) *crewNow {
	x := &y.crews[c]
	if y.now >= x.until {
		y.stepOn(c)
	}
	return x
}

// watch sees to it that a crew's next change of heads is noticed.
func (y *Player) watch(c int32) { y.shifts.set(c, y.crew(c).until) }

// there says that a crew has so many heads from an instant to another, as far
// as the calendar goes; how many are busy is not asked.
func (y *Player) there(c int32, share int64, from, to Tick) bool {
	x := y.crew(c)
	if from < x.until && (x.there < share || to <= x.until) {
		return x.there >= share
	}
	steps := y.g.crews[c].steps
	k := x.step
	for k+1 < len(steps) && steps[k+1].At <= from {
		k++
	}
	for {
		if y.capacity(c, k) < share {
			return false
		}
		k++
		if k >= len(steps) || steps[k].At >= to {
			return true
		}
	}
}

// freeNow says that so much of a crew is there and not busy.
func (y *Player) freeNow(c int32, share int64) bool {
	x := y.crew(c)
	return x.there-x.used >= share
}

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
func (y *Player) pausing(s, c int32, share int64, work Tick) Tick {
	st := &y.stations[s]
	free := st.always || st.unattended && c < 0
	if free && c < 0 {
		return y.now + work
	}
	var steps []scheduler.CapStep
	k := 0
	if c >= 0 {
		steps = y.g.crews[c].steps
		k = y.crew(c).step
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

// anyFree says that of a crew with a skill so much is there and not busy.
func (y *Player) anyFree(skill int32, share int64) bool {
	for _, c := range y.g.able[skill] {
		if y.freeNow(c, share) {
			return true
		}
	}
	return false
}

// anyThere says that a crew with a skill has so many heads from an instant to
// another.
func (y *Player) anyThere(skill int32, share int64, from, to Tick) bool {
	for _, c := range y.g.able[skill] {
		if y.there(c, share, from, to) {
			return true
		}
	}
	return false
}

// acquire finds people for a part of a node that begins now, and has them held
// by the work at a place; nobody is taken when not all needs can be met. It
// returns the skill that is short; -1: none.
func (y *Player) acquire(n int32, ph int, look Tick, w *workNow) int32 {
	g, x := y.g, &y.nodes[n]
	if ph == phaseSetup {
		sp := &g.p.Stations[x.station]
		if sp.SetupSkill < 0 {
			return -1
		}
		c := y.pick(sp.SetupSkill, sp.SetupShare, g.nodes[n].setupCrew, look)
		if c < 0 {
			return sp.SetupSkill
		}
		y.hold(w, c, sp.SetupShare)
		return -1
	}
	way := &g.ways[y.acts[x.first].mode]
	for k := way.wants[ph]; k < way.wants[ph+1]; k++ {
		want := &g.wants[k]
		c := y.pick(want.skill, want.share, y.named(x, want), look)
		if c < 0 {
			y.undo(w)
			return want.skill
		}
		y.hold(w, c, want.share)
	}
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
	w := &y.works[len(y.works)-1]
	if ph == phaseSetup {
		skill := y.acquire(t.n, ph, look, w)
		y.undo(w)
		return skill
	}
	for k := t.way.wants[ph]; k < t.way.wants[ph+1]; k++ {
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

func (y *Player) hold(w *workNow, c int32, share int64) {
	y.crews[c].used += share
	w.held[w.heldCount] = held{c, share}
	w.heldCount++
}

// undo gives back what was held, as if it had never been.
func (y *Player) undo(w *workNow) {
	for w.heldCount > 0 {
		w.heldCount--
		y.crews[w.held[w.heldCount].crew].used -= w.held[w.heldCount].share
	}
}

// release lets the people at a place go.
func (y *Player) release(w *workNow) {
	for w.heldCount > 0 {
		w.heldCount--
		h := w.held[w.heldCount]
		y.crews[h.crew].used -= h.share
		y.wake(h.crew)
	}
}

// pick is the crew for a need: the one the plan names, else the first with the
// skill that is free now and there until look.
func (y *Player) pick(skill int32, share int64, named int32, look Tick) int32 {
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

// freeUntil says that so much of a crew is not busy now, and there until look.
func (y *Player) freeUntil(c int32, share int64, look Tick) bool {
	x := y.crew(c)
	return x.there-x.used >= share && (look <= x.until || y.there(c, share, y.now, look))
}

// wait notes that a station waits for people with a skill.
func (y *Player) wait(s, skill int32) {
	for _, c := range y.g.able[skill] {
		if !slices.Contains(y.onCrew[c], s) {
			y.onCrew[c] = append(y.onCrew[c], s)
		}
		y.watch(c)
	}
}
