// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/resources"
	"towpath/scheduler"
)

// besides is what stays as an earlier plan has it, beside those that are looked at
// again: its places, people, tools, mixes and material are taken.
type besides struct {
	b      *board
	w      *window
	others []int32 // still to come, as the old plan lists them
	made   Tick    // mixes to be made from then on are still to come
	names  *naming
	later  [][]bool // per station and place: the first of the others is there
}

func newBesides(b *board, w *window, inside, others []int32) *besides {
	b.inHands(w, inside)
	x := &besides{b: b, w: w, others: others, names: newlyNamed(b.p), later: make([][]bool, len(b.places))}
	for s := range b.places {
		x.later[s] = make([]bool, len(b.places[s]))
	}
	return x
}

// room makes room on the places for what is still to come.
func (x *besides) room() {
	count := make([][]int, len(x.b.places))
	for s := range count {
		count[s] = make([]int, len(x.b.places[s]))
	}
	for _, a := range x.others {
		if i := x.w.loadOf[a]; i < 0 || x.w.loads[i].acts[0] == a {
			count[x.w.p.Modes[x.w.mode[a]].Station][x.w.old.Work[x.w.was[a]].Place-1]++
		}
	}
	x.b.room(count)
}

// put puts what stays and begins before an instant on the board, there for good: nothing
// of it is in the journal. False when it does not fit what is there.
func (x *besides) put(to Tick) bool {
	for len(x.others) > 0 {
		a := x.others[0]
		if x.w.old.Work[x.w.was[a]].Start >= to {
			break
		}
		if !x.work(a) {
			return false
		}
		x.others = x.others[1:]
	}
	for i := range x.w.old.Mixes {
		m := &x.w.old.Mixes[i]
		if m.Start < x.made || m.Start >= to || !x.w.stays(x.w.mixes[i]) || x.w.made(m) {
			continue
		}
		if !x.names.mix(x.b, m) {
			return false
		}
	}
	x.made = to
	return true
}

// first tells whether a slot is the first of the others on its place that is set up for
// something: its changeover is judged when all that comes before it is placed.
func (x *besides) first(station int32, place int, s *slot) bool {
	if s.family < 0 || x.later[station][place] {
		return false
	}
	x.later[station][place] = true
	return true
}

// inHands lets the tools that somebody has be free again when the old plan says
// so: until then at least, when those who give them back are among the others.
func (b *board) inHands(w *window, inside []int32) {
	for h := range b.p.Holds {
		hold := &b.p.Holds[h]
		if k := w.was[inside[hold.Give]]; hold.Take < 0 && !b.at[hold.Give].on && k >= 0 {
			line := &b.units[hold.Pool][hold.Unit]
			last := &line.slots[len(line.slots)-1]
			last.to = max(last.from+1, w.old.Work[k].End+Tick(b.p.Pools[hold.Pool].Turnaround))
		}
	}
	for h := range w.p.Holds {
		hold := &w.p.Holds[h]
		if hold.Take >= 0 || w.in[hold.Give] {
			continue
		}
		to := w.old.Work[w.was[hold.Give]].End + Tick(w.p.Pools[hold.Pool].Turnaround)
		b.units[hold.Pool][hold.Unit].insert(slot{from: b.p.Now, start: b.p.Now, to: to, family: -1})
	}
}

// naming finds things by the names a plan has for them.
type naming struct {
	crews, resins map[string]int32
	asked         string // crew, the last time
	found         int32
	units         []map[string]int32
}

func newlyNamed(p *scheduler.Problem) *naming {
	x := &naming{crews: map[string]int32{}, resins: map[string]int32{}}
	for i := range p.Crews {
		x.crews[p.Crews[i].ID] = int32(i)
	}
	for i := range p.Resins {
		x.resins[p.Resins[i].ID] = int32(i)
	}
	for i := range p.Pools {
		units := make(map[string]int32, len(p.Pools[i].Units))
		for u, name := range p.Pools[i].Units {
			units[name] = int32(u)
		}
		x.units = append(x.units, units)
	}
	return x
}

// crew finds a crew; one often does several things in turn.
func (x *naming) crew(id string) (crew int32, known bool) {
	if id == x.asked && id != "" {
		return x.found, true
	}
	if crew, known = x.crews[id]; known {
		x.asked, x.found = id, crew
	}
	return crew, known
}

// work takes what one planned operation takes; members of a load share a place
// and the people of the first.
func (x *besides) work(a int32) bool {
	b, w, names := x.b, x.w, x.names
	act, was := &w.p.Acts[a], &w.old.Work[w.was[a]]
	md := &w.p.Modes[w.mode[a]]
	station := md.Station
	if i := w.loadOf[a]; i < 0 || w.loads[i].acts[0] == a {
		s := slot{from: was.Setup, start: was.Start, to: was.End, family: -1}
		if b.p.Stations[station].Families > 0 {
			s.family = md.Family
		}
		line := &b.places[station][was.Place-1]
		if s.from < s.to && !line.free(s.from, s.to) {
			return false
		}
		s.loose = x.first(station, was.Place-1, &s)
		b.occupy(station, int32(was.Place-1), s)
	}
	list := b.scratch.service[:0]
	lead := int32(-1) // of the people of a run that pauses, the first decide when
	for i := range was.People {
		use := &was.People[i]
		crew, known := names.crew(use.Crew)
		if !known {
			return false
		}
		from, to := during(was, use.Part)
		if !act.MayPause || use.Part != resources.PartRun {
			list = served(list, service{crew, from, to, use.Share})
			continue
		}
		if lead < 0 {
			lead = crew
		}
		if !b.besidePausing(station, lead, crew, from, to, use.Share) {
			return false
		}
	}
	for _, x := range list {
		if !b.besideCrew(x.crew, x.from, x.to, x.share) {
			return false
		}
	}
	b.scratch.service = list
	for i, h := range act.Holds {
		if i >= len(was.Tools) || !names.tool(b, w, h, was.Tools[i], was.Setup) {
			return false
		}
	}
	for _, d := range act.Draws {
		if b.stocks[d.Stock].fit(was.Start, d.Quantity) != was.Start {
			return false
		}
		b.stocks[d.Stock].give(was.Start, -d.Quantity)
	}
	return act.Resin < 0 || names.draw(b, act, was)
}

// modeAt is the activity's mode on a station, -1 when it has none.
func modeAt(p *scheduler.Problem, act *scheduler.Act, station string) int32 {
	for k := act.ModeAt; k < act.ModeTo; k++ {
		if p.Stations[p.Modes[k].Station].ID == station {
			return k
		}
	}
	return -1
}

// during is the stretch of one part of planned work.
func during(w *scheduler.Work, part resources.Part) (from, to Tick) {
	switch part {
	case resources.PartSetup:
		return w.Setup, w.Start
	case resources.PartLoad:
		return w.Start, w.Run
	case resources.PartRun:
		return w.Run, w.RunEnd
	}
	return w.Unload, w.End
}

// besideCrew takes a crew, if it has that many people free then.
func (b *board) besideCrew(crew int32, from, to Tick, share int64) bool {
	return b.crews[crew].take(from, to, share) >= 0
}

// besidePausing takes a crew while the run goes on; see commitPausing.
func (b *board) besidePausing(station, lead, crew int32, from, to Tick, share int64) bool {
	st := &b.p.Stations[station]
	for at := from; at < to; {
		start, end := b.working(st, lead, at)
		if start >= to {
			break
		}
		end = min(end, to)
		if !b.besideCrew(crew, start, end, share) {
			return false
		}
		at = end
	}
	return true
}

// tool keeps a unit from the changeover to when it has been given back and
// made ready.
func (x *naming) tool(b *board, w *window, h int32, mark string, from Tick) bool {
	hold := &w.p.Holds[h]
	unit, known := x.units[hold.Pool][mark]
	give := w.was[hold.Give]
	if !known || give < 0 {
		return false
	}
	to := w.old.Work[give].End + Tick(w.p.Pools[hold.Pool].Turnaround)
	line := &b.units[hold.Pool][unit]
	if !line.free(from, to) {
		return false
	}
	line.insert(slot{from: from, start: from, to: to, family: -1})
	return true
}

// draw takes the resin of a mix that is there already; one to be made is kept
// whole.
func (x *naming) draw(b *board, act *scheduler.Act, was *scheduler.Work) bool {
	list := b.mixes[act.Resin]
	for i := range list {
		if list[i].fact < 0 || b.p.Mixes[list[i].fact].ID != was.Mix {
			continue
		}
		if list[i].grams+act.Grams > list[i].room || list[i].expiry < was.RunEnd {
			return false
		}
		list[i].grams += act.Grams
	}
	return true
}

// mix takes the room and the person of a mix to be made.
func (x *naming) mix(b *board, m *scheduler.Mix) bool {
	resin, known := x.resins[m.Resin]
	if !known {
		return false
	}
	r := &b.p.Resins[resin]
	if r.Station >= 0 {
		if m.Place > len(b.places[r.Station]) || !b.places[r.Station][m.Place-1].free(m.Start, m.End) {
			return false
		}
		b.occupy(r.Station, int32(m.Place-1), slot{from: m.Start, start: m.Start, to: m.End, family: -1})
	}
	if m.Crew == "" {
		return true
	}
	crew, known := x.crew(m.Crew)
	return known && b.besideCrew(crew, m.Start, m.End, r.Share)
}
