// SPDX-License-Identifier: Apache-2.0

package risk

import "slices"

// over lets what waits by some arcs for an activity go on.
func (y *Player) over(a, from, to int32) {
	for i := from; i < to; i++ {
		if y.released[i] {
			continue
		}
		y.released[i] = true
		arc := &y.g.arcs[i]
		to := &y.acts[arc.to]
		if to.state == gone {
			continue
		}
		if at := short32(y.now + Tick(arc.least)); at >= to.readyAt {
			to.readyAt, to.from = at, a
		}
		if arc.clocks() {
			to.spoilAt = min(to.spoilAt, short32(y.now+Tick(arc.most)))
		}
		switch to.pend--; {
		case to.pend != 0:
		case Tick(to.readyAt) > y.now:
			y.push(Tick(to.readyAt), evReady, to.number, arc.to)
		default:
			y.arrive(arc.to)
		}
	}
}

func (y *Player) makeReady(a int32) {
	x := &y.acts[a]
	if at := Tick(x.readyAt); at > y.now {
		y.push(at, evReady, x.number, a)
		return
	}
	y.arrive(a)
}

// arrive puts an activity, whose waits are over, before its station.
func (y *Player) arrive(a int32) {
	x := &y.acts[a]
	if x.state == gone {
		return
	}
	x.state = ready
	n := &y.nodes[x.node]
	if n.there == 0 {
		n.firstIn = int32(y.now)
		y.lineUp(x.node)
	}
	n.there++
	n.lacking--
	if x.spoilAt < n.spoil {
		y.hasten(x.node, x.spoilAt)
	}
	y.touch(n.station)
}

// lineUp puts a node among those its station can choose from.
func (y *Player) lineUp(n int32) {
	st := &y.stations[y.nodes[n].station]
	if n >= y.g.planned {
		st.extras = append(st.extras, n)
		return
	}
	if len(st.avail) == cap(st.avail) {
		st.avail = append(st.shelf[:0], st.avail...) // back to the beginning, if it is not there
	}
	st.avail = append(st.avail, n)
	if cap(st.avail) > cap(st.shelf) {
		st.shelf = st.avail[:0]
	}
	for i := len(st.avail) - 1; i > 0 && n < st.avail[i-1]; i-- {
		st.avail[i], st.avail[i-1] = st.avail[i-1], n
	}
}

// leave takes a node, which has begun or been given up, out of its station's
// choice.
func (y *Player) leave(st *stationNow, n int32) {
	if n >= y.g.planned {
		if i := slices.Index(st.extras, n); i >= 0 {
			st.extras = slices.Delete(st.extras, i, i+1)
		}
	} else {
		x := st.avail
		for i := range x {
			if x[i] == n { // it is mostly near the front
				for ; i > 0; i-- {
					x[i] = x[i-1]
				}
				st.avail = x[1:]
				break
			}
		}
	}
	if y.nodes[n].spoil != int32(never) {
		y.hasten(n, int32(never))
	}
	if n == st.turn {
		y.takeTurn(st)
	}
}

// hasten notes when a node spoils; never: not any more.
func (y *Player) hasten(n, at int32) {
	x := &y.nodes[n]
	st := &y.stations[x.station]
	if n < y.g.planned {
		switch {
		case x.spoil == int32(never) && at != int32(never):
			st.spoiling++
		case x.spoil != int32(never) && at == int32(never):
			st.spoiling--
		}
		if n == st.turn {
			y.hurry(st, at != int32(never))
		}
	}
	x.spoil = at
}

// ended is the end of an activity: tools go back, and a piece that does not
// pass goes where the plant says.
func (y *Player) ended(a int32) {
	g, x := y.g, &y.acts[a]
	fa := &g.kinds[x.kind]
	x.end, x.state = int32(y.now), done
	if fa.gives > 0 {
		for _, h := range g.holds[x.holds+fa.takes : x.holds+fa.takes+fa.gives] {
			y.giveTool(h)
		}
	}
	if fa.redo != redoNever {
		chance := fa.pass
		if x.tries > 0 && x.redone == 1 {
			chance = fa.again
		}
		if y.luck.uniform(x.key, forVerdict, uint64(x.tries)) >= chance {
			if y.failed(a) {
				return
			}
		}
	}
	y.over(a, g.out[a].ends, g.out[a+1].starts)
	if !fa.last {
		return
	}
	piece := g.acts[a].piece
	if y.lasts[piece]--; y.lasts[piece] == 0 {
		y.pieceDone(a)
	}
}

func (y *Player) pieceDone(a int32) {
	l := y.g.acts[a].line
	ln := &y.g.lines[l]
	if y.good[l]++; y.good[l] == ln.need {
		y.doneAt[l], y.lastAct[l] = max(ln.done, y.g.p.Now+y.now), a
		y.left--
	}
}

func (y *Player) giveTool(h int32) {
	if !y.taken[h] {
		return
	}
	y.taken[h] = false
	pool := y.g.p.Holds[h].Pool
	y.push(y.now+Tick(y.g.p.Pools[pool].Turnaround), evTool, pool, pool)
}

// mostTries bounds how often one step of a piece is done in a history.
const mostTries = 20

// failed sends a piece back; false: it goes on after all, having been tried
// too often.
func (y *Player) failed(a int32) bool {
	fa, x := &y.g.acts[a], &y.acts[a]
	if x.tries >= mostTries {
		return false
	}
	x.tries++
	again := fa.redo != redoAll && int32(x.tries) <= fa.times
	y.again = y.again[:0]
	switch {
	case again && fa.redo == redoHere:
		y.again = append(y.again, a)
	case again:
		y.collect(a, fa.back)
	case y.canSpare(a):
		y.giveUp(fa.piece)
		return true
	default:
		y.collect(a, -1)
	}
	kind, delay := uint8(1), Tick(0)
	if !again {
		kind, delay = 2, Tick(fa.past)
	}
	y.repeat(a, kind, delay)
	return true
}

// canSpare says that the piece an activity is on may be given up, because more
// of them are under way than its line needs.
func (y *Player) canSpare(a int32) bool {
	fa := &y.g.acts[a]
	return fa.line >= 0 && y.lasts[fa.piece] > 0 && y.spare[fa.line] > 0
}

// giveUp takes a piece out: nobody waits for it, and its tools go back.
func (y *Player) giveUp(p int32) {
	g := y.g
	y.spare[g.acts[g.pieces[p].acts[0]].line]--
	y.lasts[p] = never32
	for _, a := range g.pieces[p].acts {
		x := &y.acts[a]
		for _, h := range g.acts[a].begins {
			y.giveTool(h)
		}
		if x.state != waiting && x.state != ready {
			continue
		}
		n := &y.nodes[x.node]
		if x.state == ready {
			n.there--
		} else {
			n.lacking--
		}
		x.state = gone
		for link := &n.first; *link >= 0; link = &y.acts[*link].next {
			if *link == a {
				*link = x.next
				break
			}
		}
		y.hasten(x.node, int32(y.spoils(x.node)))
		if n.first < 0 {
			n.state = done
			y.leave(&y.stations[n.station], x.node)
		}
		y.touch(n.station)
	}
}

// never32 is more last operations than a piece can have.
const never32 = 1 << 30

// collect lists what has to be done again up to and with a: what comes between
// back and a, or, with back −1, all that led to a on its piece and the tube it
// was cut from.
func (y *Player) collect(a, back int32) {
	g := y.g
	own := g.acts[a].piece
	parent := int32(-1)
	if own >= 0 {
		parent = g.pieces[own].parent
	}
	y.again = append(y.again, a)
	y.mark[a] = true
	for i := 0; i < len(y.again); i++ {
		b := y.again[i]
		if b == back {
			continue
		}
		for _, k := range g.in[g.inAt[b]:g.inAt[b+1]] {
			from := k.from
			p := g.acts[from].piece
			if y.mark[from] || p < 0 || p != own && p != parent || y.acts[from].state != done {
				continue
			}
			if back >= 0 && (p != own || g.acts[from].number < g.acts[back].number) {
				continue
			}
			y.mark[from] = true
			y.again = append(y.again, from)
		}
	}
	for _, b := range y.again {
		y.mark[b] = false
	}
}

// repeat puts the collected activities before their stations again, each by
// itself.
func (y *Player) repeat(a int32, kind uint8, delay Tick) {
	g := y.g
	for _, b := range y.again {
		y.mark[b] = true
	}
	for _, b := range y.again {
		x, fb := &y.acts[b], &g.acts[b]
		for _, h := range fb.begins {
			y.giveTool(h)
		}
		x.pend = 0
		for _, k := range g.in[g.inAt[b]:g.inAt[b+1]] {
			if y.mark[k.from] {
				y.released[k.arc] = false
				x.pend++
			}
		}
		if b != a {
			x.tries = min(x.tries+1, mostTries)
		}
		x.redone = max(x.redone, kind)
		x.state, x.start, x.node, x.next = waiting, 0, fb.spare, -1
		x.mode = g.modeOn(b, g.nodes[fb.spare].station)
		x.readyAt, x.spoilAt, x.from = int32(y.now), int32(never), b
		if x.pend == 0 {
			x.readyAt = short32(y.now + delay)
		}
		if fb.last && b != a {
			y.lasts[fb.piece]++
		}
		y.empty(fb.spare)
		if fb.clocked && g.ways[x.mode].key >= 0 {
			// It has to be in time for a load: it joins one that is to come.
			y.rehome(b, -1, y.now+delay+y.leadTo(b))
		} else {
			y.nodes[fb.spare].first, y.nodes[fb.spare].lacking = b, 1
		}
	}
	for _, b := range y.again {
		y.mark[b] = false
		if y.acts[b].pend == 0 {
			y.makeReady(b)
		}
	}
}

// empty makes a spare node ready for use.
func (y *Player) empty(n int32) { y.nodes[n], y.delays[n] = y.g.freshNode(n), delays{} }

// leaveLate closes a load without the members that are not there: each goes to
// the next load that takes it, or into one of its own.
func (y *Player) leaveLate(n int32) {
	x := &y.nodes[n]
	if x.lacking == 0 {
		return
	}
	link := &x.first
	for *link >= 0 {
		a := *link
		if y.acts[a].state == ready {
			link = &y.acts[a].next
			continue
		}
		*link = y.acts[a].next
		y.rehome(a, n, 0)
	}
	x.lacking = 0
}

// leadTo is how long, as stated, those of the collected activities take that
// come before one of them on the same piece.
func (y *Player) leadTo(a int32) Tick {
	sum := Tick(0)
	for _, b := range y.again {
		if y.g.acts[b].number < y.g.acts[a].number && y.g.acts[b].piece == y.g.acts[a].piece {
			w := &y.g.ways[y.acts[b].mode]
			sum += Tick(w.load) + Tick(w.loadEach) + Tick(w.run) + Tick(w.unload) + Tick(w.unloadEach)
		}
	}
	return sum
}

// rehome puts an activity into the first load from an instant on that takes it,
// or into one of its own.
func (y *Player) rehome(a, left int32, from Tick) {
	g, x := y.g, &y.acts[a]
	best, at := int32(-1), never
	for m := g.acts[a].modeAt; m < g.acts[a].modeTo; m++ {
		way := &g.ways[m]
		if way.key < 0 {
			continue
		}
		queue, starts := g.stations[way.station].queue, g.stations[way.station].starts
		next := y.stations[way.station].next
		for i := next; i < min(len(queue), next+3*window); i++ {
			start := Tick(starts[i])
			if start >= at {
				break
			}
			if n := queue[i]; start >= from && n != left && y.nodes[n].state == waiting && y.takes(n, a, way.key) {
				best, at = n, start
				break
			}
		}
	}
	if best < 0 {
		best = g.acts[a].spare
		y.empty(best)
	}
	n := &y.nodes[best]
	x.node, x.next, n.first = best, n.first, a
	x.mode = g.modeOn(a, n.station)
	n.lacking++
}

// takes says that a load has room for one more that agrees with it.
func (y *Player) takes(n, a, key int32) bool {
	g, s := y.g, y.nodes[n].station
	first := y.nodes[n].first
	if first < 0 || g.ways[y.acts[first].mode].key != key {
		return false
	}
	for d, limit := range g.p.Stations[s].Capacity {
		if limit < 0 {
			continue
		}
		sum := y.size(a)[d]
		for b := first; b >= 0; b = y.acts[b].next {
			sum += y.size(b)[d]
		}
		if sum > limit {
			return false
		}
	}
	return true
}

// size is what an activity's piece takes of a load's room.
func (y *Player) size(a int32) []int64 { return y.g.sizes[y.g.kinds[y.acts[a].kind].size] }

// force begins something although a tool or its hours forbid it, when nothing
// else can happen any more: a knot that people would untie. false: there is
// nothing left to begin.
func (y *Player) force() bool {
	best, at := int32(-1), never
	for s := range y.stations {
		if y.stations[s].free <= 0 {
			continue
		}
		look := func(n int32) {
			if x := &y.nodes[n]; x.state == waiting && x.there > 0 && Tick(x.start) < at {
				best, at = n, Tick(x.start)
			}
		}
		for _, n := range y.g.stations[s].queue[y.stations[s].next:] {
			look(n)
		}
		for _, n := range y.stations[s].extras {
			look(n)
		}
	}
	if best < 0 {
		return false
	}
	y.forced++
	st := &y.stations[y.nodes[best].station]
	y.consider(&y.trial, st, best)
	y.begin(&y.trial, y.placeFor(st, best))
	return true
}
