// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/resources"
	"towpath/scheduler"
)

// resin finds the mix a node draws from: one that is there and lives long
// enough, or a new one made just in time. It fills in try.mix; for a new mix
// that is an index one past the last.
func (b *board) resin(n *node, try *placed) Tick {
	if n.resin < 0 || n.grams == 0 {
		return try.start
	}
	list := b.mixes[n.resin]
	best := int32(-1)
	last := b.mixDay(try.start)
	for day := b.mixDay(try.runEnd - b.keeps[n.resin]); day <= last; day++ {
		for _, i := range b.mixDays[n.resin][day] {
			x := &list[i]
			if x.end > try.start || x.expiry < try.runEnd || x.grams+n.grams > x.room {
				continue
			}
			if best < 0 || x.expiry < list[best].expiry {
				best = i
			}
		}
	}
	if best >= 0 && !b.scratch.fine.mix {
		try.mix = best
		return try.start
	}
	try.mix = int32(len(list))
	if try.crew[0] < 0 {
		return b.newMix(n, try)
	}
	// Who changes over for this work cannot mix for it at the same time.
	mark := b.mark()
	b.takeCrew(try.crew[0], max(try.setup, b.p.Now), try.ready, b.p.Stations[n.options[try.option].station].SetupShare)
	next := b.newMix(n, try)
	b.undo(mark)
	return next
}

// mixDay is the day, counted from now, under which a mix that ends at t is
// listed.
func (b *board) mixDay(t Tick) int {
	last := int((b.p.End - b.p.Now) / 86400)
	return min(max(int((t-b.p.Now)/86400), 0), last)
}

// addMix puts a mix on its list.
func (b *board) addMix(resin int32, x mix) {
	day := b.mixDay(x.end)
	b.mixDays[resin][day] = append(b.mixDays[resin][day], int32(len(b.mixes[resin])))
	b.mixes[resin] = append(b.mixes[resin], x)
	b.keeps[resin] = max(b.keeps[resin], x.expiry-x.end)
}

// dropMix takes the last mix off again.
func (b *board) dropMix(resin int32) {
	last := len(b.mixes[resin]) - 1
	day := b.mixDay(b.mixes[resin][last].end)
	b.mixDays[resin][day] = b.mixDays[resin][day][:len(b.mixDays[resin][day])-1]
	b.mixes[resin] = b.mixes[resin][:last]
}

// newMix looks for a time in the mix room that ends by the start of loading, as
// late as can be, so that the mix is fresh; earlier, where the room was cooler
// then and one made there lives longer. The find stays in scratch.mix.
func (b *board) newMix(n *node, try *placed) Tick {
	r := &b.p.Resins[n.resin]
	if n.grams+r.Heel > r.MaxMass {
		return never
	}
	x := &b.scratch.mix
	b.scratch.asked = try.asks()
	*x = mix{fact: -1, crew: -1, room: r.MaxMass - r.Heel}
	lead := b.scratch.fine.lead
	latest := try.start - Tick(r.Mixing) - lead
	pour := max(b.p.Now, b.scratch.fine.pour)
	oldest := max(pour, try.runEnd-b.lives[n.resin]-Tick(r.Mixing))
	last := b.mixRoomBefore(r, latest, oldest, x)
	for at, step := last, len(r.Life)-1; at >= oldest; at = b.mixRoomBefore(r, at, oldest, x) {
		x.start, x.end = at, at+Tick(r.Mixing)
		x.expiry = x.end + Tick(r.LifeAt(x.end))
		if x.expiry >= try.runEnd {
			return try.start
		}
		// Only one made before the last change of the room's temperature can
		// live longer.
		for ; step >= 0 && r.Life[step].At > x.end; step-- {
		}
		if step < 0 {
			break
		}
		at = min(at, r.Life[step].At-1-Tick(r.Mixing))
		step--
	}
	if lead > 0 {
		// None made so early will do.
		b.scratch.fine.lead = 0
		next := b.newMix(n, try)
		b.scratch.fine.lead = lead
		return next
	}
	if last == latest && latest >= pour {
		return resinAfter(r, try.start)
	}
	// No mix that ends by then will do: the next one can end no sooner.
	return later(b.mixRoom(r, max(pour, latest+1), x), Tick(r.Mixing))
}

// resinAfter is the next start worth trying when the pot life is too short at
// this one: the next change of the room's temperature, or never.
func resinAfter(r *scheduler.ResinP, t Tick) Tick {
	for _, step := range r.Life {
		if step.At > t {
			return step.At
		}
	}
	return never
}

// mixRoom is the first time from at on when the mix room has a place and a
// person for one mix; it fills in x.place and x.crew.
func (b *board) mixRoom(r *scheduler.ResinP, at Tick, x *mix) Tick {
	if r.Station < 0 || r.Mixing == 0 {
		return at
	}
	st := &b.p.Stations[r.Station]
	long := Tick(r.Mixing)
	for range tries {
		if at+long > b.p.End {
			return never
		}
		next := never
		for k := range b.places[r.Station] {
			if free := b.places[r.Station][k].freeFrom(at, long); free < next {
				next, x.place = free, int32(k)
			}
		}
		if next == at {
			next = b.inside(nil, st, resources.PartRun, at, at+long, at)
		}
		if next == at && !st.Always {
			next = openFrom(st.Open, at, long)
		}
		if next == at && r.Skill >= 0 {
			x.crew, next = b.crewFor(mixing, r.Skill, r.Share, at, at+long, nil)
		}
		if next == at || next >= never {
			return next
		}
		at = next
	}
	return never
}

// mixRoomBefore is the last time up to at when the mix room has a place and a
// person for one mix; one before oldest when there is none from then on. It
// fills in x.place and x.crew.
func (b *board) mixRoomBefore(r *scheduler.ResinP, at, oldest Tick, x *mix) Tick {
	if r.Station < 0 || r.Mixing == 0 {
		return at
	}
	st := &b.p.Stations[r.Station]
	long := Tick(r.Mixing)
	for at >= oldest {
		before := never
		for k := range b.places[r.Station] {
			if free := b.places[r.Station][k].freeBefore(at, long); before == never || free > before {
				before, x.place = free, int32(k)
			}
		}
		if !st.Always {
			before = openBefore(st.Open, before, long)
		}
		for _, stop := range st.Stops {
			if before < stop.End && before+long > stop.Start {
				before = stop.Start - long
			}
		}
		if before == at && r.Skill >= 0 {
			x.crew, before = b.crewBefore(mixing, r.Skill, r.Share, at, long)
		}
		if before == at {
			return at
		}
		at = before
	}
	return at
}

// crewBefore finds the crew of a skill that is free for so long latest, from no
// later than at; of equals the first, as the fine search has them turned.
func (b *board) crewBefore(part resources.Part, skill int32, share int64, at, long Tick) (crew int32, from Tick) {
	crew, from = -1, -1
	crews := b.p.Skills[skill].Crews
	for i := range crews {
		c := b.scratch.fine.turn.of(part, crews, i)
		if free := b.crews[c].fitBefore(at, Seconds(long), share); free > from {
			crew, from = c, free
		}
		if from == at {
			break
		}
	}
	return crew, from
}

// openBefore is the last instant up to at that has length open seconds ahead of
// it in one stretch; before all openings when there is none.
func openBefore(open []resources.Interval, at, length Tick) Tick {
	for i := min(firstOpen(open, at), len(open)-1); i >= 0; i-- {
		if s := min(at, open[i].End-length); s >= open[i].Start {
			return s
		}
	}
	return -1
}
