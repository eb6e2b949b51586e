// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"

	"towpath/events"
	"towpath/resources"
)

func (t *change) loadClosed(d events.LoadData) *Refusal {
	run := t.loads.look(d.Load)
	if m := loadLife.move(loadState(run), events.LoadClosed, never); m.Refuse != "" {
		hint := "nothing to do; other pieces may be listed when it starts"
		return refuse(m.Refuse, "load "+d.Load, hint, "it was already closed%s", by(run.By))
	}
	if r := t.closeLoad(d.Load, t.e.Station, d.Pieces); r != nil {
		return r
	}
	t.loads.look(d.Load).Closed = t.e.At
	return nil
}

// closeLoad settles the members of a load nobody has reported.
func (t *change) closeLoad(id, station string, items []events.LoadItem) *Refusal {
	about := "load " + id
	st := t.plant.Station(station)
	switch {
	case id == "":
		return refuse(RefusedMalformed, "load", "give it a name of its own", "the load has no name")
	case st == nil:
		return refuse(RefusedUnknown, about, "check the name", "the plant has no station %q", station)
	case st.Batch == nil:
		return refuse(RefusedWrongPlace, about, "report each piece by itself", "%s runs no loads", station)
	case len(items) == 0:
		return refuse(RefusedMalformed, about, "list them", "a load needs pieces")
	case len(items) > MaxQuantity:
		return refuse(RefusedTooMuch, about, "", "%d pieces in one load", len(items))
	}
	run := &LoadRun{ID: id, Station: st.ID, By: t.e.By, Members: make([]Member, 0, len(items))}
	for _, item := range items {
		if r := t.joinLoad(run, st, item); r != nil {
			return r
		}
	}
	if r := t.fits(run, st); r != nil {
		return r
	}
	t.loads.put(id, run)
	return nil
}

// joinLoad adds one member.
func (t *change) joinLoad(run *LoadRun, st *resources.Station, item events.LoadItem) *Refusal {
	p, k, r := t.step(item.Piece, item.Operation)
	if r != nil {
		return r
	}
	o := &p.Ops[k]
	if r := t.notInLoad(p, o, run.ID); r != nil {
		return r
	}
	if _, r := t.eligible(p, o, st.ID); r != nil {
		return r
	}
	if p.Held {
		return refuse(RefusedHeld, "piece "+p.Serial, "leave it out, or have it released first", "it is held%s", because(p.Why))
	}
	t.editPiece(p.Serial).Ops[k].Load = run.ID
	run.Members = append(run.Members, Member{p.Serial, o.Operation})
	return nil
}

// notInLoad refuses an operation that is begun, or in this or another load.
func (t *change) notInLoad(p *Piece, o *OpState, id string) *Refusal {
	switch m := operationLife.move(operationState(o.Status), events.LoadStarted, never); {
	case o.Status == Planned && o.Load == id:
		return refuse(RefusedMalformed, "load "+id, "list each piece once", "piece %s is listed twice", p.Serial)
	case o.Status == Planned && o.Load != "":
		return refuse(RefusedInLoad, "piece "+p.Serial, "void the closing of that load first", "%s is in load %s", o.Operation, o.Load)
	case m.Refuse != "":
		return t.already(p, o, m)
	}
	return nil
}

// fits asks whether the members can run together: alike in what the station
// wants alike, and not more than it holds.
func (t *change) fits(run *LoadRun, st *resources.Station) *Refusal {
	var first *resources.Operation
	size := map[string]int64{}
	for _, m := range run.Members {
		p := t.pieces.look(m.Piece)
		op := t.product(p).Operation(m.Operation)
		if first == nil {
			first = op
		}
		for _, name := range st.Batch.Same {
			if a, b := t.alike(first, name), t.alike(op, name); a != b {
				return refuse(RefusedUnlike, "load "+run.ID, "run them apart", "%s has %s %q and %s %q", run.Members[0].Piece, name, a, m.Piece, b)
			}
		}
		for name, n := range op.Size {
			size[name] += n
		}
	}
	for _, name := range sortedKeys(st.Batch.Capacity) {
		if most := st.Batch.Capacity[name]; size[name] > most {
			return refuse(RefusedTooMuch, "load "+run.ID, "take pieces out, or correct the plant file", "%s of the pieces add up to %d; %s holds %d", name, size[name], st.ID, most)
		}
	}
	return nil
}

// alike is what members of a load must have in common under an attribute.
func (t *change) alike(op *resources.Operation, attribute string) string {
	if attribute != resources.RecipeAttribute || op.Recipe == "" {
		return op.Attributes[attribute]
	}
	if recipe := t.plant.Recipe(op.Recipe); recipe != nil && recipe.Group != "" {
		return recipe.Group
	}
	return op.Recipe
}

// dissolve forgets a load that has not started.
func (t *change) dissolve(run *LoadRun) {
	for _, m := range run.Members {
		p := t.editPiece(m.Piece)
		for k := range p.Ops {
			if p.Ops[k].Operation == m.Operation {
				p.Ops[k].Load = ""
			}
		}
	}
	t.loads.drop(run.ID)
}

// leaveLoad takes a piece out of a load that is closed and has not started.
func (t *change) leaveLoad(serial, why string) {
	p := t.pieces.look(serial)
	for k := range p.Ops {
		o := &p.Ops[k]
		if o.Status != Planned || o.Load == "" {
			continue
		}
		run := t.loads.edit(o.Load)
		t.note(run.ID, "%s taken out: %s", serial, why)
		run.Members = slices.DeleteFunc(slices.Clone(run.Members), func(m Member) bool { return m.Piece == serial && m.Operation == o.Operation })
		if len(run.Members) == 0 {
			t.note(run.ID, "dissolved: it has no member left")
			t.loads.drop(run.ID)
		}
		p = t.editPiece(serial)
		p.Ops[k].Load = ""
	}
}

func (t *change) loadStarted(d events.LoadData) *Refusal {
	run := t.loads.look(d.Load)
	m := loadLife.move(loadState(run), events.LoadStarted, t.loadIf(run, d))
	if m.Refuse != "" {
		return t.loadRefused(run, d, m)
	}
	if run != nil && run.Status == Done {
		return t.correctLoad(d)
	}
	run, r := t.settleLoad(run, d)
	if r != nil {
		return r
	}
	s := t.editStation(run.Station)
	if s.Load != "" && s.Load != run.ID {
		return refuse(RefusedOccupied, "load "+run.ID, "report that finished first", "%s still runs load %s", run.Station, s.Load)
	}
	s.Load = run.ID
	return t.startLoad(run, d, t.e.At, false)
}

// loadIf answers the conditions of the load's life cycle.
func (t *change) loadIf(run *LoadRun, d events.LoadData) func(string) bool {
	return func(condition string) bool {
		switch condition {
		case ifGiven:
			return len(d.Pieces) > 0 || t.plannedLoad(d.Load) != nil
		case ifGuessed:
			return run != nil && run.StartGuessed
		}
		return false
	}
}

// plannedLoad is a load of the published plan; nil if it has none of that ID.
func (t *change) plannedLoad(id string) *Load {
	if p := t.s.published(); p != nil {
		return p.load(id)
	}
	return nil
}

func (t *change) loadRefused(run *LoadRun, d events.LoadData, m *Move) *Refusal {
	about := "load " + d.Load
	switch {
	case run == nil:
		return refuse(m.Refuse, about, "check the name, or list its pieces", "there is no such load")
	case run.Status == Done:
		return refuse(m.Refuse, about, "nothing to do; if that report is wrong, void it", "it is already finished, reported%s at %s", by(run.By), t.s.clock(run.Ended))
	}
	return refuse(m.Refuse, about, "nothing to do; if that report is wrong, void it", "it was already started%s at %s", by(run.By), t.s.clock(run.Started))
}

// settleLoad is the load as a copy, with the members it really has: those the
// report lists, else those of its closing, else those of the plan.
func (t *change) settleLoad(run *LoadRun, d events.LoadData) (*LoadRun, *Refusal) {
	station, closed := t.e.Station, Tick(0)
	if run != nil {
		if station != "" && station != run.Station {
			return nil, refuse(RefusedWrongPlace, "load "+run.ID, "report it from there", "it was closed for %s, not for %s", run.Station, station)
		}
		if len(d.Pieces) == 0 || sameMembers(run.Members, d.Pieces) {
			return t.loads.edit(run.ID), nil
		}
		t.note(run.ID, "other pieces than it was closed with")
		station, closed = run.Station, run.Closed
		t.dissolve(run)
	}
	items := d.Pieces
	if planned := t.plannedLoad(d.Load); planned != nil {
		if len(items) == 0 {
			for _, m := range planned.Members {
				items = append(items, events.LoadItem{Piece: m.Piece, Operation: m.Operation})
			}
		}
		if station == "" {
			station = planned.Station
		}
	}
	if r := t.closeLoad(d.Load, station, items); r != nil {
		return nil, r
	}
	run = t.loads.look(d.Load)
	run.Closed = closed
	return run, nil
}

func sameMembers(members []Member, items []events.LoadItem) bool {
	return slices.EqualFunc(members, items, func(m Member, i events.LoadItem) bool {
		return m.Piece == i.Piece && m.Operation == i.Operation
	})
}

// startLoad starts every member. The run must be a copy of this change.
func (t *change) startLoad(run *LoadRun, d events.LoadData, at Tick, over bool) *Refusal {
	for i, m := range run.Members {
		x := start{
			piece: m.Piece, operation: m.Operation, station: run.Station, at: at, load: run.ID, setup: d.Setup,
			tools: toolsOf(d, m), over: over, guessed: over,
		}
		p := t.pieces.look(m.Piece)
		k := slices.IndexFunc(p.Ops, func(o OpState) bool { return o.Operation == m.Operation })
		if t.product(p).Routing[p.Ops[k].Index].Mix != nil {
			x.mix = d.Mix
		}
		x.lots = lotsFor(&t.product(p).Routing[p.Ops[k].Index], d.Lots)
		if r := t.start(x); r != nil {
			return r
		}
		if i == 0 {
			t.setUp(t.plant.Station(run.Station), t.editStation(run.Station), p, k, at)
		}
	}
	run.Status, run.Started, run.StartGuessed = Started, at, over
	if !over {
		run.By, run.StartEvent = t.e.By, t.e.ID
	}
	return nil
}

// lotsFor are those of a load's lots whose material one member draws.
func lotsFor(op *resources.Operation, lots []events.LotUse) []events.LotUse {
	var out []events.LotUse
	for _, l := range lots {
		if slices.ContainsFunc(op.Draws, func(d resources.Draw) bool { return d.Material == l.Material }) {
			out = append(out, l)
		}
	}
	return out
}

func (t *change) loadFinished(d events.LoadData) *Refusal {
	run := t.loads.look(d.Load)
	m := loadLife.move(loadState(run), events.LoadFinished, t.loadIf(run, d))
	if m.Refuse != "" {
		return t.loadRefused(run, d, m)
	}
	if run == nil || run.Status == Planned {
		var r *Refusal
		if run, r = t.settleLoad(run, d); r != nil {
			return r
		}
		at := t.guessLoad(run)
		t.note(run.ID, "taken to have started at %s: only its end was reported", t.s.clock(at))
		if r := t.startLoad(run, d, at, true); r != nil {
			return r
		}
	}
	return t.endLoad(run.ID)
}

// endLoad ends every member.
func (t *change) endLoad(id string) *Refusal {
	run := t.loads.edit(id)
	switch {
	case t.e.Station != "" && t.e.Station != run.Station:
		return refuse(RefusedWrongPlace, "load "+id, "report it from there", "it runs on %s, not on %s", run.Station, t.e.Station)
	case t.e.At < run.Started:
		return refuse(RefusedContradicts, "load "+id, "check the times", "it cannot end at %s: it is reported running from %s", t.s.clock(t.e.At), t.s.clock(run.Started))
	}
	for _, m := range run.Members {
		p := t.editPiece(m.Piece)
		for k := range p.Ops {
			if p.Ops[k].Operation == m.Operation && p.Ops[k].Status != Done && p.Ops[k].Load == id {
				t.end(p, k, t.e.At, false)
			}
		}
	}
	run.Status, run.Ended, run.By, run.EndEvent = Done, t.e.At, t.e.By, t.e.ID
	if s := t.stations.look(run.Station); s != nil && s.Load == id {
		t.editStation(run.Station).Load = ""
	}
	return nil
}

// guessLoad estimates when a load that is over now started: the slowest member
// sets its length, and it was not before the last one was ready.
func (t *change) guessLoad(run *LoadRun) Tick {
	st := t.plant.Station(run.Station)
	var long Seconds
	ready := firstInstant
	for _, m := range run.Members {
		p := t.pieces.look(m.Piece)
		k, _ := step(p, m.Operation)
		long = max(long, t.duration(p.Serial, &t.product(p).Routing[p.Ops[k].Index], st))
		ready = max(ready, t.known(p, &p.Ops[k]))
	}
	return min(t.e.At, max(ready, t.e.At-Tick(long)))
}

// correctLoad takes the late report of a start that was only implied.
func (t *change) correctLoad(d events.LoadData) *Refusal {
	run := t.loads.edit(d.Load)
	if t.e.At > run.Ended {
		return refuse(RefusedContradicts, "load "+run.ID, "check the times", "it was reported finished at %s already", t.s.clock(run.Ended))
	}
	if s := t.editStation(run.Station); s != nil && s.SetupAt == run.Started {
		s.SetupAt = t.e.At
	}
	run.Started, run.StartGuessed, run.StartEvent = t.e.At, false, t.e.ID
	for _, m := range run.Members {
		if r := t.correctMember(m, d); r != nil {
			return r
		}
	}
	t.note(run.ID, "late report: it started at %s", t.s.clock(t.e.At))
	return nil
}

// correctMember takes the late report of a load's start for one member.
func (t *change) correctMember(m Member, d events.LoadData) *Refusal {
	p := t.editPiece(m.Piece)
	k, r := step(p, m.Operation)
	if r != nil {
		return r
	}
	o := &p.Ops[k]
	if o.Load != d.Load {
		return nil // done again since, outside this load
	}
	o.Started, o.StartGuessed, o.StartedBy, o.StartEvent, o.SetupFrom = t.e.At, false, t.e.By, t.e.ID, d.Setup
	if r := t.correctTools(p, k, toolsOf(d, m)); r != nil {
		return r
	}
	if t.product(p).Routing[o.Index].Mix == nil {
		return nil
	}
	return t.correctMix(p, k, d.Mix)
}

// toolsOf are the units a report of a load gives for a member.
func toolsOf(d events.LoadData, m Member) []string {
	for i := range d.Pieces {
		if d.Pieces[i].Piece == m.Piece && d.Pieces[i].Operation == m.Operation {
			return d.Pieces[i].Tools
		}
	}
	return nil
}
