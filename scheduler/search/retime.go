// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// retimer finds the best instants for the solution on the board when all else
// stands: who goes first at each place, with each crew and tool, which mix is
// drawn from, and between which changes of shift each part lies.
type retimer struct {
	d      *decoder
	lp     differences
	start  []int32    // per act: the variable of its node's start
	out    []int32    // per act: that of its unloading, where work may wait inside; else -1
	mixes  [][]int32  // per resin and mix: that of its making; -1: a fact
	uses   [][]use    // per crew
	seats  [][][]seat // per station and place
	strict bool       // keep even what could change places in the order of a crew's work
}

// instant is a variable and what is added to it.
type instant struct {
	v  int32
	by Tick
}

// use is a stretch of a crew's time.
type use struct {
	from, to instant
	at, end  Tick
	share    int64
}

// seat is a stay at a station's place.
type seat struct {
	from, to instant
	at, end  Tick
}

func newRetimer(d *decoder) *retimer {
	p := d.m.p
	t := &retimer{d: d, start: make([]int32, len(p.Acts)), out: make([]int32, len(p.Acts)), mixes: make([][]int32, len(p.Resins)), uses: make([][]use, len(p.Crews)), seats: make([][][]seat, len(p.Stations))}
	for s := range p.Stations {
		t.seats[s] = make([][]seat, p.Stations[s].Places)
	}
	return t
}

// levels that a program of one objective can tell apart: a second of an earlier
// level is worth so many of a later one.
const apart = 1 << 20

// retime looks for better instants and puts them into g, whose solution is on
// the board; false when there are none. What they cost is seen when g is
// decoded.
func (t *retimer) retime(g *genome, strict bool) bool {
	t.strict = strict
	t.begin()
	t.variables()
	t.rows()
	t.goal()
	if !t.lp.solve() {
		return false
	}
	now := t.d.m.p.Now
	for a := range g.node {
		n := g.node[a]
		if n.fixed != nil || t.d.m.first[a] {
			continue
		}
		g.fine[a].rest = now + t.lp.value[t.start[a]]
		if g.fine[a].mix {
			g.fine[a].lead = t.lead(int32(a))
		}
		if t.out[a] >= 0 {
			g.out[a] = 0
			if out := now + t.lp.value[t.out[a]]; out > g.fine[a].rest+t.d.b.at[a].runEnd-t.d.b.at[a].start {
				g.out[a] = out
			}
		}
	}
	return true
}

// lead is how long before its first user loads a mix is ready.
func (t *retimer) lead(a int32) Tick {
	at := &t.d.b.at[a]
	if at.mix < 0 || t.mixes[at.node.resin][at.mix] < 0 {
		return 0
	}
	x := &t.d.b.mixes[at.node.resin][at.mix]
	return max(0, t.lp.value[t.start[a]]-t.lp.value[t.mixes[at.node.resin][at.mix]]-(x.end-x.start))
}

func (t *retimer) begin() {
	t.lp.reset()
	for c := range t.uses {
		t.uses[c] = t.uses[c][:0]
	}
	for s := range t.seats {
		for k := range t.seats[s] {
			t.seats[s][k] = t.seats[s][k][:0]
		}
	}
}

// variables makes those of nodes and mixes. What may not move hangs on now.
func (t *retimer) variables() {
	b, p := t.d.b, t.d.m.p
	for a := range p.Acts {
		at := &b.at[a]
		n := at.node
		if first := n.acts[0]; first != int32(a) {
			t.start[a], t.out[a] = t.start[first], t.out[first]
			continue
		}
		t.start[a] = t.lp.add(at.start-p.Now, 0)
		t.out[a] = -1
		if n.options[at.option].wait && n.fixed == nil {
			t.out[a] = t.lp.add(at.unload-p.Now, 0)
		}
		if t.stays(n, at) {
			t.fix(t.instantOf(int32(a), at.start))
			t.fix(t.outOf(int32(a), at.unload))
		}
	}
	for r := range b.mixes {
		t.mixes[r] = t.mixes[r][:0]
		for i := range b.mixes[r] {
			v := int32(-1)
			if x := &b.mixes[r][i]; x.fact < 0 {
				v = t.lp.add(x.start-p.Now, 0)
			}
			t.mixes[r] = append(t.mixes[r], v)
		}
	}
}

// stays tells whether a node may not move: it has begun or is frozen, or stands
// where the people who are told of changes expect it.
func (t *retimer) stays(n *node, at *placed) bool {
	p := t.d.m.p
	for _, a := range n.acts {
		if act := &p.Acts[a]; t.d.m.first[a] || act.Was != nil && act.Was.Near && act.Was.Start == at.start {
			return true
		}
	}
	return n.fixed != nil || n.frozen || at.setup < p.Now
}

// instantOf is an instant that moves with an activity's start.
func (t *retimer) instantOf(a int32, at Tick) instant {
	return instant{t.start[a], at - t.d.b.at[a].start}
}

// outOf is one that moves with its unloading.
func (t *retimer) outOf(a int32, at Tick) instant {
	if t.out[a] < 0 {
		return t.instantOf(a, at)
	}
	return instant{t.out[a], at - t.d.b.at[a].unload}
}

// ends are the instants between which a part lies.
func (t *retimer) ends(a int32, part resources.Part) (from, to instant) {
	at := &t.d.b.at[a]
	low, high := at.part(part)
	if part == resources.PartUnload {
		return t.outOf(a, low), t.outOf(a, high)
	}
	return t.instantOf(a, low), t.instantOf(a, high)
}

// after says that one instant comes so long after another at the least.
func (t *retimer) after(to, from instant, least Tick) {
	t.lp.wait(from.v, to.v, least+from.by-to.by)
}

func (t *retimer) notBefore(x instant, at Tick) {
	t.lp.wait(0, x.v, at-t.d.m.p.Now-x.by)
}

func (t *retimer) notAfter(x instant, at Tick) {
	if at < never/2 {
		t.lp.wait(x.v, 0, x.by-(at-t.d.m.p.Now))
	}
}

func (t *retimer) fix(x instant) {
	at := t.d.m.p.Now + t.lp.value[x.v] + x.by
	t.notBefore(x, at)
	t.notAfter(x, at)
}

// within keeps a stretch that lies in [low, high) there.
func (t *retimer) within(from, to instant, low, high Tick) {
	t.notBefore(from, low)
	t.notAfter(to, high)
}

func (t *retimer) rows() {
	p := t.d.m.p
	for a := range p.Acts {
		at := &t.d.b.at[a]
		n := at.node
		t.dates(int32(a))
		if n.acts[0] != int32(a) || n.fixed != nil {
			continue
		}
		o := &n.options[at.option]
		t.hours(int32(a), o)
		t.people(int32(a), o)
		if t.out[a] >= 0 {
			t.after(t.outOf(int32(a), at.unload), t.instantOf(int32(a), at.runEnd), 0)
		}
		t.seats[o.station][at.place] = append(t.seats[o.station][at.place], seat{
			from: t.instantOf(int32(a), at.setup), to: t.outOf(int32(a), at.end), at: at.setup, end: at.end,
		})
	}
	t.waits()
	t.resins()
	t.tools()
	t.places()
	t.crews()
}

// dates keeps what an activity itself asks of its start.
func (t *retimer) dates(a int32) {
	p, b := t.d.m.p, t.d.b
	act, at := &p.Acts[a], &b.at[a]
	start := t.instantOf(a, at.start)
	t.notBefore(start, act.Release)
	t.notBefore(t.instantOf(a, at.setup), p.Now)
	t.notAfter(t.outOf(a, at.end), p.End)
	if act.Deadline != 0 {
		t.notAfter(start, act.Deadline)
	}
	for _, d := range act.Draws {
		s := &b.stocks[d.Stock]
		t.notBefore(start, s.from[s.window(at.start)])
	}
}

// waits keeps those between activities.
func (t *retimer) waits() {
	p := t.d.m.p
	for i := range p.Arcs {
		arc := &p.Arcs[i]
		from, to := &t.d.b.at[arc.From], &t.d.b.at[arc.To]
		if !from.on || !to.on || from.node == to.node {
			continue
		}
		since := t.outOf(arc.From, from.end)
		if arc.FromStart {
			since = t.instantOf(arc.From, from.start)
		}
		start := t.instantOf(arc.To, to.start)
		t.after(start, since, Tick(arc.Min))
		if arc.HasMax {
			t.after(since, start, -Tick(arc.Max))
		}
	}
}

// hours keeps the parts of a node between the same openings and stops.
func (t *retimer) hours(a int32, o *option) {
	b := t.d.b
	st := &b.p.Stations[o.station]
	at := &b.at[a]
	for part := resources.PartSetup; part < resources.NumParts; part++ {
		low, high := at.part(part)
		if low == high {
			continue
		}
		from, to := t.ends(a, part)
		for _, stop := range st.Stops {
			switch {
			case stop.End <= low:
				t.notBefore(from, stop.End)
			case stop.Start >= high:
				t.notAfter(to, stop.Start)
			}
		}
		attended := part == resources.PartSetup && st.SetupSkill >= 0 || part != resources.PartSetup && len(o.needs[part]) > 0
		pauses := at.node.mayPause && part == resources.PartRun
		if !st.Always && !pauses && (attended || !st.Unattended) {
			open := opening(st.Open, low)
			t.within(from, to, open.Start, open.End)
		}
	}
	if !st.Always && !st.Unattended && !at.node.mayPause {
		open := opening(st.Open, at.setup)
		t.within(t.instantOf(a, at.setup), t.instantOf(a, at.runEnd), open.Start, open.End)
	}
	if at.node.mayPause && at.run < at.runEnd {
		t.stretches(a, o, st)
	}
}

// opening is the one that t lies in.
func opening(open []resources.Interval, t Tick) resources.Interval {
	if i := firstOpen(open, t); i < len(open) && open[i].Start <= t {
		return open[i]
	}
	return resources.Interval{Start: t, End: t}
}

// stretches lets a run that may pause move as long as it begins and ends in the
// same stretches of work: it is as long as before then.
func (t *retimer) stretches(a int32, o *option, st *scheduler.StationP) {
	b := t.d.b
	at := &b.at[a]
	if len(o.needs[resources.PartRun]) == 0 && (st.Always || st.Unattended) {
		return
	}
	crew := int32(-1)
	if len(o.needs[resources.PartRun]) > 0 {
		crew = at.crew[1+len(o.needs[resources.PartLoad])]
	}
	from, to := t.instantOf(a, at.run), t.instantOf(a, at.runEnd)
	low, high := b.stretch(st, crew, at.run)
	last, end := b.stretch(st, crew, at.runEnd-1)
	t.notBefore(from, low)
	t.notAfter(from, high)
	t.notBefore(to, last)
	t.notAfter(to, end)
}

// stretch is the time around t in which a station is open and a crew works.
func (b *board) stretch(st *scheduler.StationP, crew int32, t Tick) (low, high Tick) {
	low, high = 0, never
	if !st.Always {
		open := opening(st.Open, t)
		low, high = open.Start, open.End
	}
	if crew >= 0 {
		from, to := b.shifts[crew].around(t, 1)
		low, high = max(low, from), min(high, to)
	}
	return low, high
}

// around is the stretch about t in which so much is free.
func (p *profile) around(t Tick, share int64) (low, high Tick) {
	low, high = t, never
	k := p.page(t)
	i := p.pages[k].index(t)
	for kk, ii := k, i; ; {
		s := &p.pages[kk].steps[ii]
		if s.free < share {
			break
		}
		low = min(low, s.at)
		if ii--; ii < 0 {
			if kk--; kk < 0 {
				low = 0
				break
			}
			ii = len(p.pages[kk].steps) - 1
		}
	}
	for {
		s := &p.pages[k].steps[i]
		if s.free < share {
			return low, max(t, s.at)
		}
		if i++; i == len(p.pages[k].steps) {
			if k++; k == len(p.pages) {
				return low, never
			}
			i = 0
		}
	}
}

// people notes what a node takes of crews, and keeps each part while as many
// are there.
func (t *retimer) people(a int32, o *option) {
	b := t.d.b
	at := &b.at[a]
	st := &b.p.Stations[o.station]
	if at.crew[0] >= 0 && at.setup < at.start {
		t.use(a, resources.PartSetup, at.crew[0], st.SetupShare)
	}
	k := 1
	for part := resources.PartLoad; part < resources.NumParts; part++ {
		low, high := at.part(part)
		pauses := at.node.mayPause && part == resources.PartRun
		for _, nd := range o.needs[part] {
			switch crew := at.crew[k]; {
			case crew < 0 || low == high:
			case pauses:
				t.usePausing(a, o, crew, nd.share)
			default:
				t.use(a, part, crew, nd.share)
			}
			k++
		}
	}
}

func (t *retimer) use(a int32, part resources.Part, crew int32, share int64) {
	low, high := t.d.b.at[a].part(part)
	from, to := t.ends(a, part)
	t.shift(from, to, low, high, crew, share)
	t.uses[crew] = append(t.uses[crew], use{from: from, to: to, at: low, end: high, share: share})
}

// usePausing notes the stretches in which a run that pauses goes on: others may
// have the crew between them. Only the first beginning and the last end move.
func (t *retimer) usePausing(a int32, o *option, crew int32, share int64) {
	b := t.d.b
	at := &b.at[a]
	st, lead := &b.p.Stations[o.station], at.crew[1+len(o.needs[resources.PartLoad])]
	first, last := t.ends(a, resources.PartRun)
	for low := at.run; low < at.runEnd; {
		begin, end := b.working(st, lead, low)
		if begin >= at.runEnd {
			return
		}
		end = min(end, at.runEnd)
		x := use{from: instant{0, begin - b.p.Now}, to: instant{0, end - b.p.Now}, at: begin, end: end, share: share}
		if begin == at.run {
			x.from = first
		}
		if end == at.runEnd {
			x.to = last
		}
		t.uses[crew] = append(t.uses[crew], x)
		low = end
	}
}

// shift keeps a stretch of a crew's time while enough of them are there.
func (t *retimer) shift(from, to instant, low, high Tick, crew int32, share int64) {
	if t.strict {
		// As many as there are all along, for others may need the rest.
		for at := low; at < high; {
			free := t.d.b.shifts[crew].at(at)
			share = max(share, free)
			_, at = t.d.b.shifts[crew].around(at, free)
		}
	}
	first, _ := t.d.b.shifts[crew].around(low, min(share, t.d.b.shifts[crew].at(low)))
	_, last := t.d.b.shifts[crew].around(high-1, min(share, t.d.b.shifts[crew].at(high-1)))
	t.within(from, to, first, last)
}

// resins keeps mixes in their room and young enough for their users.
func (t *retimer) resins() {
	b, p := t.d.b, t.d.m.p
	for r := range b.mixes {
		for i := range b.mixes[r] {
			if v := t.mixes[r][i]; v >= 0 && b.mixes[r][i].grams > 0 {
				t.mix(&p.Resins[r], &b.mixes[r][i], v)
			}
		}
	}
	for a := range p.Acts {
		at := &b.at[a]
		if at.mix < 0 || at.node.acts[0] != int32(a) || at.node.fixed != nil {
			continue
		}
		x, v := &b.mixes[at.node.resin][at.mix], t.mixes[at.node.resin][at.mix]
		start, dry := t.instantOf(int32(a), at.start), t.instantOf(int32(a), at.runEnd)
		if v < 0 {
			t.notBefore(start, x.end)
			t.notAfter(dry, x.expiry)
			continue
		}
		t.after(start, instant{v, x.end - x.start}, 0)
		t.after(instant{v, x.expiry - x.start}, dry, 0)
	}
}

// mix keeps the making of one where it can be made and lives as long.
func (t *retimer) mix(r *scheduler.ResinP, x *mix, v int32) {
	b := t.d.b
	from, to := instant{v, 0}, instant{v, x.end - x.start}
	t.notBefore(from, b.p.Now)
	for i := range r.Life {
		if at := r.Life[i].At; at <= x.end {
			t.notBefore(to, at)
		} else {
			t.notAfter(to, at-1)
		}
	}
	if r.Station < 0 || x.start == x.end {
		return
	}
	st := &b.p.Stations[r.Station]
	for _, stop := range st.Stops {
		if stop.End <= x.start {
			t.notBefore(from, stop.End)
		} else {
			t.notAfter(to, stop.Start)
		}
	}
	if !st.Always {
		open := opening(st.Open, x.start)
		t.within(from, to, open.Start, open.End)
	}
	t.seats[r.Station][x.place] = append(t.seats[r.Station][x.place], seat{from: from, to: to, at: x.start, end: x.end})
	if x.crew >= 0 {
		t.shift(from, to, x.start, x.end, x.crew, r.Share)
		t.uses[x.crew] = append(t.uses[x.crew], use{from: from, to: to, at: x.start, end: x.end, share: r.Share})
	}
}

// tools keeps the order in which each unit goes round.
func (t *retimer) tools() {
	b, p := t.d.b, t.d.m.p
	for h := range p.Holds {
		for k := range p.Holds {
			one, two := &p.Holds[h], &p.Holds[k]
			if h == k || one.Pool != two.Pool || b.unitOf[h] != b.unitOf[k] || b.unitOf[h] < 0 || two.Take < 0 {
				continue
			}
			if one.Take >= 0 && b.takenAt[h] >= b.takenAt[k] {
				continue
			}
			back := t.outOf(one.Give, b.at[one.Give].end)
			t.after(t.instantOf(two.Take, b.at[two.Take].setup), back, Tick(p.Pools[one.Pool].Turnaround))
		}
	}
}

// places keeps the order at each place.
func (t *retimer) places() {
	for s := range t.seats {
		for k := range t.seats[s] {
			list := t.seats[s][k]
			slices.SortStableFunc(list, func(a, b seat) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.end, b.end)) })
			for i := 1; i < len(list); i++ {
				t.after(list[i].from, list[i-1].to, 0)
			}
		}
	}
}

// crews keeps the order of what a crew cannot do together.
func (t *retimer) crews() {
	for c := range t.uses {
		list := t.uses[c]
		most := int64(0)
		for _, step := range t.d.m.p.Crews[c].Steps {
			most = max(most, step.Cap)
		}
		for i := range list {
			for j := range list {
				one, two := &list[i], &list[j]
				if i != j && one.end <= two.at && (t.strict || one.share+two.share > most) {
					t.after(two.from, one.to, 0)
				}
			}
		}
	}
}
