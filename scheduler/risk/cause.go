// SPDX-License-Identifier: Apache-2.0

package risk

// cause is why something came late.
type cause struct {
	kind uint8
	id   int32 // station, pool or skill
}

const (
	causeNone   uint8 = iota
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

// reason notes why a node begins no earlier than now.
func (y *Player) reason(x *nodeNow) {
	x.via = -1
	if y.now <= Tick(x.start) {
		x.why = cause{}
		return
	}
	latest := x.first
	for a := y.acts[latest].next; a >= 0; a = y.acts[a].next {
		if y.acts[a].readyAt > y.acts[latest].readyAt {
			latest = a
		}
	}
	switch {
	case Tick(y.acts[latest].readyAt) == y.now:
		x.why, x.via = cause{}, y.acts[latest].from
	case x.why.kind == causeTool || x.why.kind == causePeople || x.why.kind == causeHours || x.why.kind == causeNext:
	case x.why.kind == causeMember:
	case x.before >= 0:
		x.why, x.via = cause{causeQueue, x.station}, y.nodes[x.before].first
	}
}

// farthest bounds how far back a delay is followed.
const farthest = 400

// blame follows a late end back to where most of the delay arose.
func (y *Player) blame(a int32) cause {
	var worst cause
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
			consider(cause{causeRework + x.redone - 1, s}, late)
			break
		}
		begun := max(0, Tick(x.start)-fa.plannedStart)
		grew := max(0, late-begun)
		broken := min(Tick(grown.broken), grew)
		mixed := min(Tick(grown.remixed), grew-broken)
		consider(cause{causeBroken, s}, broken)
		consider(cause{causeMixing, s}, mixed)
		consider(cause{causeLonger, s}, grew-broken-mixed)
		if begun == 0 {
			break
		}
		if n.via < 0 {
			consider(n.why, begun)
			break
		}
		before := max(0, Tick(y.acts[n.via].end)-y.g.acts[n.via].plannedEnd)
		if n.why.kind != causeNone {
			consider(n.why, begun-before)
		}
		a = n.via
	}
	return worst
}
