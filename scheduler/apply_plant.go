// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"maps"
	"slices"
	"strings"

	"towpath/events"
	"towpath/resources"
)

// plantFileName is what findings call the declared file.
const plantFileName = "plant.yaml"

// plantDeclared takes a plant file: the first, or one that replaces another.
// What is in use must be in the new plant too; pieces keep what was done to
// them and follow the new routing from there.
func (t *change) plantDeclared(d events.PlantData) *Refusal {
	plant, findings := resources.ReadPlantWith(plantFileName, []byte(d.File), d.Adopted)
	if plant == nil {
		hint := "correct the file and declare it again"
		if len(d.Adopted) > 0 && !slices.ContainsFunc(findings, func(f resources.Finding) bool { return f.File == plantFileName && f.Severity == resources.Error }) {
			hint = "take off first what stands on top of the plant file and cannot stand so, the newest first"
		}
		return refuse(RefusedMalformed, "plant", hint, "%s", tellFindings(findings))
	}
	t.file, t.adopted = d.File, d.Adopted
	return t.replacePlant(plant)
}

// tellFindings lists the errors of a file, as many as fit a message.
func tellFindings(findings []resources.Finding) string {
	const most = 10
	var lines []string
	for _, f := range findings {
		if f.Severity == resources.Error {
			lines = append(lines, f.String())
		}
	}
	if len(lines) > most {
		lines = append(lines[:most], "and more")
	}
	return strings.Join(lines, "\n")
}

func (t *change) replacePlant(plant *resources.Plant) *Refusal {
	t.plant, t.declared = plant, t.e.ID
	if r := t.replaceStations(); r != nil {
		return r
	}
	if r := t.replaceTools(); r != nil {
		return r
	}
	t.replaceCrews()
	for _, key := range sortedKeys(t.s.Lines) {
		if r := t.replaceProduct(key); r != nil {
			return r
		}
	}
	t.refit()
	for _, id := range sortedKeys(t.s.Mixes) {
		if plant.Resin(t.s.Mixes[id].Resin) == nil {
			t.mixes.drop(id)
			t.note(id, "forgotten: the plant has no resin %s any more", t.s.Mixes[id].Resin)
		}
	}
	t.note("plant", "%s: %d stations, %d products", plant.Name, len(plant.Stations), len(plant.Products))
	for i := range t.adopted {
		t.note("plant", "changed on top of its file: %s", t.adopted[i].Name())
	}
	return nil
}

// replaceStations keeps the condition of stations that stay.
func (t *change) replaceStations() *Refusal {
	for i := range t.plant.Stations {
		st := &t.plant.Stations[i]
		fresh := newStation(st)
		if old := t.s.Stations[st.ID]; old != nil {
			for at, m := range old.On {
				if m == (Member{}) {
					continue
				}
				if at >= len(fresh.On) {
					return refuse(RefusedInUse, "station "+st.ID, "declare the plant when that is finished", "place %d, which the new plant lacks, has %s %s", at+1, m.Piece, m.Operation)
				}
				fresh.On[at] = m
			}
			fresh.Down, fresh.Since, fresh.Until, fresh.Why, fresh.Load = old.Down, old.Since, old.Until, old.Why, old.Load
			if old.SetupAt != 0 {
				fresh.Setup, fresh.SetupAt = old.Setup, old.SetupAt
			}
		}
		t.stations.put(st.ID, fresh)
	}
	for _, id := range sortedKeys(t.s.Stations) {
		old := t.s.Stations[id]
		if t.plant.Station(id) != nil {
			continue
		}
		busy := slices.IndexFunc(old.On, func(m Member) bool { return m != (Member{}) })
		switch {
		case busy >= 0:
			return refuse(RefusedInUse, "station "+id, "declare the plant when that is finished", "the new plant lacks it, and %s %s is on it", old.On[busy].Piece, old.On[busy].Operation)
		case old.Load != "":
			return refuse(RefusedInUse, "station "+id, "declare the plant when that is finished", "the new plant lacks it, and load %s is in it", old.Load)
		}
		t.stations.drop(id)
	}
	return t.replaceLoads()
}

// replaceLoads dissolves closed loads whose station is gone or runs none now.
func (t *change) replaceLoads() *Refusal {
	for _, id := range sortedKeys(t.s.Loads) {
		run := t.s.Loads[id]
		st := t.plant.Station(run.Station)
		switch {
		case run.Status == Done || st != nil && st.Batch != nil:
		case run.Status != Planned:
			return refuse(RefusedInUse, "load "+id, "declare the plant when that is finished", "%s runs no loads in the new plant", run.Station)
		default:
			t.dissolve(run)
			t.note(id, "dissolved: %s runs no loads any more", run.Station)
		}
	}
	return nil
}

// replaceTools keeps the condition of units that stay.
func (t *change) replaceTools() *Refusal {
	for i := range t.plant.Tools {
		pool := &t.plant.Tools[i]
		for _, unit := range pool.Units {
			fresh := &ToolState{Pool: pool.ID}
			if old := t.s.Tools[unit]; old != nil {
				if old.Holder != "" && old.Pool != pool.ID {
					return refuse(RefusedInUse, "tool "+unit, "declare the plant when it is given back", "%s has it, and in the new plant it is a %s", old.Holder, pool.ID)
				}
				*fresh = *old
				fresh.Pool = pool.ID
			}
			t.tools.put(unit, fresh)
		}
	}
	for _, unit := range sortedKeys(t.s.Tools) {
		if own, kept := t.tools.own[unit]; kept && own != nil {
			continue
		}
		if holder := t.s.Tools[unit].Holder; holder != "" {
			return refuse(RefusedInUse, "tool "+unit, "declare the plant when it is given back", "the new plant lacks it, and %s has it", holder)
		}
		t.tools.drop(unit)
	}
	return nil
}

// replaceCrews forgets who is away from a crew that the new plant lacks, or from
// a shift.
func (t *change) replaceCrews() {
	for _, id := range sortedKeys(t.s.Absences) {
		a := t.s.Absences[id]
		if r := t.shiftOf(a.Crew, a.Calendar); r != nil {
			t.absences.drop(id)
			t.note("crew "+a.Crew, "%d away since %s are forgotten: %s", a.People, t.s.clock(a.From), r.Text)
		}
	}
}

// replaceProduct brings an order line and its pieces under the new plant.
func (t *change) replaceProduct(key string) *Refusal {
	l := t.lines.edit(key)
	about := "order " + key
	product := t.plant.Product(l.Product)
	if product == nil {
		if l.Cancelled || t.allEnded(l) {
			t.dropAll(l)
			t.lines.drop(key)
			t.note(about, "forgotten: the plant has no product %s any more, and the line is closed", l.Product)
			return nil
		}
		return refuse(RefusedInUse, about, "keep it in the file until that order is closed", "the new plant has no product %q", l.Product)
	}
	if splitInto(t.s.Plant.Product(l.Product)) != splitInto(product) {
		if p := t.firstBegun(l); p != nil {
			return refuse(RefusedInUse, about, "give the new way a product of its own", "piece %s has begun, and product %s is cut otherwise in the new plant", p.Serial, l.Product)
		}
		t.dropAll(l)
	}
	for _, serial := range l.Pieces {
		if r := t.reroute(serial, product); r != nil {
			return r
		}
	}
	return t.settle(l, nil, false)
}

// allEnded tells whether every piece of a line is scrapped or done.
func (t *change) allEnded(l *Line) bool {
	for _, serial := range l.Pieces {
		p := t.pieces.look(serial)
		open := slices.ContainsFunc(p.Ops, func(o OpState) bool { return o.Status != Done })
		if open && !p.Scrapped {
			return false
		}
	}
	return true
}

// reroute gives a piece the operations of the product as it is now, keeping
// what was reported of those that stay.
func (t *change) reroute(serial string, product *resources.Product) *Refusal {
	t.leaveLostLoads(serial, product)
	p := t.editPiece(serial)
	was := make(map[string]*OpState, len(p.Ops))
	for k := range p.Ops {
		was[p.Ops[k].Operation] = &p.Ops[k]
	}
	ops := opsOf(product, p, splitInto(product) > 0)
	for k := range ops {
		if o := was[ops[k].Operation]; o != nil {
			index := ops[k].Index
			ops[k] = *o
			ops[k].Index = index
			delete(was, o.Operation)
		}
		o := &ops[k]
		runs := o.Status == Started || o.Status == Paused
		if runs && !p.Scrapped && !slices.Contains(product.Routing[o.Index].Stations, o.Station) {
			return refuse(RefusedInUse, "piece "+serial, "declare the plant when that is finished", "%s is on %s, where the new plant does not do it", o.Operation, o.Station)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(was)) {
		switch o := was[name]; {
		case (o.Status == Started || o.Status == Paused) && !p.Scrapped:
			return refuse(RefusedInUse, "piece "+serial, "declare the plant when that is finished", "the new plant lacks %s, which it is in", name)
		case o.Status == Done:
			t.note(serial, "%s, done, is not part of its routing any more", name)
		}
	}
	held := t.heldUnits(p)
	p.Ops = ops
	p.Earlier = slices.Clone(p.Earlier)
	for k := range p.Earlier {
		p.Earlier[k].Index = product.OperationIndex(p.Earlier[k].Operation) // -1: not in the routing any more
	}
	t.realign(p, product, held)
	return nil
}

// heldUnits lists the tool units a piece has.
func (t *change) heldUnits(p *Piece) []string {
	var units []string
	for k := range p.Ops {
		for _, unit := range p.Ops[k].Tools {
			if tool := t.tools.look(unit); tool != nil && tool.Holder == p.Serial {
				units = append(units, unit)
			}
		}
	}
	return units
}

// realign puts the tools of begun operations in the order in which the new
// routing takes them, and frees what the piece had and nothing in its new
// routing will give back.
func (t *change) realign(p *Piece, product *resources.Product, held []string) {
	keeps := map[string]bool{}
	for k := range p.Ops {
		o := &p.Ops[k]
		if len(o.Tools) == 0 {
			continue
		}
		takes := product.Routing[o.Index].Takes
		units := make([]string, len(takes))
		for i := range takes {
			for _, unit := range o.Tools {
				if tool := t.tools.look(unit); tool != nil && tool.Pool == takes[i].Tool && !slices.Contains(units, unit) {
					units[i] = unit
					keeps[unit] = keeps[unit] || p.Ops[t.giver(p, k, &takes[i])].Status != Done
					break
				}
			}
		}
		// A unit that the new plant lacks stays named: it was used.
		for _, unit := range o.Tools {
			if i := slices.Index(units, ""); i >= 0 && t.tools.look(unit) == nil {
				units[i] = unit
			}
		}
		o.Tools = units
		if len(units) == 0 {
			o.Tools = nil
		}
	}
	for _, unit := range held {
		if !keeps[unit] {
			t.free(p.Serial, unit, 0, t.e.At)
		}
	}
}

// leaveLostLoads takes a piece out of a load that is closed and has not
// started when its operation is gone or no longer done there.
func (t *change) leaveLostLoads(serial string, product *resources.Product) {
	p := t.pieces.look(serial)
	for k := range p.Ops {
		o := &p.Ops[k]
		if o.Status != Planned || o.Load == "" {
			continue
		}
		op := product.Operation(o.Operation)
		if op == nil || !slices.Contains(op.Stations, t.loads.look(o.Load).Station) {
			t.leaveLoad(serial, "the new plant does not do "+o.Operation+" there")
			return
		}
	}
}

// refit dissolves closed loads whose members no longer go together.
func (t *change) refit() {
	for _, id := range sortedKeys(t.s.Loads) {
		run := t.loads.look(id)
		if run == nil || run.Status != Planned {
			continue
		}
		if r := t.fits(run, t.plant.Station(run.Station)); r != nil {
			t.note(id, "dissolved: in the new plant its members do not go together: %s", r.Text)
			t.dissolve(run)
		}
	}
}
