// SPDX-License-Identifier: Apache-2.0

package risk

// cause is why something came late: a kind, and the number of a station, a pool
// or a skill.
type cause int32

func causeOf(kind, id int32) cause { return cause(id<<causeBits | kind) }

func (c cause) kind() int32 { return int32(c) & (1<<causeBits - 1) }

func (c cause) id() int32 { return int32(c) >> causeBits }

const causeBits = 4

const (
	causeNone   int32 = iota
	causePlan         // the plan itself is late
	causeLonger       // the work took longer than stated, at a station
	causeBroken       // a station broke down
	causeRework       // a step was done again, at a station
	causeRemake       // a piece was made anew, after failing at a station
	causeQueue        // other work held the station
	causeHours        // the station's hours
	causeTool         // no tool of a pool was free
	causePeople       // nobody with a skill was free
	causeMember       // a load waited for a late piece, at a station
	causeNext         // what must follow in time could not, so a step was put off, at a station
	causeMixing       // the mix had gone off
	causes
)

// delay notes why a node does not begin now.
func (y *Player) delay(x *nodeNow, why cause) { x.why, x.whyAt = why, int32(y.now) }

// lacked notes that whatever might have begun at a station lacked people with a
// skill.
func (y *Player) lacked(st *stationNow, skill int32) { st.lackedFor, st.lackedAt = skill, int32(y.now) }

// reason notes why a node begins no earlier than now: the last that it, or all
// at its station, waited for.
func (y *Player) reason(st *stationNow, x *nodeNow) {
	x.via = -1
	if y.now <= Tick(x.start) {
		x.why = 0
		return
	}
	latest := x.first
	for a := y.acts[latest].next; a >= 0; a = y.acts[a].next {
		if y.acts[a].readyAt > y.acts[latest].readyAt {
			latest = a
		}
	}
	if Tick(y.acts[latest].readyAt) == y.now {
		x.why, x.via = 0, y.acts[latest].from
		return
	}
	if st.lackedAt > x.whyAt && st.lackedAt >= max(y.acts[latest].readyAt, x.start-int32(y.early)) {
		x.why = causeOf(causePeople, st.lackedFor)
	}
	if x.why == 0 && x.before >= 0 {
		x.why, x.via = causeOf(causeQueue, x.station), y.nodes[x.before].first
	}
}

// farthest bounds how far back a delay is followed.
const farthest = 400

// blame follows a late end back to where most of the delay arose.
func (y *Player) blame(a int32) cause {
	worst := cause(0)
	most := Tick(0)
	consider := func(c cause, gain Tick) {
		if gain > most {
			worst, most = c, gain
		}
	}
	for range farthest {
		fa, x := &y.g.acts[a], &y.acts[a]
		n, grown := &y.nodes[x.node], y.delays[x.node]
		s := n.station
		late := Tick(x.end) - fa.plannedEnd
		if late <= 0 {
			break
		}
		if x.redone > 0 {
			consider(causeOf(causeRework+int32(x.redone)-1, s), late)
			break
		}
		begun := max(0, Tick(x.start)-fa.plannedStart)
		grew := max(0, late-begun)
		broken := min(Tick(grown.broken), grew)
		mixed := min(Tick(grown.remixed), grew-broken)
		consider(causeOf(causeBroken, s), broken)
		consider(causeOf(causeMixing, s), mixed)
		consider(causeOf(causeLonger, s), grew-broken-mixed)
		if begun == 0 {
			break
		}
		if n.via < 0 {
			consider(n.why, begun)
			break
		}
		before := max(0, Tick(y.acts[n.via].end)-y.g.acts[n.via].plannedEnd)
		if n.why != 0 {
			consider(n.why, begun-before)
		}
		a = n.via
	}
	return worst
}

// knows says that a cause is one of this shop's.
func (g *Program) knows(c cause) bool {
	of := len(g.p.Stations)
	switch c.kind() {
	case causeNone, causePlan:
		return true
	case causeTool:
		of = len(g.p.Pools)
	case causePeople:
		of = len(g.p.Skills)
	}
	return c.kind() < causes && c.id() >= 0 && int(c.id()) < of
}
