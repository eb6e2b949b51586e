// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// board is a schedule under construction: every station place, crew, tool
// unit, mix and stock with what has been put on it. Everything put on it is
// written in a journal, so that it can be taken off again in reverse order.
type board struct {
	m *model
	p *scheduler.Problem

	places  [][]timeline // per station and place
	crews   []profile
	shifts  []profile    // the crews' head count alone: when they work at all
	units   [][]timeline // per pool and unit
	mixes   [][]mix      // per resin
	mixDays [][][]int32  // per resin and day: those whose making ends then
	keeps   []Tick       // per resin: the longest any of its mixes lives
	lives   []Tick       // per resin: the longest any mix of it could live
	stocks  []stock
	at      []placed  // per act
	unitOf  []int32   // per hold; -1: not taken
	takenAt []Tick    // per hold: start of the changeover
	stay    []Seconds // per hold: how long a gap to look for; grows when a try shows it must
	clash   []int     // per hold: how often it has in this block
	hands   []int32   // memory for crews
	journal []entry
	scratch scratch
}

// placed is where an activity is; the zero value with on false means nowhere.
type placed struct {
	node   *node
	option int32
	place  int32
	mix    int32 // index into board.mixes of the node's resin; -1: none
	on     bool
	setup  Tick
	ready  Tick // the changeover is over; it then waits for start
	start  Tick
	run    Tick
	runEnd Tick
	unload Tick
	end    Tick
	crew   []int32 // crews in the order of the option's needs, the changeover's first; -1: nobody
}

// mix is a batch of resin on the board.
type mix struct {
	fact   int32 // index into Problem.Mixes; -1: to be made
	place  int32
	crew   int32
	start  Tick
	end    Tick
	expiry Tick
	grams  int64 // drawn
	room   int64 // most that may be drawn
}

// stock is a material: what each window between receipts has left at its end.
type stock struct {
	from []Tick
	left []int64
}

type entryKind uint8

const (
	tookPlace entryKind = iota
	movedSeat
	tookCrew
	tookUnit
	longerUnit
	newMix
	drewMix
	drewStock
	putNode
)

// entry is one change of the board, enough to undo it.
type entry struct {
	kind  entryKind
	a, b  int32
	from  Tick
	to    Tick
	share int64
}

// scratch is working space of one placement.
type scratch struct {
	try     placed
	wish    placed  // the node in hand where it should go, found at once
	crew    []int32 // of try
	best    placed  // the best option so far
	free    []Tick
	moved   []moved
	service []service
	work    []resources.Interval
	mix     mix
	asked   asking // whose mix it is
	out     Tick   // no unloading before, where the work may wait inside
	fine    fine   // of the node in hand
	pace    int32  // crew that a run which pauses is for; -1: any
	keep    bool   // place and tools as the published plan has them, where they are free
}

func newBoard(m *model) *board {
	p := m.p
	b := &board{m: m, p: p}
	b.places = make([][]timeline, len(p.Stations))
	for i := range p.Stations {
		b.places[i] = make([]timeline, p.Stations[i].Places)
		for _, x := range p.Stations[i].Busy {
			if line := &b.places[i][x.Place]; line.free(p.Now, x.Until) {
				line.insert(slot{from: p.Now, start: p.Now, to: x.Until, family: -1})
			}
		}
	}
	b.shifts = m.headCounts()
	for i := range b.shifts {
		b.crews = append(b.crews, b.shifts[i].copy())
	}
	b.units = make([][]timeline, len(p.Pools))
	for i := range p.Pools {
		b.units[i] = make([]timeline, len(p.Pools[i].Units))
	}
	b.mixes = make([][]mix, len(p.Resins))
	b.mixDays = make([][][]int32, len(p.Resins))
	b.keeps = make([]Tick, len(p.Resins))
	for r := range p.Resins {
		longest := Seconds(0)
		for _, step := range p.Resins[r].Life {
			longest = max(longest, step.Life)
		}
		b.lives = append(b.lives, Tick(longest))
		b.mixDays[r] = make([][]int32, b.mixDay(p.End)+1)
	}
	for i := range p.Mixes {
		f := &p.Mixes[i]
		x := mix{fact: int32(i), crew: -1, start: f.Made, end: f.Made, expiry: f.Expiry, room: f.Left}
		if f.Hand {
			x.start, x.place, x.crew = f.Start, f.Place, f.Crew
			b.mixInHand(f)
		}
		b.addMix(f.Resin, x)
	}
	for i := range p.Stocks {
		s := stock{}
		for _, step := range p.Stocks[i].Steps {
			s.from = append(s.from, step.At)
			s.left = append(s.left, step.Cap)
		}
		b.stocks = append(b.stocks, s)
	}
	b.at = make([]placed, len(p.Acts))
	b.unitOf = make([]int32, len(p.Holds))
	b.takenAt = make([]Tick, len(p.Holds))
	b.stay = slices.Clone(m.stay)
	b.scratch.pace = -1
	b.clash = make([]int, len(p.Holds))
	for h := range p.Holds {
		b.unitOf[h] = -1
		if p.Holds[h].Take < 0 {
			b.holdFrom(int32(h), p.Holds[h].Unit, p.Now, never)
		}
	}
	b.unitsAway()
	b.placeFixed()
	return b
}

// unitsAway keeps tool units that nobody can have yet. One in somebody's hands
// is kept by its hold; see giveBack for what comes after.
func (b *board) unitsAway() {
	for i := range b.p.Pools {
		for u, free := range b.p.Pools[i].FreeAt {
			if free > b.p.Now && len(b.units[i][u].slots) == 0 {
				b.units[i][u].insert(slot{from: b.p.Now, start: b.p.Now, to: free, family: -1})
			}
		}
	}
}

// mixInHand keeps place and crew for what is left of making a mix.
func (b *board) mixInHand(f *scheduler.MixP) {
	r := &b.p.Resins[f.Resin]
	if f.Made <= b.p.Now || r.Station < 0 {
		return
	}
	b.takePlace(r.Station, f.Place, slot{from: b.p.Now, start: b.p.Now, to: f.Made, family: -1})
	if f.Crew >= 0 {
		b.takeCrew(f.Crew, b.p.Now, f.Made, r.Share)
	}
}

// room makes room on the places for so many slots more.
func (b *board) room(count [][]int) {
	for s := range b.places {
		for k := range b.places[s] {
			line := &b.places[s][k]
			line.slots = slices.Grow(line.slots, count[s][k])
		}
	}
}

// nobody is room for so many crews, none of them chosen yet.
func nobody(room []int32, count int) []int32 {
	room = room[:0]
	for range count {
		room = append(room, -1)
	}
	return room
}

// placeFixed puts started work where it is, in the order in which it started.
func (b *board) placeFixed() {
	done := map[int32]bool{}
	var nodes []*node
	for a := range b.p.Acts {
		act := &b.p.Acts[a]
		if act.Fixed == nil {
			continue
		}
		n := b.m.singles[a]
		if act.Load >= 0 {
			if done[act.Load] {
				continue
			}
			done[act.Load] = true
			n = b.m.settled[act.Load]
		}
		nodes = append(nodes, n)
	}
	slices.SortStableFunc(nodes, func(x, y *node) int { return cmp.Compare(x.fixed.Start, y.fixed.Start) })
	for _, n := range nodes {
		b.putFixed(n)
	}
}

func (b *board) putFixed(n *node) {
	f := n.fixed
	o := &n.options[0]
	t := placed{
		on: true, node: n, place: min(f.Place, int32(len(b.places[o.station])-1)), mix: -1,
		setup: f.Setup, start: f.Start, run: f.Run, runEnd: f.RunEnd, unload: f.Unload, end: f.End,
	}
	t.crew = nobody(b.scratch.crew, o.people)
	from, to := max(f.Setup, b.p.Now), f.End
	line := &b.places[o.station][t.place]
	if from < to {
		// Of two that are both under way there, as far as is reported, the later
		// has the place after the other, and the station is set up for it.
		if !line.free(from, to) {
			from = max(from, line.slots[len(line.slots)-1].to)
			to = max(to, from)
		}
		b.takePlace(o.station, t.place, slot{from: from, start: from, to: to, family: o.family, begun: true})
	} else if o.family >= 0 {
		b.takePlace(o.station, t.place, slot{from: b.p.Now - 1, start: b.p.Now - 1, to: b.p.Now, family: o.family, begun: true})
	}
	b.fixedCrew(n, o, &t)
	b.put(n, &t)
	b.giveAll(n, &t, b.mark())
}

// whoServes guesses which crew serves started work: the first with nothing else
// to do then, else the first that is there.
func (b *board) whoServes(nd need, at Tick) int32 {
	crews := b.p.Skills[nd.skill].Crews
	for _, free := range []func(c int32) bool{
		func(c int32) bool { return b.crews[c].at(at) >= nd.share },
		func(c int32) bool { return b.shifts[c].at(at) > 0 },
	} {
		if i := slices.IndexFunc(crews, free); i >= 0 {
			return crews[i]
		}
	}
	return crews[0]
}

// fixedCrew gives started work its people for what is left of it.
func (b *board) fixedCrew(n *node, o *option, t *placed) {
	k := 1
	for part := resources.PartLoad; part < resources.NumParts; part++ {
		from, to := t.part(part)
		for _, nd := range o.needs[part] {
			crew := b.whoServes(nd, max(from, b.p.Now))
			t.crew[k] = crew
			k++
			b.works(crew, max(from, b.p.Now), to, n.mayPause && part == resources.PartRun, nd.share)
		}
	}
}

// part is the stretch of one part of an operation.
func (t *placed) part(p resources.Part) (from, to Tick) {
	switch p {
	case resources.PartSetup:
		return t.setup, t.start
	case resources.PartLoad:
		return t.start, t.run
	case resources.PartRun:
		return t.run, t.runEnd
	}
	return t.unload, t.end
}

// free tells whether nothing occupies [from, to).
func (l *timeline) free(from, to Tick) bool {
	i := l.after(from)
	return i == len(l.slots) || l.slots[i].from >= to
}

// works takes a share of a crew on [from, to), only while the crew works at
// all when the work may pause.
func (b *board) works(crew int32, from, to Tick, pauses bool, share int64) {
	if !pauses {
		b.takeCrew(crew, from, to, share)
		return
	}
	for from < to {
		start, end := b.shifts[crew].open(from)
		if start >= to {
			return
		}
		b.takeCrew(crew, start, min(end, to), share)
		from = end
	}
}

func (b *board) mark() int { return len(b.journal) }

// occupy is takePlace for good: no undo gives the place back. False when there is
// nothing to take.
func (b *board) occupy(station, place int32, s slot) bool {
	if s.from >= s.to && s.family < 0 {
		return false
	}
	b.places[station][place].insert(s)
	return true
}

func (b *board) takePlace(station, place int32, s slot) {
	if !b.occupy(station, place, s) {
		return
	}
	b.journal = append(b.journal, entry{kind: tookPlace, a: station, b: place, from: s.from, to: s.to})
}

func (b *board) takeCrew(crew int32, from, to Tick, share int64) {
	if from >= to {
		return
	}
	b.crews[crew].take(from, to, share)
	b.journal = append(b.journal, entry{kind: tookCrew, a: crew, from: from, to: to, share: share})
}

// holdFrom begins a hold on a unit; its end is put right when it is given back.
func (b *board) holdFrom(h, unit int32, from, to Tick) {
	b.units[b.p.Holds[h].Pool][unit].insert(slot{from: from, start: from, to: to, family: -1})
	b.unitOf[h] = unit
	b.takenAt[h] = from
	b.journal = append(b.journal, entry{kind: tookUnit, a: h, b: unit, from: from, to: to})
}

// giveBack ends a hold at to; false when somebody else has the unit before. A
// unit that was in somebody's hands from the beginning may be wanted elsewhere
// for some time after that, for a repair.
func (b *board) giveBack(h int32, to Tick) bool {
	unit := b.unitOf[h]
	if b.p.Holds[h].Take < 0 {
		to = max(to, b.p.Pools[b.p.Holds[h].Pool].FreeAt[unit])
	}
	line := &b.units[b.p.Holds[h].Pool][unit]
	i := line.after(b.takenAt[h])
	if i == len(line.slots) {
		return false
	}
	if i+1 < len(line.slots) && line.slots[i+1].from < to {
		return false
	}
	b.journal = append(b.journal, entry{kind: longerUnit, a: h, from: line.slots[i].from, to: line.slots[i].to})
	line.slots[i].to = max(to, line.slots[i].from+1)
	return true
}

// put notes where a node is. The crews are kept in memory of the first
// activity's own, as the placement's may be used again.
func (b *board) put(n *node, t *placed) {
	first := n.acts[0]
	crew := append(b.crewRoom(first, len(t.crew)), t.crew...)
	for _, a := range n.acts {
		b.at[a] = *t
		b.at[a].crew = nil
	}
	b.at[first].crew = crew
	b.journal = append(b.journal, entry{kind: putNode, a: first})
}

// crewRoom is an activity's memory for so many crews.
func (b *board) crewRoom(a int32, count int) []int32 {
	if room := b.at[a].crew; cap(room) >= count {
		return room[:0]
	}
	if len(b.hands) < count {
		b.hands = make([]int32, 1000+count)
	}
	room := b.hands[:0:count]
	b.hands = b.hands[count:]
	return room
}

// undo takes everything off the board that was put on it after mark.
func (b *board) undo(mark int) {
	for i := len(b.journal) - 1; i >= mark; i-- {
		b.undoOne(&b.journal[i])
	}
	b.journal = b.journal[:mark]
}

func (b *board) undoOne(e *entry) {
	switch e.kind {
	case tookPlace:
		b.places[e.a][e.b].remove(e.from, e.to)
	case movedSeat:
		b.sitBack(e)
	case tookCrew:
		b.crews[e.a].take(e.from, e.to, -e.share)
	case tookUnit:
		b.units[b.p.Holds[e.a].Pool][e.b].remove(e.from, e.to)
		b.unitOf[e.a] = -1
	case longerUnit:
		line := &b.units[b.p.Holds[e.a].Pool][b.unitOf[e.a]]
		line.slots[line.after(e.from)].to = e.to
	case newMix:
		b.dropMix(e.a)
	case drewMix:
		b.mixes[e.a][e.b].grams -= e.share
	case drewStock:
		b.stocks[e.a].give(e.from, e.share)
	case putNode:
		for _, a := range b.at[e.a].node.acts {
			b.at[a].on = false
		}
	}
}

// window is the receipt window t lies in.
func (s *stock) window(t Tick) int {
	i := len(s.from) - 1
	for i > 0 && s.from[i] > t {
		i--
	}
	return i
}

// fit is the first instant from t on at which quantity can be drawn without
// taking it from anybody later.
func (s *stock) fit(t Tick, quantity int64) Tick {
	last := len(s.from) - 1
	for i, first := last, s.window(t); i >= first; i-- {
		if s.left[i] >= quantity {
			continue
		}
		if i == last {
			return never
		}
		return s.from[i+1]
	}
	return t
}

func (s *stock) give(t Tick, quantity int64) {
	for i := s.window(t); i < len(s.from); i++ {
		s.left[i] += quantity
	}
}
