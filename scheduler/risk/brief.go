// SPDX-License-Identifier: Apache-2.0

package risk

// Most work is brief: one piece by itself, nothing to load or unload, and
// people with one skill while it runs. What start, begin and advance do for any
// work is done here in one go for those.

// startBrief begins brief work when hours, people and tools allow; else it
// notes what for it waits.
func (y *Player) startBrief(st *stationNow, n int32, x *nodeNow, a *actNow, w *way) bool {
	if st.needsBits == 0 && st.families == 0 && !y.anyFree(w.skill) {
		return y.forPeople(st, x, w.skill)
	}
	place := st.place
	if st.places > 1 {
		place = y.placeFor(st, n)
	}
	if place < 0 {
		return false
	}
	kind, until := &y.g.kinds[a.kind], y.now
	if !kind.pausable {
		until += Tick(w.run)
	}
	if !st.openAt(y.now) || len(st.stops) > 0 || kind.draws || st.families > 0 && y.changeover(st, n, place) > 0 {
		return y.startAny(st, n)
	}
	urgent := Tick(x.spoil) < y.now+overnight
	if until > st.opens.end && !urgent && Tick(w.run) <= Tick(st.longest) {
		return y.forHours(st, x, st.reopens)
	}
	if kind.clocks {
		if at := y.pulled(n, &w.alone); at > y.now {
			return y.forNext(st, x, at)
		}
	}
	if kind.takes > 0 {
		if pool := y.toolFor(n); pool >= 0 {
			return y.forTool(st, x, pool)
		}
	}
	if kind.pausable || urgent {
		until = y.now + 1
	}
	share, named := w.share, int32(-1)
	if x.prefer >= 0 {
		named = y.g.prefer[x.prefer+w.named]
	}
	if len(y.owed[w.skill]) > 0 {
		share += y.kept(n, w.skill)
	}
	if named < 0 || y.crews[named].free < share || until > Tick(y.crews[named].until) && !y.there(named, share, y.now, until) {
		if y.pick(w.skill, share, -1, until) < 0 {
			return y.forPeople(st, x, w.skill)
		}
		named = y.pickNow(w.skill, w.share, named)
	}
	y.beginBrief(st, n, x, a, w, kind, place, named)
	return true
}

// beginBrief puts brief work on a place, with people of a crew.
func (y *Player) beginBrief(st *stationNow, n int32, x *nodeNow, a *actNow, w *way, kind *kindOf, place, crew int32) {
	// Drawn first: the table is fetched while the rest is done.
	long := y.vary(w.run, kind.run, a.key, forRun, uint64(a.tries))
	g, p := y.g, &y.places[place]
	x.place, x.before = place, p.last
	y.reason(st, x)
	y.seize(st)
	p.busy, p.last, p.family = true, n, w.family
	x.state, a.state = running, running
	y.leave(st, n)
	if a.owed {
		y.paid(x.first)
	}
	if kind.clocks {
		y.owe(x.first)
	}
	if kind.takes > 0 {
		y.takeTools(a, kind)
	}
	k := &y.works[place]
	k.node, k.begun, k.phase = n, true, phaseRun
	k.length = [phases]int32{phaseRun: long}
	if st.every > 0 {
		y.breakDown(st, k)
	}
	a.start = int32(y.now)
	if a.start > a.spoilAt {
		y.breach(x.first)
	}
	if out := g.out[x.first]; out.starts < out.ends {
		y.over(x.first, out.starts, out.ends)
	}
	if k.length[phaseRun] == 0 {
		y.advance(k)
		return
	}
	y.hold(k, crew, w.share)
	end := y.now + Tick(k.length[phaseRun])
	if kind.pausable {
		if until := y.pausing(st, crew, w.share, Tick(k.length[phaseRun])); until < never {
			end = until
		}
	}
	y.push(end, evPhase, x.number, place)
}
