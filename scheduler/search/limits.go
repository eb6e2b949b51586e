// SPDX-License-Identifier: Apache-2.0

package search

import (
	"fmt"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
)

// limit is a constraint with the way to lift it in a restricted problem; nil
// where it only explains the others.
type limit struct {
	scheduler.Limit
	lift  func(q *scheduler.Problem)
	timed bool // how long the work takes matters
}

// stretch ends what is said of hours that are there, but not long enough.
const stretch = " at a stretch"

// limits lists what the activities are bound by, what people mind least first.
func limits(p *scheduler.Problem, acts []int32) []limit {
	x := &limiter{p: p, acts: acts, wants: map[int32]scheduler.ActNeed{}}
	x.settled()
	x.stations()
	x.material()
	x.resins()
	x.tools()
	x.people()
	x.waits()
	x.work()
	return x.out
}

type limiter struct {
	p     *scheduler.Problem
	acts  []int32
	wants map[int32]scheduler.ActNeed // by skill: the largest share at a time
	out   []limit
}

func (x *limiter) add(kind scheduler.LimitKind, name, text string, lift func(q *scheduler.Problem)) {
	timed := false
	switch kind {
	case scheduler.LimitWait, scheduler.LimitRun, scheduler.LimitResin, scheduler.LimitChangeover:
		timed = true
	case scheduler.LimitHours, scheduler.LimitPeople:
		timed = strings.HasSuffix(text, stretch)
	}
	x.out = append(x.out, limit{scheduler.Limit{Kind: kind, Name: name, Text: text}, lift, timed})
}

func (x *limiter) name(a int32) string {
	act := &x.p.Acts[a]
	for _, b := range x.acts {
		if x.p.Acts[b].PieceIx != act.PieceIx {
			return act.Piece + " " + act.Operation
		}
	}
	return act.Operation
}

// settled are what people have been told or have begun, and the earliest start.
func (x *limiter) settled() {
	frozen, loads, release := false, false, false
	for _, a := range x.acts {
		act := &x.p.Acts[a]
		frozen, loads = frozen || act.Frozen, loads || act.Load >= 0
		release = release || act.Release > x.p.Now
	}
	if release {
		x.add(scheduler.LimitRelease, "", "when the order may start, and what must come before", func(q *scheduler.Problem) {
			for a := range q.Acts {
				q.Acts[a].Release = q.Now
			}
		})
	}
	if loads {
		x.add(scheduler.LimitLoad, "", "who is in a load that is closed, running or told", func(q *scheduler.Problem) {
			q.Loads = nil
			for a := range q.Acts {
				q.Acts[a].Load = -1
			}
		})
	}
	if frozen {
		x.add(scheduler.LimitFrozen, "", "what people have been told for the frozen window", func(q *scheduler.Problem) {
			for a := range q.Acts {
				q.Acts[a].Frozen, q.Acts[a].Was = false, nil
			}
		})
	}
}

// stations gives changeovers, room and hours of every station in question.
func (x *limiter) stations() {
	var seen []int32
	for _, a := range x.acts {
		act := &x.p.Acts[a]
		for k := act.ModeAt; k < act.ModeTo; k++ {
			if s := x.p.Modes[k].Station; !slices.Contains(seen, s) {
				seen = append(seen, s)
			}
		}
		if act.Resin >= 0 {
			if s := x.p.Resins[act.Resin].Station; s >= 0 && !slices.Contains(seen, s) {
				seen = append(seen, s)
			}
		}
	}
	for _, s := range seen {
		if st := &x.p.Stations[s]; st.Families > 0 {
			x.add(scheduler.LimitChangeover, st.ID, "changeovers on "+st.ID, func(q *scheduler.Problem) {
				q.Stations[s].SetupTime = make([]Seconds, len(st.SetupTime))
			})
		}
	}
	for _, s := range seen {
		if st := &x.p.Stations[s]; st.Batch {
			x.add(scheduler.LimitSize, st.ID, x.room(s), func(q *scheduler.Problem) {
				q.Stations[s].Capacity = slices.Repeat([]int64{-1}, len(st.Capacity))
			})
		}
	}
	for _, s := range seen {
		if st := &x.p.Stations[s]; !st.Always || len(st.Stops) > 0 {
			x.add(scheduler.LimitHours, st.ID, x.hours(st), func(q *scheduler.Problem) {
				q.Stations[s].Always, q.Stations[s].Open, q.Stations[s].Stops = true, nil, nil
			})
		}
	}
}

// room says how much a load holds, where one member alone takes more or the
// most of it.
func (x *limiter) room(s int32) string {
	st := &x.p.Stations[s]
	text := "a load of " + st.ID
	for d, capacity := range st.Capacity {
		if capacity < 0 {
			continue
		}
		most := int64(0)
		for _, a := range x.acts {
			act := &x.p.Acts[a]
			for k := act.ModeAt; k < act.ModeTo; k++ {
				if x.p.Modes[k].Station == s {
					most = max(most, act.Size[d])
				}
			}
		}
		if most > capacity {
			return fmt.Sprintf("%s holds %s %d and one piece has %d", text, x.p.Dims[d], capacity, most)
		}
	}
	return text + " holds only so much"
}

func (x *limiter) hours(st *scheduler.StationP) string {
	if n := len(st.Stops); n > 0 && st.Stops[n-1].End-x.p.Now > (x.p.End-x.p.Now)/2 {
		return st.ID + " is down with no known end"
	}
	longest := Tick(0)
	for _, w := range st.Open {
		longest = max(longest, w.End-w.Start)
	}
	switch {
	case longest == 0:
		return st.ID + " is never open"
	case st.Always:
		return "the stops of " + st.ID
	case longest >= 14*Tick(resources.Day):
		return "the hours of " + st.ID
	}
	return st.ID + " is open for at most " + resources.Spell(Seconds(longest)) + stretch
}

func (x *limiter) material() {
	var seen []int32
	for _, a := range x.acts {
		for _, d := range x.p.Acts[a].Draws {
			if !slices.Contains(seen, d.Stock) {
				seen = append(seen, d.Stock)
			}
		}
	}
	for _, k := range seen {
		stock := &x.p.Stocks[k]
		wanted, supply := int64(0), int64(0)
		for a := range x.p.Acts {
			for _, d := range x.p.Acts[a].Draws {
				if d.Stock == k {
					wanted += d.Quantity
				}
			}
		}
		for _, s := range stock.Steps {
			supply = max(supply, s.Cap)
		}
		x.add(scheduler.LimitMaterial, stock.ID, fmt.Sprintf("%s: %g there or to come, %g wanted", stock.ID, float64(supply)/1000, float64(wanted)/1000),
			func(q *scheduler.Problem) { q.Stocks[k].Steps = []scheduler.CapStep{{At: q.Now, Cap: 1 << 60}} })
	}
}

func (x *limiter) resins() {
	var seen []int32
	for _, a := range x.acts {
		act := &x.p.Acts[a]
		if act.Resin < 0 || slices.Contains(seen, act.Resin) {
			continue
		}
		seen = append(seen, act.Resin)
		r := &x.p.Resins[act.Resin]
		life := Seconds(0)
		for _, s := range r.Life {
			life = max(life, s.Life)
		}
		x.add(scheduler.LimitResin, r.ID, fmt.Sprintf("a mix of %s gives at most %d g and lives %s at most; %s draws %d g",
			r.ID, max(0, r.MaxMass-r.Heel), resources.Spell(life), x.name(a), act.Grams), func(q *scheduler.Problem) {
			for i := range q.Acts {
				q.Acts[i].Resin = -1
			}
		})
	}
}

func (x *limiter) tools() {
	var seen []int32
	for _, a := range x.acts {
		for _, h := range slices.Concat(x.p.Acts[a].Holds, x.p.Acts[a].Gives) {
			if pool := x.p.Holds[h].Pool; !slices.Contains(seen, pool) {
				seen = append(seen, pool)
			}
		}
	}
	for _, k := range seen {
		pool := &x.p.Pools[k]
		out := 0
		for _, t := range pool.FreeAt {
			if t >= x.p.End {
				out++
			}
		}
		text := fmt.Sprintf("there are %d %s", len(pool.Units), pool.ID)
		if len(pool.Units) == 0 {
			text = "there is no " + pool.ID
		}
		if out > 0 {
			text += fmt.Sprintf(", %d of them out with no known return", out)
		}
		x.add(scheduler.LimitTool, pool.ID, text, func(q *scheduler.Problem) {
			pool := &q.Pools[k]
			pool.Units, pool.FreeAt = slices.Clone(pool.Units), slices.Clone(pool.FreeAt)
			for range len(q.Holds) {
				pool.Units, pool.FreeAt = append(pool.Units, "+"), append(pool.FreeAt, q.Now)
			}
		})
	}
}

// people lists the skills, each with the most that is wanted of it at a time.
func (x *limiter) people() {
	var seen []int32
	want := func(skill int32, share int64) {
		if skill < 0 {
			return
		}
		if !slices.Contains(seen, skill) {
			seen = append(seen, skill)
		}
		if w := x.wants[skill]; share > w.Share {
			x.wants[skill] = scheduler.ActNeed{Skill: skill, Share: share}
		}
	}
	for _, a := range x.acts {
		act := &x.p.Acts[a]
		for k := act.ModeAt; k < act.ModeTo; k++ {
			md := &x.p.Modes[k]
			for _, n := range x.p.Needs[md.NeedAt:md.NeedTo] {
				want(n.Skill, n.Share)
			}
			if st := &x.p.Stations[md.Station]; st.Families > 0 {
				want(st.SetupSkill, st.SetupShare)
			}
		}
		if act.Resin >= 0 {
			want(x.p.Resins[act.Resin].Skill, x.p.Resins[act.Resin].Share)
		}
	}
	for _, k := range seen {
		x.add(scheduler.LimitPeople, x.p.Skills[k].Name, x.staff(k), func(q *scheduler.Problem) { unattended(q, k) })
	}
}

// unattended takes every need of a skill away.
func unattended(q *scheduler.Problem, skill int32) {
	for i := range q.Modes {
		md := &q.Modes[i]
		kept := slices.DeleteFunc(slices.Clone(q.Needs[md.NeedAt:md.NeedTo]), func(n scheduler.ActNeed) bool { return n.Skill == skill })
		copy(q.Needs[md.NeedAt:], kept)
		md.NeedTo = md.NeedAt + int32(len(kept))
	}
	for i := range q.Stations {
		if q.Stations[i].SetupSkill == skill {
			q.Stations[i].SetupSkill = -1
		}
	}
	for i := range q.Resins {
		if q.Resins[i].Skill == skill {
			q.Resins[i].Skill = -1
		}
	}
}

// staff says who has a skill and for how long at a stretch.
func (x *limiter) staff(skill int32) string {
	sk, share := &x.p.Skills[skill], x.wants[skill].Share
	if len(sk.Crews) == 0 {
		return "nobody has skill " + sk.Name
	}
	most, longest := int64(0), Tick(0)
	for _, c := range sk.Crews {
		steps := x.p.Crews[c].Steps
		began := Tick(-1)
		for i, s := range steps {
			most = max(most, s.Cap)
			if s.Cap >= share {
				if began < 0 {
					began = s.At
				}
				if i == len(steps)-1 {
					longest = max(longest, x.p.End-began)
				}
			} else if began >= 0 {
				longest, began = max(longest, s.At-began), -1
			}
		}
	}
	switch {
	case most == 0:
		return "nobody with skill " + sk.Name + " is at work"
	case most < share:
		return fmt.Sprintf("%g with skill %s are wanted and no crew has more than %g at work", float64(share)/1000, sk.Name, float64(most)/1000)
	case longest >= 14*Tick(resources.Day):
		return "the people with skill " + sk.Name
	}
	return "people with skill " + sk.Name + " are there for at most " + resources.Spell(Seconds(longest)) + stretch
}

// waits gives the longest waits and runs.
func (x *limiter) waits() {
	for _, a := range x.acts {
		act := &x.p.Acts[a]
		for k := act.ModeAt; k < act.ModeTo; k++ {
			if x.p.Modes[k].MaxRun == 0 {
				continue
			}
			x.add(scheduler.LimitRun, act.Operation, x.name(a)+" may run at most "+resources.Spell(x.p.Modes[k].MaxRun), func(q *scheduler.Problem) {
				for i := range q.Modes {
					q.Modes[i].MaxRun = 0
				}
			})
			break
		}
	}
	for i := range x.p.Arcs {
		arc := &x.p.Arcs[i]
		if !slices.Contains(x.acts, arc.From) && !slices.Contains(x.acts, arc.To) {
			continue
		}
		moment := " ends"
		if arc.FromStart {
			moment = " starts"
		}
		if arc.Min < 0 {
			x.add(scheduler.LimitWait, x.p.Acts[arc.From].Operation, x.name(arc.To)+" may start no more than "+resources.Spell(-arc.Min)+" before "+x.name(arc.From)+moment,
				func(q *scheduler.Problem) { q.Arcs[i].Min = Seconds(q.Now - q.End) })
		}
		if !arc.HasMax {
			continue
		}
		x.add(scheduler.LimitWait, x.p.Acts[arc.To].Operation, x.name(arc.To)+" must start within "+resources.Spell(arc.Max)+" after "+x.name(arc.From)+moment,
			func(q *scheduler.Problem) { q.Arcs[i].HasMax = false })
	}
}

// work says what the activities and the rests between them take at least;
// nothing lifts that.
func (x *limiter) work() {
	for i := range x.p.Arcs {
		arc := &x.p.Arcs[i]
		if arc.Min > 0 && slices.Contains(x.acts, arc.From) && slices.Contains(x.acts, arc.To) {
			x.add(scheduler.LimitWork, x.p.Acts[arc.To].Operation, x.name(arc.To)+" must wait "+resources.Spell(arc.Min)+" after "+x.name(arc.From), nil)
		}
	}
	for _, a := range x.acts {
		act := &x.p.Acts[a]
		least := Seconds(-1)
		for k := act.ModeAt; k < act.ModeTo; k++ {
			md := &x.p.Modes[k]
			if t := md.Load + md.LoadEach + md.Run + md.Unload + md.UnloadEach; least < 0 || t < least {
				least = t
			}
		}
		x.add(scheduler.LimitWork, act.Operation, x.name(a)+" takes at least "+resources.Spell(max(0, least)), nil)
	}
}
