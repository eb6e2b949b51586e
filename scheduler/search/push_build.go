// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// build lays the old plan out as stays. False when facts no longer agree with
// what is to be kept of it.
func (x *pusher) build() bool {
	p, old := x.p, x.w.old
	x.of = none(len(p.Acts))
	x.stays = make([]stay, 0, len(p.Acts))
	x.serves = make([]serve, 0, 3*len(p.Acts))
	x.known()
	if !x.underWay() {
		return false
	}
	next := 0
	for _, a := range x.w.order {
		w := &old.Work[x.w.was[a]]
		for ; next < len(old.Mixes) && old.Mixes[next].Start <= w.Start; next++ {
			if !x.addMix(int32(next)) {
				return false
			}
		}
		if x.of[a] < 0 && w.Status == scheduler.Planned && p.Acts[a].Fixed == nil && !x.add(a) {
			return false
		}
	}
	for ; next < len(old.Mixes); next++ {
		if !x.addMix(int32(next)) {
			return false
		}
	}
	x.odd = x.odd || slices.Contains(x.of, -1)
	x.draw()
	x.inPlaces()
	x.tools()
	return true
}

// known finds which of the old plan's mixes are facts.
func (x *pusher) known() {
	old := x.w.old
	byID := make(map[string]int32, len(x.p.Mixes))
	for i := range x.p.Mixes {
		byID[x.p.Mixes[i].ID] = int32(i)
	}
	x.facts, x.mixing, x.users = none(len(old.Mixes)), none(len(old.Mixes)), make([][]int32, len(old.Mixes))
	for i := range old.Mixes {
		if k, ok := byID[old.Mixes[i].ID]; ok {
			x.facts[i] = k
		}
	}
}

// underWay adds what has begun: work, and mixes in hand.
func (x *pusher) underWay() bool {
	p := x.p
	for a := range p.Acts {
		act := &p.Acts[a]
		f := act.Fixed
		if f == nil || x.of[a] >= 0 {
			continue
		}
		acts := x.alone(int32(a))
		if act.Load >= 0 {
			acts = p.Loads[act.Load].Members
			if slices.ContainsFunc(acts, func(m int32) bool { return p.Acts[m].Fixed == nil }) {
				return false
			}
		}
		s := stay{
			acts: acts, mix: -1, pot: -1, fixed: true, pauses: act.MayPause,
			station: p.Modes[f.Mode].Station, place: f.Place,
		}
		s.place = min(s.place, int32(p.Stations[s.station].Places)-1)
		s.at = times{f.Setup, f.Start, f.Run, f.RunEnd, f.Unload, f.End}
		x.odd = x.odd || act.Load < 0 && p.Stations[s.station].Batch
		if !x.people(&s) {
			return false
		}
		x.append(s)
	}
	for k := range p.Mixes {
		m := &p.Mixes[k]
		if !m.Hand {
			continue
		}
		s := stay{mix: -1, pot: -1, fixed: true, station: p.Resins[m.Resin].Station, place: m.Place}
		s.at = times{m.Start, m.Start, m.Start, m.Made, m.Made, m.Made}
		s.serveAt = int32(len(x.serves))
		if m.Crew >= 0 {
			x.serves = append(x.serves, serve{resources.PartRun, p.Resins[m.Resin].Skill, m.Crew, m.Crew, p.Resins[m.Resin].Share})
		}
		s.serveTo = int32(len(x.serves))
		x.append(s)
	}
	return true
}

// alone is a list of one activity.
func (x *pusher) alone(a int32) []int32 {
	if x.each == nil {
		x.each = make([]int32, len(x.p.Acts))
		for i := range x.each {
			x.each[i] = int32(i)
		}
	}
	return x.each[a : a+1 : a+1]
}

func (x *pusher) append(s stay) {
	s.was = s.at
	for _, a := range s.acts {
		x.of[a] = int32(len(x.stays))
	}
	x.stays = append(x.stays, s)
}

// add adds work that is still to begin.
func (x *pusher) add(a int32) bool {
	p, old := x.p, x.w.old
	w := &old.Work[x.w.was[a]]
	acts := x.alone(a)
	if i := x.w.loadOf[a]; i >= 0 {
		acts = x.w.loads[i].acts
		gone := func(m int32) bool { return x.of[m] >= 0 || p.Acts[m].Fixed != nil }
		if slices.ContainsFunc(acts, gone) {
			acts = slices.DeleteFunc(slices.Clone(acts), gone)
			x.odd = true
		}
	}
	if load := p.Acts[a].Load; load >= 0 && (p.Loads[load].ID != w.Load || len(p.Loads[load].Members) != len(acts)) {
		return false // people have put other pieces together
	}
	s := stay{acts: acts, mix: -1, pot: x.w.mixOf[a], place: int32(w.Place - 1)}
	s.at = times{w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End}
	mode := x.modeAt(a, w.Station)
	if mode < 0 {
		return false
	}
	s.station = p.Modes[mode].Station
	st := &p.Stations[s.station]
	if int(s.place) >= st.Places || st.Batch != (x.w.loadOf[a] >= 0) || !x.lasts(&s) || !x.told(&s) {
		return false
	}
	was := p.Acts[acts[0]].Was
	s.hand = w.Setup < p.Now && w.Setup < w.Start && p.Acts[acts[0]].Frozen && was != nil &&
		was.Setup == w.Setup && was.Place == s.place && p.Modes[was.Mode].Station == s.station
	if !x.people(&s) {
		return false
	}
	if i := x.w.loadOf[a]; i >= 0 && x.w.loads[i].less {
		s.moved = true // it is written anew
	}
	x.append(s)
	return true
}

// told keeps what has been published for the frozen window since an older plan was
// made, and lets nothing else come in front of it there. False when that is at
// another station.
func (x *pusher) told(s *stay) bool {
	for _, a := range s.acts {
		act := &x.p.Acts[a]
		switch was := act.Was; {
		case was == nil || was.Start == s.at.start:
		case !act.Frozen:
			s.start = max(s.start, was.Told)
		case x.p.Modes[was.Mode].Station != s.station:
			return false
		}
	}
	return true
}

// lasts finds how long the parts of a stay take, and from when it may start.
func (x *pusher) lasts(s *stay) bool {
	p := x.p
	s.load, s.run, s.unload, s.pauses, s.wait = 0, 0, 0, true, true
	var loadEach, unloadEach Tick
	for _, m := range s.acts {
		k := modeAt(p, &p.Acts[m], s.station)
		if k < 0 {
			return false
		}
		md := &p.Modes[k]
		s.load, s.run, s.unload = max(s.load, Tick(md.Load)), max(s.run, Tick(md.Run)), max(s.unload, Tick(md.Unload))
		loadEach, unloadEach = loadEach+Tick(md.LoadEach), unloadEach+Tick(md.UnloadEach)
		s.pauses = s.pauses && p.Acts[m].MayPause
		s.wait = s.wait && md.WaitInside
		s.start = max(s.start, p.Acts[m].Release)
	}
	s.load, s.unload = s.load+loadEach, s.unload+unloadEach
	return true
}

func (x *pusher) modeAt(a int32, station string) int32 {
	act := &x.p.Acts[a]
	for k := act.ModeAt; k < act.ModeTo; k++ {
		if x.p.Stations[x.p.Modes[k].Station].ID == station {
			return k
		}
	}
	return -1
}

// people finds who serves a stay, as the old plan has it. False when nobody can.
func (x *pusher) people(s *stay) bool {
	p, old := x.p, x.w.old
	var said []scheduler.PeopleUse
	for _, a := range s.acts {
		if k := x.w.was[a]; k >= 0 && len(old.Work[k].People) > 0 {
			said = old.Work[k].People
			break
		}
	}
	if i := x.w.loadOf[s.acts[0]]; said == nil && i >= 0 && x.w.loads[i].less {
		said = x.gone(old.Loads[i].ID)
	}
	s.serveAt = int32(len(x.serves))
	nobody := false
	add := func(part resources.Part, skill int32, share int64) {
		for i := s.serveAt; i < int32(len(x.serves)); i++ {
			if v := &x.serves[i]; v.part == part && v.skill == skill {
				v.share = max(v.share, share)
				return
			}
		}
		crew := x.said(said, part, skill)
		x.serves = append(x.serves, serve{part, skill, crew, crew, share})
		nobody = nobody || crew < 0
	}
	if st := &p.Stations[s.station]; st.SetupSkill >= 0 && !s.fixed {
		add(resources.PartSetup, st.SetupSkill, st.SetupShare)
	}
	for _, a := range s.acts {
		k := modeAt(p, &p.Acts[a], s.station)
		if k < 0 {
			return false
		}
		for _, nd := range p.Needs[p.Modes[k].NeedAt:p.Modes[k].NeedTo] {
			add(nd.Part, nd.Skill, nd.Share)
		}
	}
	s.serveTo = int32(len(x.serves))
	return !nobody
}

// said is the crew that the old plan has for a need, else the first; -1: none can.
func (x *pusher) said(people []scheduler.PeopleUse, part resources.Part, skill int32) int32 {
	crews := x.p.Skills[skill].Crews
	for i := range people {
		if people[i].Part != part || people[i].Skill != x.p.Skills[skill].Name {
			continue
		}
		for _, c := range crews {
			if x.p.Crews[c].ID == people[i].Crew {
				return c
			}
		}
	}
	if len(crews) == 0 {
		return -1
	}
	return crews[0]
}

// addMix adds a mix that is still to be made and that somebody draws from.
func (x *pusher) addMix(i int32) bool {
	p, m := x.p, &x.w.old.Mixes[i]
	if x.facts[i] >= 0 || len(x.w.mixes[i].acts) == 0 {
		return true
	}
	if m.Status == scheduler.Done || m.Start < p.Now && slices.Contains(p.Used, m.ID) {
		x.odd = true // it is used up or gone
		return true
	}
	resin := slices.IndexFunc(p.Resins, func(r scheduler.ResinP) bool { return r.ID == m.Resin })
	if resin < 0 {
		return false
	}
	r := &p.Resins[resin]
	s := stay{mix: i, pot: -1, resin: int32(resin), station: r.Station, place: int32(max(1, m.Place) - 1), run: Tick(r.Mixing)}
	s.at = times{m.Start, m.Start, m.Start, m.End, m.End, m.End}
	if s.station >= 0 && int(s.place) >= p.Stations[s.station].Places {
		return false
	}
	s.serveAt = int32(len(x.serves))
	if r.Skill >= 0 {
		for c := range p.Crews {
			if p.Crews[c].ID == m.Crew {
				x.serves = append(x.serves, serve{resources.PartRun, r.Skill, int32(c), int32(c), r.Share})
			}
		}
	}
	s.serveTo = int32(len(x.serves))
	x.mixing[i] = int32(len(x.stays))
	x.append(s)
	return true
}

// draw notes who draws from which mix.
func (x *pusher) draw() {
	for i := range x.stays {
		if s := &x.stays[i]; s.pot >= 0 {
			x.users[s.pot] = append(x.users[s.pot], int32(i))
		}
	}
}

// inPlaces lists what is on each place.
func (x *pusher) inPlaces() {
	p := x.p
	x.placeAt = make([]int32, len(p.Stations)+1)
	for i := range p.Stations {
		x.placeAt[i+1] = x.placeAt[i] + int32(p.Stations[i].Places)
	}
	at, count := x.placeAt, x.placeAt[len(p.Stations)]
	x.lines, x.until, x.family0 = make([][]int32, count), make([]Tick, count), make([]int32, count)
	since := make([]Tick, count)
	for i := range p.Stations {
		for k := at[i]; k < at[i+1]; k++ {
			x.family0[k] = p.Stations[i].Families // as it is now
		}
		for _, b := range p.Stations[i].Busy {
			x.until[at[i]+b.Place] = max(x.until[at[i]+b.Place], b.Until)
		}
	}
	for i := range x.stays {
		s := &x.stays[i]
		if s.setup = p.Now; s.station < 0 {
			continue
		}
		st := &p.Stations[s.station]
		k := at[s.station] + s.place
		if len(s.acts) > 0 && st.Families > 0 {
			s.family = x.family(s)
		}
		if s.fixed {
			x.until[k] = max(x.until[k], s.at.end)
			if len(s.acts) > 0 && st.Families > 0 && s.at.start >= since[k] {
				since[k], x.family0[k] = s.at.start, s.family
			}
			continue
		}
		if s.hand = s.hand && x.until[k] <= p.Now; s.hand {
			s.setup = s.was.setup
			if st.Families > 0 {
				s.least = setupTime(st, st.Families, s.family)
			}
		}
		x.lines[k] = append(x.lines[k], int32(i))
	}
}

func (x *pusher) family(s *stay) int32 {
	return x.p.Modes[modeAt(x.p, &x.p.Acts[s.acts[0]], s.station)].Family
}

// gone is who was to serve a load whose first member is gone.
func (x *pusher) gone(load string) []scheduler.PeopleUse {
	for i := range x.w.old.Work {
		if w := &x.w.old.Work[i]; w.Load == load && len(w.People) > 0 {
			return w.People
		}
	}
	return nil
}
