// SPDX-License-Identifier: Apache-2.0

package search

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// alive has a mix made so late that it lives until the run of a user ends. Where
// it would then come too late for the first of them, or is there already, this user
// and who comes after it get another.
func (x *pusher) alive(mix, user int32) {
	u := &x.stays[user]
	if u.fixed || u.pot != mix {
		return
	}
	if k := x.facts[mix]; k >= 0 {
		if x.p.Mixes[k].Expiry < u.at.runEnd {
			x.split(mix, user, x.p.Mixes[k].Resin)
		}
		return
	}
	if x.mixing[mix] < 0 {
		return
	}
	m := &x.stays[x.mixing[mix]]
	r := &x.p.Resins[m.resin]
	end := freshEnough(r, m.at.end, u.at.runEnd)
	if end == m.at.end {
		return
	}
	first := never
	for _, o := range x.users[mix] {
		first = min(first, x.stays[o].at.start)
	}
	if first < u.at.start && first < end {
		x.split(mix, user, m.resin)
		return
	}
	x.notStarted(x.mixing[mix], end-m.run)
}

// freshEnough is the first instant from one on at which a mix can be ready that
// lives until another.
func freshEnough(r *scheduler.ResinP, end, until Tick) Tick {
	if end+Tick(r.LifeAt(end)) >= until {
		return end
	}
	for k := range r.Life {
		from, to := end, never
		if k > 0 {
			from = max(end, r.Life[k].At)
		}
		if k+1 < len(r.Life) {
			to = r.Life[k+1].At
		}
		if from = max(from, until-Tick(r.Life[k].Life)); from < to {
			return from
		}
	}
	return end
}

// split makes another mix for a user and those who draw after it from the same.
func (x *pusher) split(mix, user, resin int32) {
	p, u := x.p, &x.stays[user]
	r := &p.Resins[resin]
	number := int32(len(x.facts))
	s := stay{mix: number, pot: -1, resin: resin, station: r.Station, run: Tick(r.Mixing), setup: p.Now}
	start := max(p.Now, u.at.start-s.run)
	s.at = times{start, start, start, start + s.run, start + s.run, start + s.run}
	s.serveAt = int32(len(x.serves))
	if r.Skill >= 0 && r.Mixing > 0 && len(p.Skills[r.Skill].Crews) > 0 {
		crew := p.Skills[r.Skill].Crews[0]
		x.serves = append(x.serves, serve{resources.PartRun, r.Skill, crew, crew, r.Share})
	}
	s.serveTo = int32(len(x.serves))
	i := int32(len(x.stays))
	x.facts, x.mixing = append(x.facts, -1), append(x.mixing, i)
	var own, theirs []int32
	for _, o := range x.users[mix] {
		if x.stays[o].at.start < u.at.start {
			theirs = append(theirs, o)
		} else {
			own = append(own, o)
			x.stays[o].pot, x.stays[o].moved = number, true
		}
	}
	x.users[mix] = theirs
	x.users = append(x.users, own)
	if len(theirs) == 0 && x.mixing[mix] >= 0 {
		x.mixing[mix] = -1
	}
	s.moved = true
	x.append(s)
	x.take(i)
	x.sit(i)
	x.todo.push(x, i)
}

// mixNamed is the name of a mix.
func (x *pusher) mixNamed(mix int32) string {
	if int(mix) < len(x.w.old.Mixes) {
		return x.w.old.Mixes[mix].ID
	}
	for len(x.names) <= int(mix)-len(x.w.old.Mixes) {
		x.names = append(x.names, "")
	}
	name := &x.names[int(mix)-len(x.w.old.Mixes)]
	if *name == "" {
		*name = x.nameMix(mix)
	}
	return *name
}

// nameMix finds a name for a mix that nobody has had.
func (x *pusher) nameMix(mix int32) string {
	first := x.stays[x.users[mix][0]].acts[0]
	taken := func(id string) bool {
		return slices.Contains(x.p.Used, id) || slices.Contains(x.names, id) ||
			slices.ContainsFunc(x.p.Mixes, func(m scheduler.MixP) bool { return m.ID == id }) ||
			slices.ContainsFunc(x.w.old.Mixes, func(m scheduler.Mix) bool { return m.ID == id })
	}
	return named("MX-"+x.p.Resins[x.stays[x.mixing[mix]].resin].ID, x.member(first), taken)
}
