// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"slices"

	"towpath/scheduler"
)

// capacity is how much of a crew is there from a step of its calendar on, the
// absent taken off: each head is away for whole days.
func (y *Player) capacity(c int32, step int) int64 {
	steps := y.g.p.Crews[c].Steps
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

// stepNow moves a crew's calendar on to now.
func (y *Player) stepNow(c int32) int {
	x, steps := &y.crews[c], y.g.p.Crews[c].Steps
	for x.step+1 < len(steps) && steps[x.step+1].At <= y.now {
		x.step++
	}
	return x.step
}

// watch sees to it that a crew's next change of heads is noticed.
func (y *Player) watch(c int32) {
	x, steps := &y.crews[c], y.g.p.Crews[c].Steps
	if k := y.stepNow(c); !x.due && k+1 < len(steps) {
		x.due = true
		y.events.push(event{steps[k+1].At, evCrew, c})
	}
}

// there says that a crew has so many heads from an instant to another, as far
// as the calendar goes; how many are busy is not asked.
func (y *Player) there(c int32, share int64, from, to Tick) bool {
	steps := y.g.p.Crews[c].Steps
	k := y.stepNow(c)
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
	return y.capacity(c, y.stepNow(c))-y.crews[c].used >= share
}

// openNow is the opening a station is in, and when the next begins. false: it
// is closed, and opens at next.
func (y *Player) openNow(s int32) (end, next Tick, open bool) {
	sp := &y.g.p.Stations[s]
	if sp.Always {
		return never, never, true
	}
	x := &y.stations[s]
	for x.opening < len(sp.Open) && sp.Open[x.opening].End <= y.now {
		x.opening++
	}
	if x.opening >= len(sp.Open) {
		return 0, never, false
	}
	next = never
	w := sp.Open[x.opening]
	if w.Start > y.now {
		return 0, w.Start, false
	}
	if x.opening+1 < len(sp.Open) {
		next = sp.Open[x.opening+1].Start
	}
	return w.End, next, true
}

// stopped is the end of a planned stop that work from now to an instant would
// run into; 0: none.
func (y *Player) stopped(s int32, until Tick) Tick {
	stops := y.g.p.Stations[s].Stops
	x := &y.stations[s]
	for x.stop < len(stops) && stops[x.stop].End <= y.now {
		x.stop++
	}
	for k := x.stop; k < len(stops) && stops[k].Start < max(until, y.now+1); k++ {
		if stops[k].End > y.now {
			return stops[k].End
		}
	}
	return 0
}

// pausing is the end of work that stops when its station or its crew goes home
// and goes on when both are back. Crew -1: nobody.
func (y *Player) pausing(s, c int32, share int64, work Tick) Tick {
	sp := &y.g.p.Stations[s]
	free := sp.Always || sp.Unattended && c < 0
	if free && c < 0 {
		return y.now + work
	}
	var steps []scheduler.CapStep
	k := 0
	if c >= 0 {
		steps = y.g.p.Crews[c].Steps
		k = y.stepNow(c)
	}
	o := 0
	if !free {
		y.openNow(s)
		o = y.stations[s].opening
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
			for o < len(sp.Open) && sp.Open[o].End <= at {
				o++
			}
			if o == len(sp.Open) {
				return never
			}
			if sp.Open[o].Start > at {
				at = sp.Open[o].Start
				continue
			}
			to = min(to, sp.Open[o].End)
		}
		step := min(work, to-at)
		at, work = at+step, work-step
	}
	return at
}

// acquire finds people for a part of a node that begins now, and has them held
// by the work at a place; nobody is taken when not all needs can be met. It
// returns the skill that is short; -1: none.
func (y *Player) acquire(n int32, ph int, look Tick, w *workNow) int32 {
	g, nd := y.g, &y.g.nodes[n]
	if ph == phaseSetup {
		sp := &g.p.Stations[nd.station]
		if sp.SetupSkill < 0 {
			return -1
		}
		c := y.pick(sp.SetupSkill, sp.SetupShare, nd.setupCrew, look)
		if c < 0 {
			return sp.SetupSkill
		}
		y.hold(w, c, sp.SetupShare)
		return -1
	}
	mode := &g.modes[y.acts[y.nodes[n].first].mode]
	for k := mode.NeedAt; k < mode.NeedTo; k++ {
		need := &g.needs[k]
		if need.Part != partOf[ph] {
			continue
		}
		c := y.pick(need.Skill, need.Share, y.named(nd, mode, k), look)
		if c < 0 {
			y.undo(w)
			return need.Skill
		}
		y.hold(w, c, need.Share)
	}
	return -1
}

// named is the crew the plan names for a need.
func (y *Player) named(nd *node, mode *scheduler.Mode, need int32) int32 {
	if nd.prefer < 0 {
		return -1
	}
	return y.g.prefer[nd.prefer+need-mode.NeedAt]
}

// short is a skill of which too few people are free for a part of a node, those
// kept for other work taken off; -1: none.
func (y *Player) short(n int32, ph int, look Tick) int32 {
	g, nd := y.g, &y.g.nodes[n]
	if ph == phaseSetup {
		w := &y.works[len(y.works)-1]
		skill := y.acquire(n, ph, look, w)
		y.undo(w)
		return skill
	}
	mode := &g.modes[y.acts[y.nodes[n].first].mode]
	w := &y.works[len(y.works)-1]
	for k := mode.NeedAt; k < mode.NeedTo; k++ {
		need := &g.needs[k]
		if need.Part != partOf[ph] {
			continue
		}
		c := y.pick(need.Skill, need.Share+y.kept(n, need.Skill), y.named(nd, mode, k), look)
		if c < 0 {
			y.undo(w)
			return need.Skill
		}
		y.hold(w, c, need.Share)
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
	if named >= 0 && y.freeNow(named, share) && y.there(named, share, y.now, look) {
		return named
	}
	for _, c := range y.g.p.Skills[skill].Crews {
		if y.freeNow(c, share) && y.there(c, share, y.now, look) {
			return c
		}
	}
	return -1
}

// wait notes that a station waits for people with a skill.
func (y *Player) wait(s, skill int32) {
	for _, c := range y.g.p.Skills[skill].Crews {
		if !slices.Contains(y.onCrew[c], s) {
			y.onCrew[c] = append(y.onCrew[c], s)
		}
		y.watch(c)
	}
}
