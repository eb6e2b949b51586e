// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/resources"

// commit puts a found placement on the board. It is false, with the board as
// it was, when a tool given back here was promised to somebody else before
// that; the hold's stay has then grown, so that another try looks for a longer
// gap.
func (b *board) commit(n *node, o *option, t *placed) bool {
	mark := b.mark()
	s := slot{from: t.setup, start: t.start, to: t.end, family: o.family}
	if !b.scratch.keep && !n.frozen && o.family < 0 {
		s.owner = n.acts[0] + 1
	}
	if t.place == anyPlace {
		t.place = b.makeRoom(o.station, s)
	}
	b.takePlace(o.station, t.place, s)
	b.commitPeople(n, o, t)
	for _, a := range n.acts {
		if n.holds+n.draws == 0 {
			break
		}
		for i, h := range b.p.Acts[a].Holds {
			b.takeUnit(h, t.setup, b.wasUnit(a, i))
		}
		for _, d := range b.p.Acts[a].Draws {
			b.stocks[d.Stock].give(t.start, -d.Quantity)
			b.journal = append(b.journal, entry{kind: drewStock, a: d.Stock, from: t.start, share: d.Quantity})
		}
	}
	if t.mix >= 0 {
		b.drawMix(n, t)
	}
	b.put(n, t)
	return b.giveAll(n, t, mark)
}

// service is a stretch of time that a crew gives a share of.
type service struct {
	crew     int32
	from, to Tick
	share    int64
}

// served adds a stretch to a list; what goes on without a break is one.
func served(list []service, x service) []service {
	for i := range list {
		if y := &list[i]; y.crew == x.crew && y.share == x.share && y.to == x.from && y.from < y.to {
			y.to = max(y.to, x.to)
			return list
		}
	}
	return append(list, x)
}

// commitPeople takes the crews chosen for each part.
func (b *board) commitPeople(n *node, o *option, t *placed) {
	list := b.scratch.service[:0]
	if t.crew[0] >= 0 {
		list = served(list, service{t.crew[0], t.setup, t.ready, b.p.Stations[o.station].SetupShare})
	}
	k := 1
	for part := resources.PartLoad; part < resources.NumParts; part++ {
		from, to := t.part(part)
		pausing := n.mayPause && part == resources.PartRun
		for _, nd := range o.needs[part] {
			crew := t.crew[k]
			k++
			if from == to || crew < 0 {
				continue
			}
			if !pausing {
				list = served(list, service{crew, from, to, nd.share})
				continue
			}
			b.commitPausing(o, t, crew, nd.share)
		}
	}
	for _, x := range list {
		b.takeCrew(x.crew, x.from, x.to, x.share)
	}
	b.scratch.service = list
}

// commitPausing takes a crew only for the stretches in which the run goes on:
// those of the crew that decides, the first need's.
func (b *board) commitPausing(o *option, t *placed, crew int32, share int64) {
	st := &b.p.Stations[o.station]
	lead := t.crew[1+len(o.needs[resources.PartLoad])]
	for at := t.run; at < t.runEnd; {
		from, to := b.working(st, lead, at)
		if from >= t.runEnd {
			return
		}
		to = min(to, t.runEnd)
		b.takeCrew(crew, from, to, share)
		at = to
	}
}

// wasUnit is the mark the published plan has for an activity's tool, when that
// is to be kept.
func (b *board) wasUnit(a int32, i int) string {
	if was := b.p.Acts[a].Was; b.scratch.keep && was != nil && i < len(was.Tools) {
		return was.Tools[i]
	}
	return ""
}

// takeUnit begins a hold on the unit that was said before if it is free, else
// on the one that has been free for the shortest time and stays free long
// enough, so that long gaps stay whole.
func (b *board) takeUnit(h int32, from Tick, said string) {
	hold := &b.p.Holds[h]
	stay := Tick(b.stay[h])
	best, since := int32(-1), Tick(-1)
	for u := range b.units[hold.Pool] {
		line := &b.units[hold.Pool][u]
		if line.freeFrom(from, stay) != from {
			continue
		}
		idle := Tick(0)
		if i := line.after(from); i > 0 {
			idle = line.slots[i-1].to
		}
		if b.p.Pools[hold.Pool].Units[u] == said {
			best = int32(u)
			break
		}
		if idle > since {
			best, since = int32(u), idle
		}
	}
	b.holdFrom(h, best, from, from+max(stay, 1))
}

func (b *board) drawMix(n *node, t *placed) {
	if int(t.mix) == len(b.mixes[n.resin]) {
		r := &b.p.Resins[n.resin]
		x := b.mixFor(n, t)
		if r.Station >= 0 {
			b.takePlace(r.Station, x.place, slot{from: x.start, start: x.start, to: x.end, family: -1})
		}
		if x.crew >= 0 {
			b.takeCrew(x.crew, x.start, x.end, r.Share)
		}
		b.addMix(n.resin, x)
		b.journal = append(b.journal, entry{kind: newMix, a: n.resin})
	}
	b.mixes[n.resin][t.mix].grams += n.grams
	b.journal = append(b.journal, entry{kind: drewMix, a: n.resin, b: t.mix, share: n.grams})
}

// mixFor is the new mix that the winning option wanted. Scratch holds the last one that
// was looked for: that of another option, it may be, and then it is found again.
func (b *board) mixFor(n *node, t *placed) mix {
	own := b.p.Resins[n.resin].Station != n.options[t.option].station
	if !own || b.scratch.asked != t.asks() {
		b.newMix(n, t)
	}
	return b.scratch.mix
}

// asking is what a placement's mix depends on, for one node and a board as it is.
type asking struct {
	option, crew       int32
	setup, start, ends Tick
}

func (t *placed) asks() asking { return asking{t.option, t.crew[0], t.setup, t.start, t.runEnd} }

// giveAll ends the holds that end with this node. On a conflict the board goes
// back to mark.
func (b *board) giveAll(n *node, t *placed, mark int) bool {
	if n.gives == 0 {
		return true
	}
	for _, a := range n.acts {
		for _, h := range b.p.Acts[a].Gives {
			if b.unitOf[h] < 0 {
				continue
			}
			back := t.end + Tick(b.p.Pools[b.p.Holds[h].Pool].Turnaround)
			if b.giveBack(h, back) {
				continue
			}
			b.lengthen(h, Seconds(back-b.takenAt[h]))
			b.undo(mark)
			return false
		}
	}
	return true
}

// lengthen makes a hold look for a longer gap: as long as it turned out to
// need, after some tries twice as long as before, in the end one that never
// closes.
func (b *board) lengthen(h int32, needs Seconds) {
	b.clash[h]++
	switch {
	case b.clash[h] > 6:
		b.stay[h] = endless
	case b.clash[h] > 2:
		b.stay[h] = max(2*b.stay[h], needs)
	default:
		b.stay[h] = max(b.stay[h]+1, needs)
	}
}

// endless is longer than any gap between two plans for a tool.
const endless = Seconds(1) << 40
