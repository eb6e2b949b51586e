// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/resources"
	"towpath/scheduler"
)

// time finds the least times of a stay that are not before what it has been
// told, in x.try. False when there are none within the horizon.
func (x *pusher) time(i int32) bool {
	s := &x.stays[i]
	t := max(s.at.start, s.start)
	if !s.wait {
		t = max(t, s.end-s.at.end+s.at.start)
	}
	for range tries {
		if t > s.was.start+hopeless {
			return false
		}
		next := x.lay(i, t)
		if next == t && x.try.end < s.end {
			next = t + s.end - x.try.end
		}
		if next == t {
			return true
		}
		t = next
	}
	return false
}

// lay lays the parts of a stay out from a start of loading in x.try. It returns
// that start, or the next worth trying.
func (x *pusher) lay(i int32, t Tick) Tick {
	s := &x.stays[i]
	y := &x.try
	*y = times{setup: t - x.change(i, t), start: t, run: t + s.load}
	x.ready = t
	if s.hand && s.setup <= s.was.setup {
		y.setup = s.was.setup
		x.ready = min(t, y.setup+s.least)
	} else if y.setup < s.setup {
		return later(t, s.setup-y.setup)
	}
	var st *scheduler.StationP
	if s.station >= 0 {
		st = &x.p.Stations[s.station]
	}
	if next := x.part(i, st, resources.PartSetup, max(y.setup, x.p.Now), x.ready); next > max(y.setup, x.p.Now) {
		return later(t, next-max(y.setup, x.p.Now))
	}
	if next := x.part(i, st, resources.PartLoad, t, y.run); next > t {
		return later(t, next-t)
	}
	whole := y.run
	if s.pauses && s.mix < 0 {
		if next := x.walk(i, st); next != t {
			return next
		}
	} else {
		y.runEnd = y.run + s.run
		whole = y.runEnd
		if next := x.part(i, st, resources.PartRun, y.run, y.runEnd); next > y.run {
			return later(t, next-y.run)
		}
	}
	if from := y.setup; st != nil && !st.Always && !st.Unattended {
		if from < x.p.Now {
			from = t
		}
		if next := openFrom(st.Open, from, whole-from); next > from && from < whole {
			return later(t, next-from)
		}
	}
	if next := x.unloading(i, st); next != t {
		return next
	}
	next := x.room(i)
	if next <= y.setup {
		next = max(y.setup, x.toolsFrom(i, y.setup))
	}
	if next > y.setup && y.setup < x.p.Now {
		s.hand, s.setup = false, x.p.Now // without its place and its tools nobody has begun it
		return x.lay(i, t)
	}
	return later(t, next-y.setup)
}

// part is the first instant from which one part has its station and its people
// for as long.
func (x *pusher) part(i int32, st *scheduler.StationP, part resources.Part, from, to Tick) Tick {
	if from >= to {
		return from
	}
	s := &x.stays[i]
	attended := part == resources.PartSetup && st != nil && st.SetupSkill >= 0 || s.mix >= 0
	for k := s.serveAt; k < s.serveTo; k++ {
		v := &x.serves[k]
		if v.part != part {
			continue
		}
		attended = true
		if next := x.serve(i, k, from, to); next > from {
			return next
		}
	}
	if st == nil {
		return from
	}
	for _, stop := range st.Stops {
		if from < stop.End && to > stop.Start {
			return stop.End
		}
	}
	if st.Always || st.Unattended && !attended {
		return from
	}
	return openFrom(st.Open, from, to-from)
}

// serve finds who serves a part: who was to, else, where they cannot at once,
// another crew that has nothing else to do then. It returns from, or when the
// first of them can.
func (x *pusher) serve(i, k int32, from, to Tick) Tick {
	v := &x.serves[k]
	v.next = v.crew
	if to > x.p.End {
		return never
	}
	first := x.crewFrom(i, k, v.crew, from, to-from)
	if first == from || x.stays[i].mix >= 0 && v.skill < 0 {
		return first
	}
	for _, c := range x.p.Skills[v.skill].Crews {
		if c == v.crew {
			continue
		}
		share := v.share + x.besides(i, k, c)
		if x.busy(c, i, from, to, share, func(*span) bool { return true }) == from {
			v.next = c
			return from
		}
	}
	if first <= from+jump {
		return first
	}
	for _, c := range x.p.Skills[v.skill].Crews {
		if at := x.crewFrom(i, k, c, from, to-from); at < first {
			first, v.next = at, c
		}
	}
	return first
}

// besides is what earlier needs of the same part have of a crew.
func (x *pusher) besides(i, k, crew int32) (share int64) {
	for j := x.stays[i].serveAt; j < k; j++ {
		if o := &x.serves[j]; o.part == x.serves[k].part && o.next == crew {
			share += o.share
		}
	}
	return share
}

// recrew takes the crews of the times in hand; it tells whether any is another.
func (x *pusher) recrew(s *stay) bool {
	other := false
	for k := s.serveAt; k < s.serveTo; k++ {
		if v := &x.serves[k]; v.next != v.crew {
			v.crew, other = v.next, true
		}
	}
	s.recrewed = s.recrewed || other
	return other
}

// walk lays out a run that goes on while its station and its people are there;
// see board.walk.
func (x *pusher) walk(i int32, st *scheduler.StationP) Tick {
	s, y := &x.stays[i], &x.try
	t, left := y.start, s.run
	lead := x.lead(s)
	if lead < 0 && (st.Always || st.Unattended) {
		y.runEnd = y.run + s.run
		if next := x.part(i, st, resources.PartRun, y.run, y.runEnd); next > y.run {
			return later(t, next-y.run)
		}
		return t
	}
	at := y.run
	for first := true; left > 0; first = false {
		from, to := x.working(st, lead, at)
		if from >= never || first && from != y.run {
			return later(t, from-y.run)
		}
		to = min(to, from+left)
		for _, stop := range st.Stops {
			if from < stop.End && to > stop.Start {
				return later(t, stop.End-y.run)
			}
		}
		for k := s.serveAt; k < s.serveTo; k++ {
			if v := &x.serves[k]; v.part == resources.PartRun {
				if free := x.crewFrom(i, k, v.crew, from, to-from); free > from {
					return later(t, max(free-y.run, 1))
				}
			}
		}
		left -= to - from
		at = to
	}
	y.runEnd = at
	return t
}

// lead is the crew by whose hours a run that pauses counts; -1: nobody's.
func (x *pusher) lead(s *stay) int32 {
	for k := s.serveAt; k < s.serveTo; k++ {
		if x.serves[k].part == resources.PartRun {
			return x.serves[k].crew
		}
	}
	return -1
}

// working is the first stretch from t on in which the station is open and the
// crew works.
func (x *pusher) working(st *scheduler.StationP, crew int32, t Tick) (from, to Tick) {
	if crew < 0 {
		return working(st, nil, t)
	}
	return working(st, &x.crews[crew], t)
}

// unloading finds when a stay can be taken out; see board.unloading.
func (x *pusher) unloading(i int32, st *scheduler.StationP) Tick {
	s, y := &x.stays[i], &x.try
	at := y.runEnd
	if s.wait {
		at = max(at, s.was.unload, s.end-s.unload)
	}
	for range tries {
		y.unload, y.end = at, at+s.unload
		next := x.part(i, st, resources.PartUnload, at, y.end)
		if next == at && st != nil && !st.Always && !st.Unattended && s.unload > 0 {
			next = openFrom(st.Open, at, s.unload)
		}
		switch {
		case next == at:
			return y.start
		case next >= x.p.End:
			return never
		case !s.wait:
			return later(y.start, next-at)
		}
		at = next
	}
	return never
}
