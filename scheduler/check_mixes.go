// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"maps"
	"slices"

	"towpath/resources"
)

// buildMix puts a mix still to be made on its place in the mix room.
func (v *verifier) buildMix(m *Mix) {
	where := Violation{Station: m.Station, At: m.Start}
	if m.ID == "" || v.mixes[m.ID] != nil {
		v.add(BreaksMix, where, "mix %q: every mix needs an ID of its own", m.ID)
		return
	}
	v.mixes[m.ID] = m
	if !v.saneTimes(m.Status, m.Start, m.End, m.Expiry) {
		v.add(BreaksTimes, where, "mix %s: start, end and expiry are not in order, or not within 20 years of now", m.ID)
		return
	}
	if v.s.Mixes[m.ID] != nil || m.Status == Done {
		return
	}
	v.stays = append(v.stays, &stay{
		mix: m, station: v.stations[m.Station], name: m.Station, place: m.Place, status: m.Status,
		setup: m.Start, start: m.Start, run: m.Start, runEnd: m.End, unload: m.End, end: m.End,
	})
}

// checkMixes judges mixes to be made, mixes already made, and who draws.
func (v *verifier) checkMixes() {
	drawn := map[string]int64{} // grams still to be drawn, by mix
	users := map[string][]Member{}
	for i := range v.tasks {
		v.checkDraw(&v.tasks[i], drawn, users)
	}
	for _, y := range v.stays {
		if y.mix == nil {
			v.checkOneMix(y)
			continue
		}
		v.checkToBeMade(y, drawn[y.mix.ID])
	}
	for i := range v.p.Mixes {
		m := &v.p.Mixes[i]
		if v.mixes[m.ID] != m {
			continue
		}
		made := v.s.Mixes[m.ID]
		if made == nil && m.Status == Done {
			v.add(BreaksMix, Violation{Station: m.Station, At: m.Start}, "mix %s: said to be made, but nobody has reported it", m.ID)
		}
		if made != nil {
			v.checkMade(m, made, drawn[m.ID])
		}
		v.checkUsers(m, users[m.ID], made != nil)
	}
	for _, id := range slices.Sorted(maps.Keys(drawn)) {
		if made := v.s.Mixes[id]; made != nil {
			v.checkLeft(made, drawn[id])
		}
	}
}

// checkDraw: a planned task with resin draws it from a mix that is there and
// alive.
func (v *verifier) checkDraw(t *task, drawn map[string]int64, users map[string][]Member) {
	w := t.work
	if w == nil || !t.planned() {
		return
	}
	if wet := t.op.Mix != nil && t.op.Mix.Grams > 0; !wet || w.Mix == "" {
		if wet || w.Mix != "" {
			v.add(BreaksMixUsers, t.at(w.Start), "%s: names mix %q; a mix goes with resin, and the other way round", t, w.Mix)
		}
		return
	}
	drawn[w.Mix] += t.op.Mix.Grams
	users[w.Mix] = append(users[w.Mix], t.name())
	resin, made, expiry := "", Tick(0), Tick(0)
	if run := v.s.Mixes[w.Mix]; run != nil {
		resin, made, expiry = run.Resin, run.Made, run.Expiry
		if run.Discarded {
			v.add(BreaksMixUsers, t.at(w.Start), "%s: draws from mix %s, which has been thrown away", t, w.Mix)
		}
		if b := v.s.Batches["mix/"+w.Mix]; b != nil && b.Held {
			v.add(BreaksMixUsers, t.at(w.Start), "%s: draws from mix %s, which is on hold", t, w.Mix)
		}
	} else if m := v.mixes[w.Mix]; m != nil {
		resin, made, expiry = m.Resin, m.End, m.Expiry
	} else {
		v.add(BreaksMixUsers, t.at(w.Start), "%s: draws from mix %s, which nobody makes", t, w.Mix)
		return
	}
	if resin != t.op.Mix.Resin {
		v.add(BreaksMixUsers, t.at(w.Start), "%s: wants resin %s, mix %s is %s", t, t.op.Mix.Resin, w.Mix, resin)
	}
	if w.Start < made {
		v.add(BreaksMixLife, t.at(w.Start), "%s: loading starts %s, mix %s is ready at %s", t, v.clock(w.Start), w.Mix, v.clock(made))
	}
	if w.RunEnd > expiry {
		v.add(BreaksMixLife, t.at(w.RunEnd), "%s: the run ends %s, mix %s lives until %s", t, v.clock(w.RunEnd), w.Mix, v.clock(expiry))
	}
}

// checkOneMix: a load of a batch station draws from one pot.
func (v *verifier) checkOneMix(y *stay) {
	first := ""
	for _, t := range y.tasks {
		if t.op.Mix == nil || !t.planned() {
			continue
		}
		if first == "" {
			first = t.work.Mix
		}
		if t.work.Mix != first {
			v.add(BreaksMixUsers, t.at(y.start), "%s: %s draws from mix %s, others from %s", y, t, t.work.Mix, first)
		}
	}
}

// checkToBeMade: how, where, by whom and how much.
func (v *verifier) checkToBeMade(y *stay, drawn int64) {
	m := y.mix
	resin := v.resins[m.Resin]
	if resin == nil {
		v.add(BreaksMix, y.at(m.Start), "mix %s: the plant has no resin %q", m.ID, m.Resin)
		return
	}
	if m.Station != resin.Station || y.station == nil || m.Place < 1 || m.Place > max(1, y.station.Places) {
		v.add(BreaksMix, y.at(m.Start), "mix %s: made at %s place %d; %s is made at %s", m.ID, m.Station, m.Place, m.Resin, resin.Station)
	}
	if m.Status != Planned {
		v.add(BreaksMix, y.at(m.Start), "mix %s: %s in the plan, but nobody has reported it made", m.ID, m.Status)
	}
	if got := Seconds(m.End - m.Start); got != resin.Mixing {
		v.add(BreaksMix, y.at(m.Start), "mix %s: mixing lasts %s, it takes %s", m.ID, long(got), long(resin.Mixing))
	}
	if expiry := m.End + Tick(v.s.Plant.MixLife(resin, m.End)); m.Expiry != expiry {
		v.add(BreaksMixLife, y.at(m.End), "mix %s: said to live until %s, pot life ends %s", m.ID, v.clock(m.Expiry), v.clock(expiry))
	}
	if m.Start < v.now && !v.mixUnderWay(m) {
		v.add(BreaksNow, y.at(m.Start), "mix %s: begins %s, before now (%s)", m.ID, v.clock(m.Start), v.clock(v.now))
	}
	if grams := drawn + resin.HeelMass; m.Grams != grams {
		v.add(BreaksMixMass, y.at(m.Start), "mix %s: %d g; %d g are drawn and %d g left over", m.ID, m.Grams, drawn, resin.HeelMass)
	}
	if resin.MaxMass > 0 && m.Grams > resin.MaxMass {
		v.add(BreaksMixMass, y.at(m.Start), "mix %s: %d g, at most %d g of %s may be mixed at once", m.ID, m.Grams, resin.MaxMass, m.Resin)
	}
	v.checkMixing(y, resin)
}

// checkMixing: the mix room is open and somebody mixes.
func (v *verifier) checkMixing(y *stay, resin *resources.Resin) {
	at := resources.Interval{Start: y.mix.Start, End: y.mix.End}
	attended := resin.Skill != "" && resin.Share > 0
	if y.station != nil {
		for _, stop := range v.stopsOf(y.station) {
			if at.Start < stop.End && at.End > stop.Start {
				v.add(BreaksStop, y.at(at.Start), "%s: %s is down until %s", y, y.name, v.clock(stop.End))
			}
		}
		if attended || !y.station.Unattended {
			v.mustBeOpen(y, v.openingsOf(y.station.Calendar), "mixing", at)
		}
	}
	crew := v.crews[y.mix.Crew]
	switch {
	case !attended && y.mix.Crew != "":
		v.add(BreaksNeeds, y.at(at.Start), "%s: crew %s, which is not asked for", y, y.mix.Crew)
	case !attended:
	case crew == nil || !crew.HasSkill(resin.Skill):
		v.add(BreaksSkill, y.at(at.Start), "%s: %q is no crew with the skill %q", y, y.mix.Crew, resin.Skill)
	case at.Start < at.End:
		v.uses[crew.ID] = append(v.uses[crew.ID], crewUse{at: at, share: resin.Share, by: y, hand: y.setup < v.now})
	}
}

// mixUnderWay says that the mix was published just so, and so is in somebody's
// hands.
func (v *verifier) mixUnderWay(m *Mix) bool {
	return v.s.Plan != nil && m.End >= v.now && slices.ContainsFunc(v.s.Plan.Mixes, func(was Mix) bool {
		return was.ID == m.ID && was.Resin == m.Resin && was.Station == m.Station && was.Start == m.Start
	})
}

// checkLeft: a mix in the pot holds what is still to be drawn from it.
func (v *verifier) checkLeft(run *MixRun, drawn int64) {
	var heel int64
	if resin := v.resins[run.Resin]; resin != nil {
		heel = resin.HeelMass
	}
	if left := run.Grams - run.Drawn - heel; drawn > left {
		v.add(BreaksMixMass, Violation{At: v.now}, "mix %s: %d g are still to be drawn, %d g can be", run.ID, drawn, max(0, left))
	}
}

// checkMade: the plan shows a mix already made as it was reported. Its mass
// may be what was made, or only what this plan draws from it and the heel.
func (v *verifier) checkMade(m *Mix, run *MixRun, drawn int64) {
	mass := m.Grams == run.Grams
	if resin := v.resins[run.Resin]; resin != nil && m.Grams == drawn+resin.HeelMass {
		mass = true
	}
	if !mass || m.Status != Done || m.Resin != run.Resin || m.End != run.Made || m.Expiry != run.Expiry {
		v.add(BreaksMix, Violation{Station: m.Station, At: m.Start},
			"mix %s: made %s, %d g of %s, alive until %s, as reported; the plan says %s, %s, %d g of %s, until %s", m.ID,
			v.clock(run.Made), run.Grams, run.Resin, v.clock(run.Expiry),
			m.Status, v.clock(m.End), m.Grams, m.Resin, v.clock(m.Expiry))
	}
}

// checkUsers: the mix lists who draws from it. One already made may also list
// those who have drawn.
func (v *verifier) checkUsers(m *Mix, users []Member, made bool) {
	listed := map[Member]bool{}
	for _, u := range m.Users {
		if listed[u] {
			v.add(BreaksMixUsers, Violation{Piece: u.Piece, Operation: u.Operation, At: m.Start}, "mix %s: lists %s at %s twice", m.ID, u.Piece, u.Operation)
		}
		listed[u] = true
	}
	where := Violation{Station: m.Station, At: m.Start}
	for _, u := range users {
		if !listed[u] {
			v.add(BreaksMixUsers, where, "mix %s: %s at %s draws from it and is not among its users", m.ID, u.Piece, u.Operation)
		}
		delete(listed, u)
	}
	if !made && len(m.Users) == 0 {
		v.add(BreaksMixUsers, where, "mix %s: made for nobody", m.ID)
	}
	for _, u := range slices.SortedFunc(maps.Keys(listed), compareMembers) {
		t := v.byName[u]
		if !made || t == nil || t.planned() || t.state.Mix != m.ID {
			v.add(BreaksMixUsers, where, "mix %s: %s at %s is among its users and does not draw from it", m.ID, u.Piece, u.Operation)
		}
	}
}

func compareMembers(a, b Member) int {
	return cmp.Or(cmp.Compare(a.Piece, b.Piece), cmp.Compare(a.Operation, b.Operation))
}
