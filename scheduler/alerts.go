// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"towpath/resources"
)

// Watch finds what on the floor wants a person now. Between two looks it
// remembers what state and plan do not hold: for when work was planned before
// time ran past it, and which alerts there are, since an alert goes later than
// it comes. The same looks in the same order give the same alerts. The zero
// Watch has seen nothing; it belongs to one goroutine.
type Watch struct {
	due    map[Member]Tick // planned work near now: when it was first due
	ends   map[Member]Tick // started work: when it should end
	risky  map[string]Tick // orders at risk: since when
	raised map[string]Tick // alerts by Key: since when
}

// Look lists the alerts of a state at an instant, the one that needs acting
// first first. It only reads the state.
func (w *Watch) Look(s *State, now Tick) []Alert {
	if s.Plant == nil {
		return nil
	}
	l := &look{
		watch: w, s: s, t: s.reading(), now: now,
		due: map[Member]Tick{}, ends: map[Member]Tick{}, risky: map[string]Tick{}, heard: map[string]Tick{},
		jobs: map[string]*job{}, waits: map[string]*waits{}, mixes: map[string]*mixUse{}, nextOf: map[string]Tick{}, openOrder: map[string]bool{},
	}
	l.plan()
	l.told()
	slices.SortFunc(l.out, func(a, b Alert) int {
		return cmp.Or(cmp.Compare(a.By, b.By), cmp.Compare(pressing(a.Kind), pressing(b.Kind)), strings.Compare(a.About, b.About))
	})
	raised := make(map[string]Tick, len(l.out))
	for i := range l.out {
		a := &l.out[i]
		if a.Since = now; w.has(a.Key()) {
			a.Since = w.raised[a.Key()]
		}
		raised[a.Key()] = a.Since
	}
	w.due, w.ends, w.risky, w.raised = l.due, l.ends, l.risky, raised
	return l.out
}

func (w *Watch) has(key string) bool { _, ok := w.raised[key]; return ok }

func pressing(k AlertKind) int {
	return slices.IndexFunc(alertRules, func(r AlertRule) bool { return r.Kind == k })
}

// look is one look at a state.
type look struct {
	watch *Watch
	s     *State
	t     *change
	now   Tick
	out   []Alert

	due, ends map[Member]Tick // what the Watch will remember
	risky     map[string]Tick
	heard     map[string]Tick // last report of a station, as far as the plan reaches back
	jobs      map[string]*job // due or over time, by station and load or step
	waits     map[string]*waits
	mixes     map[string]*mixUse
	nextOf    map[string]Tick // order's next planned step that is not frozen
	openOrder map[string]bool // orders with finishing work to do
}

// reading is a change that nobody will install, to look through; unlike the
// one Apply reuses it belongs to the caller.
func (s *State) reading() *change {
	t := &change{s: s, plant: s.Plant}
	t.lines.base, t.pieces.base, t.loads.base = s.Lines, s.Pieces, s.Loads
	t.mixes.base, t.stations.base, t.tools.base, t.batches.base, t.absences.base = s.Mixes, s.Stations, s.Tools, s.Batches, s.Absences
	return t
}

// plan goes through the published plan, which has every step of every open
// piece, and tells what follows from it.
func (l *look) plan() {
	plan := l.s.Plan
	if plan == nil {
		return
	}
	m := newMeasure(l.s, plan)
	for i := range plan.Work {
		w := &plan.Work[i]
		p := l.s.Pieces[w.Piece]
		if p == nil || p.Scrapped || l.cancelled(p) {
			continue
		}
		k, r := step(p, w.Operation)
		if r != nil {
			continue
		}
		o := &p.Ops[k]
		l.hear(o)
		if last := m.last[p.Product]; o.Status != Done && !p.Sample && o.Index < len(last) && last[o.Index] {
			l.openOrder[p.Order] = true
		}
		switch {
		case o.Status == Started:
			l.started(w, p, o)
		case o.Status == Planned && !p.Held:
			l.planned(w, p, o)
		}
	}
	for _, run := range l.s.Mixes {
		if r := l.s.Plant.Resin(run.Resin); r != nil {
			l.heard[r.Station] = max(l.heard[r.Station], run.Made, run.Ended)
		}
	}
	l.tellWaits()
	l.tellJobs()
	l.promises(m)
}

// told goes through what was reported, with or without a plan.
func (l *look) told() {
	l.tellMixes()
	l.stops()
	l.holds()
	l.materials()
}

func (l *look) cancelled(p *Piece) bool {
	line := l.s.Lines[LineKey(p.Order, p.Line)]
	return line == nil || line.Cancelled
}

func (l *look) hear(o *OpState) {
	if o.Station != "" {
		l.heard[o.Station] = max(l.heard[o.Station], o.Started, o.Ended, o.PausedAt)
	}
}

func (l *look) operation(p *Piece, o *OpState) *resources.Operation {
	product := l.t.product(p)
	if product == nil || o.Index < 0 || o.Index >= len(product.Routing) {
		return nil
	}
	return &product.Routing[o.Index]
}

func (l *look) tell(a Alert) {
	slices.Sort(a.Pieces)
	a.Pieces = slices.Compact(a.Pieces)
	l.out = append(l.out, a)
}

func (l *look) down(station string) bool {
	st := l.s.Stations[station]
	return st != nil && st.Down
}

// people of a part of an operation at a station: those the plan has there,
// else the crews with the skill, the ones at work now first.
func (l *look) people(w *Work, op *resources.Operation, station string) string {
	if w != nil {
		for _, use := range w.People {
			if use.Part <= resources.PartLoad {
				return l.crewName(use.Crew)
			}
		}
	}
	if op != nil {
		for _, need := range op.Needs {
			if need.Share > 0 {
				return l.skilled(need.Skill)
			}
		}
	}
	return l.stationName(station)
}

// skilled names the crews with a skill that are at work now, or all when none
// is.
func (l *look) skilled(skill string) string {
	var here, all []string
	for i := range l.s.Plant.Crews {
		c := &l.s.Plant.Crews[i]
		if !c.HasSkill(skill) {
			continue
		}
		all = append(all, cmp.Or(c.Name, c.ID))
		if l.atWork(c) {
			here = append(here, cmp.Or(c.Name, c.ID))
		}
	}
	if len(here) > 0 {
		all = here
	}
	return cmp.Or(strings.Join(all, ", or "), manager)
}

func (l *look) atWork(c *resources.Crew) bool {
	heads, err := l.s.Roster(c, l.now, l.now+1, func(calendar string) ([]resources.Interval, error) {
		return l.s.Plant.Calendar(calendar).Windows(l.s.Plant.Zone, l.now, l.now+1)
	})
	return err == nil && heads[0].Cap > 0
}

func (l *look) crewName(id string) string {
	if c := l.s.Plant.Crew(id); c != nil {
		return cmp.Or(c.Name, c.ID)
	}
	return id
}

func (l *look) stationName(id string) string {
	if st := l.s.Plant.Station(id); st != nil {
		return cmp.Or(st.Name, st.ID)
	}
	return id
}

// onlyOrder is the order of the pieces when they are of one.
func (l *look) onlyOrder(pieces []string) string {
	order := ""
	for _, serial := range pieces {
		p := l.s.Pieces[serial]
		if p == nil || order != "" && p.Order != order {
			return ""
		}
		order = p.Order
	}
	return order
}

// names lists a few serials in a sentence.
func names(pieces []string) string {
	switch n := len(pieces); {
	case n == 1:
		return pieces[0]
	case n <= 3:
		return strings.Join(pieces[:n-1], ", ") + " and " + pieces[n-1]
	default:
		return pieces[0] + " and " + counted(n-1, "other")
	}
}

// titled is an operation's name as people say it.
func titled(op *resources.Operation) string { return cmp.Or(op.Name, op.ID) }

// counted is a number with its noun.
func counted(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + one + "s"
}
