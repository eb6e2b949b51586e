// SPDX-License-Identifier: Apache-2.0

package risk

// begin puts a trial to work on a place.
func (y *Player) begin(t *trial, place int32) {
	g, n, x, st := y.g, t.n, t.x, t.st
	if x.lacking > 0 {
		y.leaveLate(n)
	}
	p := &y.places[place]
	x.place, x.before = place, p.last
	y.reason(st, x)
	y.seize(st)
	p.busy, p.last = true, n
	if st.families > 0 {
		p.family = y.family(n)
	}
	x.state = running
	y.leave(st, n)
	first := &y.acts[x.first]
	kind, tries := &g.kinds[first.kind], uint64(first.tries)
	w := &y.works[place]
	w.node, w.begun, w.phase = n, false, phaseSetup
	w.length = t.length
	if w.length[phaseSetup] > 0 {
		w.length[phaseSetup] = y.setupTime(n, w.length[phaseSetup])
	}
	w.length[phaseLoad] = y.vary(w.length[phaseLoad], kind.load, first.key, forLoad, tries)
	w.length[phaseRun] = y.vary(w.length[phaseRun], kind.run, first.key, forRun, tries)
	w.length[phaseUnload] = y.vary(w.length[phaseUnload], kind.unload, first.key, forUnload, tries)
	if st.every > 0 {
		y.breakDown(st, w)
	}
	for a := x.first; a >= 0; a = y.acts[a].next {
		at := &y.acts[a]
		at.state = running
		if at.owed {
			y.paid(a)
		}
		kind := &g.kinds[at.kind]
		if kind.clocks {
			y.owe(a)
		}
		y.takeTools(at, kind)
	}
	y.advance(w)
}

// takeTools has an activity hold the tools that it begins with.
func (y *Player) takeTools(a *actNow, kind *kindOf) {
	for _, h := range y.g.holds[a.holds : a.holds+kind.takes] {
		y.pools[y.g.p.Holds[h].Pool]--
		y.taken[h] = true
	}
}

func (y *Player) vary(t, spread int32, key, what, tries uint64) int32 {
	if t == 0 {
		return 0
	}
	table := &y.g.tables[spread]
	if table.at == nil {
		return scale(t, table.fixed)
	}
	u := y.luck.uniform(key, what, tries)
	x := u*knots - 1
	if i := int(x); x >= 0 && i < len(table.at)-1 { // as draw does
		return scale(t, table.at[i]+(x-float64(i))*(table.at[i+1]-table.at[i]))
	}
	return scale(t, table.exact(u))
}

// breakDown lengthens a run by the repairs that fall into it.
func (y *Player) breakDown(st *stationNow, w *workNow) {
	left, broken := Tick(w.length[phaseRun]), int32(0)
	for left > st.uptime {
		left -= st.uptime
		var factor float64
		if st.mend >= 0 {
			factor = y.g.tables[st.mend].draw(y.luck.uniform(st.key, forRepair, st.broke))
		} else {
			factor = y.luck.exponential(st.key, forRepair, st.broke)
		}
		broken += int32(st.repair*factor + 0.5)
		st.broke++
		y.newUptime(st)
	}
	st.uptime -= left
	if broken > 0 {
		y.delays[w.node].broken += broken
	}
	w.length[phaseRun] += y.delays[w.node].broken
}

func (y *Player) newUptime(st *stationNow) {
	st.uptime = never
	if st.every > 0 {
		st.uptime = max(1, Tick(st.every*y.luck.exponential(st.key, forUptime, st.broke)))
	}
}

// loading notes that the members are on the station from now on. Where the mix
// has gone off, or the piece is made again, another is mixed first.
func (y *Player) loading(w *workNow) {
	g, n := y.g, w.node
	w.begun = true
	for a := y.nodes[n].first; a >= 0; a = y.acts[a].next {
		at := &y.acts[a]
		at.start = int32(y.now)
		if at.start > at.spoilAt {
			y.breach(a)
		}
		if g.kinds[at.kind].draws && (at.tries > 0 || y.now > y.expiry(a)) {
			fa := &g.acts[a]
			again := y.vary(short32(Tick(fa.remix)), fa.mixing, fa.key, forMixing, uint64(at.tries))
			if grown := &y.delays[n]; again > grown.remixed {
				w.length[phaseLoad] += again - grown.remixed
				grown.remixed = again
			}
		}
		y.over(a, g.out[a].starts, g.out[a].ends)
	}
}

// breach counts a maximum wait that was overrun.
func (y *Player) breach(a int32) {
	y.breaches++
	if l := y.g.acts[a].line; l >= 0 {
		y.spoiled[y.g.p.Lines[l].Order] = true
	}
}

// expiry is when the mix an activity draws from goes off.
func (y *Player) expiry(a int32) Tick {
	fa, mix := &y.g.acts[a], y.acts[a].mix
	if mix < 0 {
		return fa.expiry
	}
	resin := &y.g.p.Resins[fa.resin]
	made := Tick(y.acts[mix].end)
	return made + Tick(resin.LifeAt(y.g.p.Now+made))
}

// advance goes on with the work at a place as far as people allow.
func (y *Player) advance(w *workNow) {
	for {
		if w.phase == phaseLoad && !w.begun {
			y.loading(w)
		}
		if w.phase == phases {
			y.finish(w)
			return
		}
		if w.length[w.phase&3] > 0 {
			break
		}
		w.phase++
	}
	x := &y.nodes[w.node]
	if w.phase == phaseUnload {
		if at := Tick(x.unload) - y.early; y.now < at {
			y.push(at, evGoOn, x.number, x.place)
			return
		}
	}
	if skill := y.acquire(w, w.phase); skill >= 0 {
		for _, c := range y.g.able[skill] {
			y.watched.add(c)
			y.stalledFor |= 1 << uint32(c) // none for the 65th and later
		}
		y.stalled = append(y.stalled, x.place)
		return
	}
	end := y.now + Tick(w.length[w.phase&3])
	if w.phase == phaseRun && y.pauses(x) {
		c, share := int32(-1), int32(0)
		if w.heldCount > 0 {
			c, share = w.held[0].crew, w.held[0].share
		}
		if until := y.pausing(&y.stations[x.station], c, share, Tick(w.length[phaseRun])); until < never {
			end = until
		}
	}
	y.push(end, evPhase, x.number, x.place)
}

// unstall goes on with work that waited for people.
func (y *Player) unstall() {
	y.stalled, y.unstuck = y.unstuck[:0], y.stalled
	y.stalledFor = 0
	for _, place := range y.unstuck {
		y.advance(&y.works[place])
	}
}

// resume goes on with work that had begun before now: what is left of it takes
// longer or shorter as the whole would.
func (y *Player) resume(i int32) {
	n := y.g.begun[i]
	g, nd, x := y.g, &y.g.nodes[n], &y.nodes[n]
	f, now := nd.fixed, g.p.Now
	place := g.stations[nd.station].place + min(nd.place, g.stations[nd.station].places-1)
	if y.places[place].busy {
		place = y.g.places + i // more has begun than there is room for
	}
	st, p := &y.stations[nd.station], &y.places[place]
	y.seize(st)
	p.busy, p.last, p.family = true, n, y.family(n)
	x.place, x.state = place, running
	at := &y.acts[x.first]
	fa := &g.kinds[at.kind]
	w := &y.works[place]
	*w = workNow{node: n, begun: true, phase: phaseLoad}
	w.length = [phases]int32{
		phaseLoad:   y.vary(short32(max(0, f.Run-now)), fa.load, at.key, forLoad, 0),
		phaseRun:    y.vary(short32(max(0, f.RunEnd-max(now, f.Run))), fa.run, at.key, forRun, 0),
		phaseUnload: y.vary(short32(max(0, f.End-max(now, f.Unload))), fa.unload, at.key, forUnload, 0),
	}
	for a := x.first; a >= 0; a = y.acts[a].next {
		y.acts[a].state, y.acts[a].start = running, short32(f.Start-now)
		y.owe(a)
		y.over(a, g.out[a].starts, g.out[a].ends)
	}
	if st.every > 0 {
		y.breakDown(st, w)
	}
	y.advance(w)
}

// finish frees the place and lets the members go on.
func (y *Player) finish(w *workNow) {
	x := &y.nodes[w.node]
	y.places[x.place].busy = false
	st := &y.stations[x.station]
	y.vacate(st)
	st.freeSince = y.now
	x.state = done
	if len(st.avail)+len(st.extras) > 0 || st.families > 0 {
		y.touch(st.number)
	}
	for a := x.first; a >= 0; {
		next := y.acts[a].next
		y.ended(a)
		a = next
	}
}
