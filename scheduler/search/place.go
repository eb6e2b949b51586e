// SPDX-License-Identifier: Apache-2.0

package search

import (
	"fmt"

	"towpath/resources"
	"towpath/scheduler"
)

// tries bounds how often one placement may look again; a placement that needs
// more is given up as impossible.
const tries = 20000

// place puts the node where it ends first, loading not before t: on the wanted
// station if that is one of its options, else on any. A wish that is soft
// counts only while the node can start at t there. False, and nothing changed,
// when there is no such place within the horizon.
func (b *board) place(n *node, t Tick, want int32, soft bool) bool {
	if want >= 0 && len(n.options) > 1 {
		for i := range n.options {
			if n.options[i].station != want {
				continue
			}
			if soft {
				b.begin(n, i)
				ok := b.earliest(n, &n.options[i], t, never)
				if ok && b.scratch.try.start <= t {
					found := b.scratch.try
					found.on, found.node = true, n
					return b.commit(n, &n.options[i], &found)
				}
				b.scratch.wish.keep(&b.scratch.try)
				b.scratch.wish.on = ok
				return b.placeAmong(n, t, n.options, 0, i)
			}
			if b.placeAmong(n, t, n.options[i:i+1], i, -1) {
				return true
			}
		}
	}
	return b.placeAmong(n, t, n.options, 0, -1)
}

// placeAmong is place on some of the options, which begin at number first. What
// comes of option number wished, if that is one of them, scratch.wish says already.
func (b *board) placeAmong(n *node, t Tick, options []option, first, wished int) bool {
	best := &b.scratch.best
	best.on = false
	for i := range options {
		paces := b.paces(n, &options[i])
		if len(paces) == 0 {
			if first+i != wished {
				b.sooner(n, &options[i], first+i, t, best)
			} else if wish := &b.scratch.wish; wish.on {
				best.sooner(wish)
			}
			continue
		}
		for _, crew := range paces {
			b.scratch.pace = crew
			b.sooner(n, &options[i], first+i, t, best)
		}
		b.scratch.pace = -1
	}
	if !best.on {
		return false
	}
	best.node = n
	return b.commit(n, &n.options[best.option], best)
}

// sooner tries one of the node's options and keeps the best placement so far:
// what ends first, and of such what begins last.
func (b *board) sooner(n *node, o *option, number int, t Tick, best *placed) {
	b.begin(n, number)
	limit := never
	if best.on {
		limit = best.end
	}
	if b.earliest(n, o, t, limit) {
		best.sooner(&b.scratch.try)
	}
}

// sooner makes a placement another one if that is better.
func (best *placed) sooner(try *placed) {
	if !best.on || try.end < best.end || try.end == best.end && try.start > best.start {
		best.keep(try)
		best.on = true
	}
}

// keep makes a placement a copy of another one, in its own memory.
func (t *placed) keep(from *placed) {
	crew := append(t.crew[:0], from.crew...)
	*t = *from
	t.crew = crew
}

// begin makes scratch.try a placement of one of the node's options, nothing of
// it settled yet.
func (b *board) begin(n *node, option int) {
	b.scratch.crew = nobody(b.scratch.crew, n.options[option].people)
	b.scratch.try = placed{option: int32(option), mix: -1, crew: b.scratch.crew}
}

// earliest finds the first start of loading at or after t on one station and
// leaves it in scratch.try. It gives up once the end would pass limit.
func (b *board) earliest(n *node, o *option, t, limit Tick) bool {
	st := &b.p.Stations[o.station]
	try := &b.scratch.try
	least := Tick(o.load + o.run + o.unload)
	for range tries {
		if t >= b.p.End || t+least > limit {
			return false
		}
		start, gapEnd, ok := b.inHand(n, o, t, least)
		if !ok || b.changeover(st, try) != start { // it cannot wait that long: the people go, or the station closes
			start, gapEnd, ok = b.gap(n, o, st, t, least)
		}
		if !ok {
			return false
		}
		t = start
		next := b.timing(n, o, st, try)
		if next == t && try.end > gapEnd {
			next = max(t+1, gapEnd)
		}
		if next == t {
			next = b.tools(n, try)
		}
		if next == t {
			next = b.supplies(n, try)
		}
		if next == t {
			next = b.resin(n, try)
		}
		if next == t {
			return try.end <= limit
		}
		t = next
	}
	return false
}

// inHand keeps a changeover that people have begun, as published: false when
// the node has none. It may wait for its work, which then starts later than
// published; nobody does it twice. While other work is not reported finished
// there, or a tool for it is elsewhere, nobody has begun it.
func (b *board) inHand(n *node, o *option, t, least Tick) (start, end Tick, ok bool) {
	if !n.frozen {
		return 0, 0, false
	}
	was := b.p.Acts[n.acts[0]].Was
	if was == nil || was.Setup >= b.p.Now || was.Setup == was.Start ||
		b.p.Modes[was.Mode].Station != o.station || int(was.Place) >= len(b.places[o.station]) {
		return 0, 0, false
	}
	line := &b.places[o.station][was.Place]
	start = max(was.Start, t, b.p.Now)
	if !line.free(b.p.Now-1, start+least) {
		return 0, 0, false
	}
	end = never
	if i := line.after(b.p.Now); i < len(line.slots) {
		if o.crowds(&b.p.Stations[o.station], &line.slots[i]) {
			return 0, 0, false
		}
		end = line.slots[i].from
	}
	try := &b.scratch.try
	try.place, try.setup, try.start = was.Place, was.Setup, start
	try.ready = b.readyBy(o, try)
	return start, end, b.tools(n, try) == start
}

// readyBy is when the changeover of a placement is over: at its start or, where
// people have it in hand, when it has lasted as long as one does from what the
// station is set up for now.
func (b *board) readyBy(o *option, t *placed) Tick {
	st := &b.p.Stations[o.station]
	if t.setup >= b.p.Now || o.family < 0 {
		return t.start
	}
	return min(t.start, t.setup+Tick(st.SetupTime[st.Families*st.Families+o.family]))
}

// gap finds the station place where loading can start earliest, at or after t,
// with room for the changeover before it and for least seconds from there; it
// fills in place, setup and start and says where the gap ends.
func (b *board) gap(n *node, o *option, st *scheduler.StationP, t, least Tick) (start, end Tick, ok bool) {
	start = never
	try := &b.scratch.try
	if k := b.wasPlace(n, o); k >= 0 {
		s, setup, e := b.gapAt(&b.places[o.station][k], o, st, t, least, never)
		if s == t {
			try.place, try.setup, try.ready, try.start = k, setup, s, s
			return s, e, true
		}
	}
	for k := range b.places[o.station] {
		s, setup, e := b.gapAt(&b.places[o.station][k], o, st, t, least, start)
		if s < start {
			start, end = s, e
			try.place, try.setup, try.ready, try.start = int32(k), setup, s, s
		}
		if start == t {
			break
		}
	}
	if start > t {
		if s, e, ok := b.seats(o, t, least, start); ok {
			start, end = s, e
			try.place, try.setup, try.ready, try.start = anyPlace, s, s, s
		}
	}
	return start, end, start < never
}

// wasPlace is the place the published plan has the node on, when it is to be
// kept and there are several; else -1.
func (b *board) wasPlace(n *node, o *option) int32 {
	if !b.scratch.keep || len(b.places[o.station]) < 2 {
		return -1
	}
	was := b.p.Acts[n.acts[0]].Was
	if was == nil || b.p.Modes[was.Mode].Station != o.station || int(was.Place) >= len(b.places[o.station]) {
		return -1
	}
	return was.Place
}

// gapAt is gap on one place; starts at or after beat are not worth finding.
func (b *board) gapAt(line *timeline, o *option, st *scheduler.StationP, t, least, beat Tick) (start, setup, end Tick) {
	for i := line.after(t); ; i++ {
		from := b.p.Now
		family := st.Families // as it is now
		if i > 0 {
			from = line.slots[i-1].to
			if line.slots[i-1].family >= 0 {
				family = line.slots[i-1].family
			}
		}
		change := Tick(0)
		if o.family >= 0 {
			change = Tick(st.SetupTime[family*st.Families+o.family])
		}
		start = max(t, from+change)
		if start >= beat {
			return never, 0, 0
		}
		end = never
		if i < len(line.slots) {
			next := &line.slots[i]
			end = next.from
			if o.crowds(st, next) {
				continue
			}
		}
		if start+least <= end {
			return start, start - change, end
		}
		if i >= len(line.slots) {
			return never, 0, 0
		}
	}
}

// crowds says whether the changeover of what comes next at a station would be
// too short after the option's work.
func (o *option) crowds(st *scheduler.StationP, next *slot) bool {
	return o.family >= 0 && next.family >= 0 && !next.loose &&
		Tick(st.SetupTime[o.family*st.Families+next.family]) > next.start-next.from
}

// timing lays the parts out from try.start on and finds their people. It
// returns try.start when that works, else the next start worth trying.
func (b *board) timing(n *node, o *option, st *scheduler.StationP, try *placed) Tick {
	t := try.start
	try.run = t + Tick(o.load)
	k := 0
	if next := b.changeover(st, try); next != t {
		return next
	}
	k++
	if next := b.inside(o, st, resources.PartLoad, t, try.run, t); next != t {
		return next
	}
	if next := b.people(o, resources.PartLoad, t, try.run, t, &k, try); next != t {
		return next
	}
	if n.mayPause {
		if next := b.pausing(o, st, try, &k); next != t {
			return next
		}
	} else {
		try.runEnd = try.run + Tick(o.run)
		if next := b.inside(o, st, resources.PartRun, try.run, try.runEnd, t); next != t {
			return next
		}
		from := try.setup
		if from < b.p.Now {
			from = t // of a changeover in hand the rest may be done today, and the work tomorrow
		}
		if next := b.whole(st, from, try.runEnd, t); next != t {
			return next
		}
		if next := b.people(o, resources.PartRun, try.run, try.runEnd, t, &k, try); next != t {
			return next
		}
	}
	return b.unloading(o, st, try, &k)
}

// changeover checks the time before the start: not in the past, and with the
// people it needs.
func (b *board) changeover(st *scheduler.StationP, try *placed) Tick {
	t := try.start
	try.crew[0] = -1
	// Of a changeover in hand only the rest is still to be done.
	from, to := max(try.setup, b.p.Now), try.ready
	if from >= to {
		return t
	}
	if st.SetupSkill >= 0 {
		if !st.Always {
			if next := openFrom(st.Open, from, to-from); next != from {
				return t + next - from
			}
		}
		crew, next := b.crewFor(resources.PartSetup, st.SetupSkill, st.SetupShare, from, to, nil)
		if next != from {
			return later(t, next-from)
		}
		try.crew[0] = crew
		return t
	}
	return b.inside(nil, st, resources.PartSetup, from, to, t)
}

// later is t moved by, or never.
func later(t, by Tick) Tick {
	if by >= never/2 {
		return never
	}
	return t + by
}

// inside checks one part against the station's opening hours and stops.
func (b *board) inside(o *option, st *scheduler.StationP, part resources.Part, from, to, t Tick) Tick {
	if from == to {
		return t
	}
	for _, stop := range st.Stops {
		if from < stop.End && to > stop.Start {
			return t + stop.End - from
		}
	}
	attended := o != nil && len(o.needs[part]) > 0
	if st.Always || st.Unattended && !attended {
		return t
	}
	return later(t, openFrom(st.Open, from, to-from)-from)
}

// whole checks that work which may not pause fits one opening of a station
// that does not run alone.
func (b *board) whole(st *scheduler.StationP, from, to, t Tick) Tick {
	if st.Always || st.Unattended || from == to {
		return t
	}
	return later(t, openFrom(st.Open, from, to-from)-from)
}

// openFrom is the first instant at or after from that has length open seconds
// ahead of it in one stretch.
func openFrom(open []resources.Interval, from, length Tick) Tick {
	for i := firstOpen(open, from); i < len(open); i++ {
		if s := max(from, open[i].Start); s+length <= open[i].End {
			return s
		}
	}
	return never
}

// firstOpen is the first opening that ends after t.
func firstOpen(open []resources.Interval, t Tick) int {
	lo, hi := 0, len(open)
	for lo < hi {
		mid := int(uint(lo+hi) >> 1)
		if open[mid].End > t {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo
}

// people finds crews for the needs of one part on [from, to).
func (b *board) people(o *option, part resources.Part, from, to, t Tick, k *int, try *placed) Tick {
	first := *k
	for _, nd := range o.needs[part] {
		crew, next := b.crewFor(part, nd.skill, nd.share, from, to, b.same(o.needs[part], try.crew[first:*k]))
		if next != from {
			return later(t, next-from)
		}
		try.crew[*k] = crew
		*k++
	}
	return t
}

// taken is what earlier needs of the same part have from a crew.
type taken struct {
	needs []need
	crews []int32
}

func (b *board) same(needs []need, crews []int32) *taken {
	if len(crews) == 0 {
		return nil
	}
	return &taken{needs: needs, crews: crews}
}

func (t *taken) of(crew int32) int64 {
	if t == nil {
		return 0
	}
	var sum int64
	for i, c := range t.crews {
		if c == crew {
			sum += t.needs[i].share
		}
	}
	return sum
}

// crewFor finds the crew of a skill that is free soonest at or after from, for
// as long as to-from; of equals the first, as the fine search has them turned
// for the part. Work of no length needs nobody.
func (b *board) crewFor(part resources.Part, skill int32, share int64, from, to Tick, so *taken) (crew int32, at Tick) {
	crew, at = -1, never
	crews := b.p.Skills[skill].Crews
	for i := range crews {
		c := b.scratch.fine.turn.of(part, crews, i)
		next := from
		if from < to {
			next = b.crews[c].fit(from, Seconds(to-from), share+so.of(c))
		}
		if next < at {
			crew, at = c, next
		}
		if at == from {
			break
		}
	}
	return crew, at
}

// unloading finds when the work can be taken out: at once, or, where it may
// wait inside, when the station is open and people are there.
func (b *board) unloading(o *option, st *scheduler.StationP, try *placed, k *int) Tick {
	t := try.start
	first := *k
	at := try.runEnd
	if o.wait {
		at = max(at, b.scratch.out)
	}
	for range tries {
		*k = first
		try.unload, try.end = at, at+Tick(o.unload)
		if try.end > b.p.End {
			return never
		}
		next := b.inside(o, st, resources.PartUnload, at, try.end, at)
		if next == at && !st.Always && !st.Unattended && o.unload > 0 {
			next = openFrom(st.Open, at, Tick(o.unload))
		}
		if next == at {
			next = b.people(o, resources.PartUnload, at, try.end, at, k, try)
		}
		if next == at {
			return t
		}
		if next >= never {
			return never
		}
		if !o.wait {
			return later(t, next-try.runEnd)
		}
		at = next
	}
	return never
}

// tools finds a unit for every hold that begins here; the units are chosen
// again when the node is put down.
func (b *board) tools(n *node, try *placed) Tick {
	if n.holds == 0 {
		return try.start
	}
	at := try.setup
	for _, a := range n.acts {
		for _, h := range b.p.Acts[a].Holds {
			at = max(at, b.poolFrom(n, h, try.setup))
		}
	}
	return later(try.start, at-try.setup)
}

// poolFrom is the first instant from t on at which as many units of the hold's
// pool are free for long enough as the node takes from it.
func (b *board) poolFrom(n *node, h int32, t Tick) Tick {
	pool := b.p.Holds[h].Pool
	wanted, stay := 0, Tick(0)
	for _, a := range n.acts {
		for _, x := range b.p.Acts[a].Holds {
			if b.p.Holds[x].Pool == pool {
				wanted++
				stay = max(stay, Tick(b.stay[x]))
			}
		}
	}
	b.scratch.free = b.scratch.free[:0]
	for u := range b.units[pool] {
		b.scratch.free = append(b.scratch.free, b.units[pool][u].freeFrom(t, stay))
	}
	if wanted > len(b.scratch.free) {
		return never
	}
	return nth(b.scratch.free, wanted)
}

// freeFrom is the first instant from t on with stay free seconds ahead.
func (l *timeline) freeFrom(t, stay Tick) Tick {
	for i := l.after(t); i < len(l.slots); i++ {
		if t+stay <= l.slots[i].from {
			return t
		}
		t = max(t, l.slots[i].to)
	}
	return t
}

// nth is the k-th smallest (k from 1) of a short list, which it reorders.
func nth(list []Tick, k int) Tick {
	for i := range k {
		low := i
		for j := i + 1; j < len(list); j++ {
			if list[j] < list[low] {
				low = j
			}
		}
		list[i], list[low] = list[low], list[i]
	}
	return list[k-1]
}

// wanting says why no time was found for a node.
func (b *board) wanting(n *node) string {
	for _, a := range n.acts {
		for _, d := range b.p.Acts[a].Draws {
			if b.stocks[d.Stock].fit(b.p.Now, d.Quantity) >= never {
				return fmt.Sprintf("there is not enough %s for it, now or in any receipt to come",
					b.p.Stocks[d.Stock].ID)
			}
		}
	}
	return "no time within the horizon has its station, people, tools and material together"
}

// supplies checks the material drawn when loading starts.
func (b *board) supplies(n *node, try *placed) Tick {
	at := try.start
	if n.draws == 0 {
		return at
	}
	for _, a := range n.acts {
		for _, d := range b.p.Acts[a].Draws {
			var all int64
			for _, other := range n.acts {
				for _, e := range b.p.Acts[other].Draws {
					if e.Stock == d.Stock {
						all += e.Quantity
					}
				}
			}
			at = max(at, b.stocks[d.Stock].fit(try.start, all))
		}
	}
	return at
}
