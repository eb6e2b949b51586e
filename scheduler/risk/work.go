// SPDX-License-Identifier: Apache-2.0

package risk

// begin puts a trial to work on a place.
func (y *Player) begin(t *trial, place int32) {
	g, n, x, length := y.g, t.n, t.x, t.length
	y.leaveLate(n)
	st, p := &y.stations[x.station], &y.places[place]
	x.place, x.before = place, p.last
	y.reason(n)
	st.free--
	p.busy, p.last, p.family = true, n, y.family(n)
	y.leave(n)
	x.state = running
	first := x.first
	if length[phaseSetup] > 0 {
		length[phaseSetup] = y.setupTime(n, length[phaseSetup])
	}
	at := &y.acts[first]
	fa, tries := &g.kinds[at.kind], uint64(at.tries)
	length[phaseLoad] = y.vary(length[phaseLoad], fa.load, at.key, forLoad, tries)
	length[phaseRun] = y.vary(length[phaseRun], fa.run, at.key, forRun, tries)
	length[phaseUnload] = y.vary(length[phaseUnload], fa.unload, at.key, forUnload, tries)
	w := &y.works[place]
	w.length, w.begun, w.phase = length, false, phaseSetup
	y.breakDown(n)
	for a := first; a >= 0; a = y.acts[a].next {
		at := &y.acts[a]
		at.state = running
		y.paid(a)
		fa := &g.kinds[at.kind]
		if fa.clocks {
			y.owe(a)
		}
		for _, h := range g.holds[at.holds : at.holds+fa.takes] {
			y.pools[g.p.Holds[h].Pool]--
			y.taken[h] = true
		}
	}
	y.advance(n)
}

func (y *Player) vary(t Tick, spread int32, key, what, tries uint64) Tick {
	if t == 0 {
		return 0
	}
	table := &y.g.tables[spread]
	if table.at == nil {
		return scale(t, table.fixed)
	}
	return scale(t, table.draw(y.luck.uniform(key, what, tries)))
}

// breakDown lengthens a run by the repairs that fall into it.
func (y *Player) breakDown(n int32) {
	x, grown := &y.nodes[n], &y.delays[n]
	s := x.station
	st := &y.g.stations[s]
	if st.every == 0 {
		return
	}
	now, w := &y.stations[s], &y.works[x.place]
	left := w.length[phaseRun]
	for left > now.uptime {
		left -= now.uptime
		var factor float64
		if st.mend >= 0 {
			factor = y.g.tables[st.mend].draw(y.luck.uniform(st.key, forRepair, now.broke))
		} else {
			factor = y.luck.exponential(st.key, forRepair, now.broke)
		}
		grown.broken += int32(st.repair*factor + 0.5)
		now.broke++
		y.newUptime(s)
	}
	now.uptime -= left
	w.length[phaseRun] += Tick(grown.broken)
}

func (y *Player) newUptime(s int32) {
	st := &y.g.stations[s]
	y.stations[s].uptime = never
	if st.every > 0 {
		y.stations[s].uptime = max(1, Tick(st.every*y.luck.exponential(st.key, forUptime, y.stations[s].broke)))
	}
}

// loading notes that the members are on the station from now on. Where the mix
// has gone off, or the piece is made again, another is mixed first.
func (y *Player) loading(n int32) {
	g, x, grown := y.g, &y.nodes[n], &y.delays[n]
	for a := x.first; a >= 0; a = y.acts[a].next {
		at := &y.acts[a]
		at.start = int32(y.now)
		if y.now > Tick(at.spoilAt) {
			y.breaches++
			if l := g.acts[a].line; l >= 0 {
				y.spoiled[g.p.Lines[l].Order] = true
			}
		}
		if g.kinds[at.kind].draws && (at.tries > 0 || y.now > y.expiry(a)) {
			fa := &g.acts[a]
			grown.remixed = max(grown.remixed, int32(y.vary(Tick(fa.remix), fa.mixing, fa.key, forMixing, uint64(at.tries))))
		}
		y.over(a, true)
	}
	w := &y.works[x.place]
	w.begun = true
	w.length[phaseLoad] += Tick(grown.remixed)
}

// expiry is when the mix an activity draws from goes off.
func (y *Player) expiry(a int32) Tick {
	fa := &y.g.acts[a]
	if fa.mix < 0 {
		return fa.expiry
	}
	resin := &y.g.p.Resins[fa.resin]
	made := Tick(y.acts[fa.mix].end)
	return made + Tick(resin.LifeAt(y.g.p.Now+made))
}

// advance goes on with a node as far as people allow.
func (y *Player) advance(n int32) {
	x := &y.nodes[n]
	w := &y.works[x.place]
	for {
		if w.phase == phaseLoad && !w.begun {
			y.loading(n)
		}
		if w.phase == phases || w.length[w.phase] > 0 {
			break
		}
		w.phase++
	}
	if w.phase == phases {
		y.finish(n)
		return
	}
	if w.phase == phaseUnload {
		if at := Tick(x.unload) - Tick(y.g.floor.BeginEarly); y.now < at {
			y.push(at, evGoOn, x.number)
			return
		}
	}
	if skill := y.acquire(n, w.phase, y.now+1, w); skill >= 0 {
		for _, c := range y.g.able[skill] {
			y.watch(c)
		}
		y.stalled = append(y.stalled, n)
		return
	}
	end := y.now + w.length[w.phase]
	if w.phase == phaseRun && y.pauses(n) {
		c, share := int32(-1), int64(0)
		if w.heldCount > 0 {
			c, share = w.held[0].crew, w.held[0].share
		}
		if until := y.pausing(x.station, c, share, w.length[w.phase]); until < never {
			end = until
		}
	}
	y.push(end, evPhase, x.number)
}

// unstall goes on with work that waited for people.
func (y *Player) unstall() {
	y.stalled, y.unstuck = y.unstuck[:0], y.stalled
	for _, n := range y.unstuck {
		y.advance(n)
	}
}

// resume goes on with work that had begun before now: what is left of it takes
// longer or shorter as the whole would.
func (y *Player) resume(n int32) {
	g, nd, x := y.g, &y.g.nodes[n], &y.nodes[n]
	f, now := nd.fixed, g.p.Now
	place := g.stations[nd.station].place + min(nd.place, g.stations[nd.station].places-1)
	st, p := &y.stations[nd.station], &y.places[place]
	if !p.busy {
		p.busy = true
		st.free--
	}
	p.last, p.family = n, y.family(n)
	x.place, x.state = place, running
	at := &y.acts[x.first]
	fa := &g.kinds[at.kind]
	w := &y.works[place]
	*w = workNow{begun: true, phase: phaseLoad}
	w.length = [phases]Tick{
		phaseLoad:   y.vary(max(0, f.Run-now), fa.load, at.key, forLoad, 0),
		phaseRun:    y.vary(max(0, f.RunEnd-max(now, f.Run)), fa.run, at.key, forRun, 0),
		phaseUnload: y.vary(max(0, f.End-max(now, f.Unload)), fa.unload, at.key, forUnload, 0),
	}
	for a := x.first; a >= 0; a = y.acts[a].next {
		y.acts[a].state, y.acts[a].start = running, short32(f.Start-now)
		y.owe(a)
		y.over(a, true)
	}
	y.breakDown(n)
	y.advance(n)
}

// finish frees the place and lets the members go on.
func (y *Player) finish(n int32) {
	x := &y.nodes[n]
	s := x.station
	y.places[x.place].busy = false
	st := &y.stations[s]
	st.free++
	st.freeSince = y.now
	x.state = done
	y.touch(s)
	for a := x.first; a >= 0; {
		next := y.acts[a].next
		y.ended(a)
		a = next
	}
}
