// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"maps"
	"slices"

	"towpath/resources"
)

// need is people wanted during one part of a stay.
type need struct {
	part  resources.Part
	skill string
	share int64
}

// needs lists who is wanted, for the parts that take any time: what the
// operations say, in a load once for all with the largest share, and who does
// the station's changeovers.
func (v *verifier) needs(y *stay) []need {
	if y.wanted != nil {
		return y.wanted
	}
	y.wanted = []need{}
	raise := func(n need) {
		if at := v.left(y, n.part); n.share <= 0 || at.Start >= at.End {
			return
		}
		for i := range y.wanted {
			if y.wanted[i].part == n.part && y.wanted[i].skill == n.skill {
				y.wanted[i].share = max(y.wanted[i].share, n.share)
				return
			}
		}
		y.wanted = append(y.wanted, n)
	}
	for _, t := range y.tasks {
		for i, n := range t.op.Needs {
			if n.Part >= resources.NumParts {
				continue
			}
			share := n.Share
			for _, m := range t.op.Needs[:i] {
				if m.Part == n.Part && m.Skill == n.Skill {
					share += m.Share // the same skill asked twice
				}
			}
			raise(need{n.Part, n.Skill, share})
		}
	}
	if y.station != nil && y.station.SetupSkill != "" {
		raise(need{resources.PartSetup, y.station.SetupSkill, y.station.SetupShare})
	}
	return y.wanted
}

// crewUse is a stretch of a crew's time that a stay takes.
type crewUse struct {
	at    resources.Interval
	share int64
	by    *stay
	hand  bool // people have it in hand, as published: a fact, though nobody reports it
}

func (u *crewUse) planned() bool { return u.by.planned() && !u.hand }

// checkPeople: exactly one crew with the skill for each need, and what that
// takes of the crew's time from now on.
func (v *verifier) checkPeople(y *stay) {
	for _, t := range y.tasks[1:] {
		if len(t.work.People) > 0 {
			v.add(BreaksNeeds, t.at(y.start), "%s: %s lists people; they belong on its first member, %s", y, t, y.tasks[0])
		}
	}
	wanted := v.needs(y)
	met := make([]bool, len(wanted))
	for _, u := range y.tasks[0].work.People {
		i := slices.IndexFunc(wanted, func(n need) bool { return n.part == u.Part && n.skill == u.Skill })
		if i < 0 {
			if at := v.left(y, u.Part); at.Start < at.End || u.Part >= resources.NumParts {
				v.add(BreaksNeeds, y.at(y.start), "%s: crew %s for %s with %q, which is not asked for", y, u.Crew, partName(u.Part), u.Skill)
			}
			continue
		}
		if met[i] || u.Share != wanted[i].share {
			v.add(BreaksNeeds, y.at(y.start), "%s: %s asks for %d thousandths of one crew with %q; found %d of crew %s",
				y, partName(u.Part), wanted[i].share, u.Skill, u.Share, u.Crew)
		}
		met[i] = true
		v.book(y, u)
	}
	for i, n := range wanted {
		at := v.left(y, n.part)
		if !met[i] && (y.planned() || at.End > v.now) {
			v.add(BreaksNeeds, y.at(at.Start), "%s: nobody with %q for %s, %s to %s", y, n.skill, partName(n.part), v.clock(at.Start), v.clock(at.End))
		}
	}
}

// book puts a part on its crew's time. A run that may pause takes the crew only
// while work goes on.
func (v *verifier) book(y *stay, u PeopleUse) {
	crew := v.crews[u.Crew]
	if crew == nil || !crew.HasSkill(u.Skill) {
		v.add(BreaksSkill, y.at(y.part(u.Part).Start), "%s: %q is no crew with the skill %q, wanted for %s", y, u.Crew, u.Skill, partName(u.Part))
		return
	}
	at := v.left(y, u.Part)
	at.Start = max(at.Start, v.now)
	stretches := []resources.Interval{at}
	if u.Part == resources.PartRun && y.mayPause() {
		stretches = openDuring(at, v.workedAt(y)...)
	}
	for _, s := range stretches {
		if s.Start < s.End {
			v.uses[u.Crew] = append(v.uses[u.Crew], crewUse{at: s, share: u.Share, by: y})
		}
	}
}

// checkCrews adds up what each crew is asked for at every instant. What facts
// alone overload is nobody's plan; planned work may not add to it.
func (v *verifier) checkCrews() {
	for _, name := range slices.Sorted(maps.Keys(v.uses)) {
		v.checkCrew(name, v.uses[name])
	}
}

func (v *verifier) checkCrew(name string, uses []crewUse) {
	type change struct {
		at      Tick
		share   int64
		planned int
	}
	var changes []change
	for _, u := range uses {
		planned := 0
		if u.planned() {
			planned = 1
		}
		changes = append(changes, change{u.at.Start, u.share, planned}, change{u.at.End, -u.share, -planned})
	}
	r := v.roster(name)
	for _, s := range r.steps {
		changes = append(changes, change{at: s.at})
	}
	slices.SortFunc(changes, func(a, b change) int { return cmp.Compare(a.at, b.at) })
	var asked int64
	planned, over := 0, false
	for i, c := range changes {
		asked += c.share
		planned += c.planned
		if i+1 < len(changes) && changes[i+1].at == c.at {
			continue
		}
		there := r.heads(c.at)
		was := over
		over = asked > there && planned > 0
		if !over || was {
			continue
		}
		y := latestUse(uses, c.at)
		if there == 0 {
			v.add(BreaksShift, y.at(c.at), "%s: crew %s is not at work at %s", y, name, v.clock(c.at))
		} else {
			v.add(BreaksCrew, y.at(c.at), "%s: crew %s is asked for %d thousandths of a person at %s and has %d",
				y, name, asked, v.clock(c.at), there)
		}
	}
}

// latestUse is the planned stay that came last to a crew at an instant.
func latestUse(uses []crewUse, t Tick) *stay {
	var last *crewUse
	for i := range uses {
		u := &uses[i]
		if !u.planned() || u.at.Start > t || u.at.End <= t {
			continue
		}
		if last == nil || u.at.Start > last.at.Start || u.at.Start == last.at.Start && u.by.String() < last.by.String() {
			last = u
		}
	}
	return last.by
}
