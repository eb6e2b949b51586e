// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"errors"
	"slices"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// told is a believed record and when the audit read it, by the latest instant
// that any record had named.
type told struct {
	event events.Event
	at    scheduler.Tick
}

// answersFor is how long a fact is a reason for a plan that was asked for by
// it: a search takes a while, and is begun again when it has gone stale.
const answersFor = scheduler.Tick(resources.Hour)

// hear keeps a believed record for as long as it may be a reason.
func (a *Audit) hear(e events.Event) {
	a.clock = max(a.clock, e.At)
	a.heard = append(a.heard, told{e, a.clock})
	old := slices.IndexFunc(a.heard, func(t told) bool { return t.at >= a.clock-answersFor || t.event.Seq > a.last })
	a.heard = slices.Delete(a.heard, 0, max(0, old))
}

// reasoned says whether there is a reason for another next job than in the plan
// before: a fact since then about the station itself, or about a piece, tool, mix
// or crew of the old job or the new one; a fact since then, or since the search was
// asked for, that the table of reactions answers with another order of things
// (a breakdown, a failed test, a new order, something taken back); a plan since
// the search was asked for that cost dates; that the plan gains dates, or keeps a
// wait that the one before breaks; that the old job should have begun by now;
// that work on the way to either job is behind its time; that times were put
// right, and the old job has become later and the new one no sooner; or that the
// new job would have come too late where it was told, after work that is done or
// running.
func (a *Audit) reasoned(station string, was, is nextJob, before *scheduler.State, plan *scheduler.Plan, asked *events.PlanAsked, gain gain) bool {
	if was.start < plan.Made || gain.waits || gain.dates {
		return true
	}
	if asked == nil && slid(before.Plan, plan, was, is) || tooLate(before, plan, is) {
		return true
	}
	for _, t := range a.heard {
		e := &t.event
		since := e.Seq > a.last
		order := scheduler.ReactionTo(*e).Then == scheduler.Improve && !passed(*e) || a.costly[e.Seq]
		if (since || asked != nil && e.Seq >= asked.Since) && order {
			return true
		}
		if since && (e.Station == station || concerns(*e, was) || concerns(*e, is)) {
			return true
		}
	}
	return behind(before, plan.Made, was, is)
}

// behind says whether work of one of the jobs' pieces, or with one of their
// tools or mixes, should have begun or ended by now and has not; or what a
// station does before it takes from such a mix.
func behind(s *scheduler.State, now scheduler.Tick, jobs ...nextJob) bool {
	takes := map[string]scheduler.Tick{} // when a station is told to take from such a mix, or from the one it is instead of
	for i := range s.Plan.Work {
		w := &s.Plan.Work[i]
		if w.Mix != "" && slices.ContainsFunc(jobs, func(j nextJob) bool { return w.Mix == j.mix || j.operation == "" && slices.Contains(j.pieces, w.Piece) }) {
			takes[w.Station] = max(takes[w.Station], w.Setup)
		}
	}
	for i := range s.Plan.Work {
		w := &s.Plan.Work[i]
		if w.Setup >= now {
			continue
		}
		mine := slices.ContainsFunc(jobs, func(j nextJob) bool {
			return slices.Contains(j.pieces, w.Piece) || w.Mix != "" && w.Mix == j.mix ||
				slices.ContainsFunc(w.Tools, func(unit string) bool { return slices.Contains(j.tools, unit) })
		})
		if (mine || w.Setup < takes[w.Station]) && late(s, w, now) {
			return true
		}
	}
	return false
}

// late says whether work of the published plan has not come as far as it says.
func late(s *scheduler.State, w *scheduler.Work, now scheduler.Tick) bool {
	p := s.Pieces[w.Piece]
	if p == nil || p.Scrapped {
		return false
	}
	for i := range p.Ops {
		if o := &p.Ops[i]; o.Operation == w.Operation {
			return o.Status == scheduler.Planned || o.Status != scheduler.Done && w.End < now
		}
	}
	return false
}

// passed says whether a piece has passed a gate, which is as planned: measured
// or not, it is no reason for another order of things.
func passed(e events.Event) bool {
	d, ok := e.Data.(events.ResultData)
	return ok && d.Pass && d.Decision == ""
}

// concerns says whether an event speaks of a piece, tool or mix of a job, or of
// people it needs who went or came back.
func concerns(e events.Event, j nextJob) bool {
	piece := func(serial string) bool { return slices.Contains(j.pieces, serial) }
	shares := func(tools []string) bool {
		return slices.ContainsFunc(tools, func(unit string) bool { return slices.Contains(j.tools, unit) })
	}
	switch d := e.Data.(type) {
	case events.OperationData:
		return piece(d.Piece) || shares(d.Tools) || d.Mix != "" && d.Mix == j.mix
	case events.LoadData:
		return slices.ContainsFunc(d.Pieces, func(x events.LoadItem) bool { return piece(x.Piece) || shares(x.Tools) }) || d.Mix != "" && d.Mix == j.mix
	case events.MixData:
		return d.Mix == j.mix
	case events.ToolData:
		return slices.Contains(j.tools, d.Unit)
	case events.PieceData:
		return piece(d.Piece)
	case events.ResultData:
		return piece(d.Piece)
	case events.AbsentData:
		return slices.Contains(j.crews, d.Crew)
	case events.PresentData:
		return slices.Contains(j.crews, d.Crew)
	}
	return false
}

// gain is what a plan is worth against the one before it.
type gain struct {
	costs bool // worse for the dates: such a plan asks for a better one
	dates bool // better for the dates, and breaks no more waits
	waits bool // breaks fewer waits
}

func gainOf(s *scheduler.State, before, plan *scheduler.Plan) gain {
	was, is := scheduler.Measure(s, before), scheduler.Measure(s, plan)
	lost := is.LostWeight - was.LostWeight
	late := is.WeightedTardinessSeconds - was.WeightedTardinessSeconds
	return gain{
		costs: lost > 0 || late > 0,
		dates: is.Breaches <= was.Breaches && (lost < 0 || lost == 0 && late < 0),
		waits: is.Breaches < was.Breaches,
	}
}

// repaired is the published plan as people would find it by now had nobody
// searched for a better one; itself when it has become impossible.
func (a *Audit) repaired(s *scheduler.State, now scheduler.Tick) *scheduler.Plan {
	if p, err := scheduler.Compile(s, now); err == nil {
		if plan, err := a.Repair(p, s.Plan); err == nil {
			return plan
		}
	}
	return s.Plan
}

// forced says whether nobody could have kept to the published plan, its order
// kept and everything only later where facts push it: it would break more waits
// than the plan, or the old job comes later that way too, and either no sooner than
// in the plan, which only does something else meanwhile, or at a price in dates.
func (a *Audit) forced(s *scheduler.State, plan *scheduler.Plan, was nextJob) bool {
	p, err := scheduler.Compile(s, plan.Made)
	if err != nil {
		return false
	}
	pushed, err := a.Push(p, s.Plan)
	if err != nil {
		return errors.Is(err, scheduler.ErrNothingPossible) // nobody can keep to it
	}
	gain := gainOf(s, pushed, plan)
	return gain.waits || meanwhile(s.Plan, pushed, plan, was, gain.dates)
}

// meanwhile says whether a job that was told comes later when it is only pushed,
// and no later in a plan than that, unless the plan is better for the dates.
func meanwhile(told, pushed, plan *scheduler.Plan, was nextJob, better bool) bool {
	old, later, is := spotsOf(told, was), spotsOf(pushed, was), spotsOf(plan, was)
	for i := range old {
		if later[i].start <= old[i].start || is[i].station == "" || is[i].start > later[i].start && !better {
			return false
		}
	}
	return len(old) > 0
}

// stopped says whether a plan before has a job at a station that, as is known by
// now, stands still then: with no word of its coming back, for longer than was
// thought.
func stopped(broken []scheduler.Violation, j nextJob) bool {
	return slices.ContainsFunc(broken, func(v scheduler.Violation) bool {
		return v.Kind == scheduler.BreaksStop && v.Operation == j.operation && slices.Contains(j.pieces, v.Piece)
	})
}

// slid says whether the old job has only become later, where it was, and the
// new one is where people were told, and no sooner: what facts push, they do not
// push alike.
func slid(before, plan *scheduler.Plan, was, is nextJob) bool {
	later := func(j nextJob, by scheduler.Tick) bool {
		old, now := spotsOf(before, j), spotsOf(plan, j)
		for i := range old {
			if now[i].station != old[i].station || now[i].start < old[i].start+by {
				return false
			}
		}
		return len(old) > 0
	}
	return later(was, 1) && later(is, 0)
}

// tooLate says whether a job was told for a time at which, by now, a longest
// wait after work that is done or running would be over.
func tooLate(before *scheduler.State, plan *scheduler.Plan, j nextJob) bool {
	told := spotsOf(before.Plan, j)
	for i, serial := range j.pieces {
		p := before.Pieces[serial]
		if p == nil || told[i].station == "" {
			continue
		}
		product := before.Plant.Product(p.Product)
		if product == nil || product.Operation(j.operation) == nil {
			continue
		}
		for _, link := range product.Operation(j.operation).After {
			end, known := endOf(p, plan, link.Operation)
			if known && link.HasMax && !link.FromStart && told[i].start > end+scheduler.Tick(link.Max) {
				return true
			}
		}
	}
	return false
}

// endOf is when an operation of a piece ended or, while it runs, is to end.
func endOf(p *scheduler.Piece, plan *scheduler.Plan, operation string) (scheduler.Tick, bool) {
	for i := range p.Ops {
		o := &p.Ops[i]
		switch {
		case o.Operation != operation || o.Status == scheduler.Planned:
		case o.Status == scheduler.Done:
			return o.Ended, true
		default:
			k := slices.IndexFunc(plan.Work, func(w scheduler.Work) bool { return w.Piece == p.Serial && w.Operation == operation })
			if k >= 0 {
				return plan.Work[k].End, true
			}
		}
	}
	return 0, false
}

// together says whether a plan begins the old job at the same instant as the
// new one, at the same station: of two places, either is the next.
func together(plan *scheduler.Plan, station string, was nextJob, is nextJob) bool {
	for _, s := range spotsOf(plan, was) {
		if s.station != station || s.setup != is.start {
			return false
		}
	}
	return len(was.pieces) > 0
}

// spot is where and when one step of a job begins.
type spot struct {
	station      string
	setup, start scheduler.Tick
}

// spotsOf is where a plan has the pieces of a job, in their order, or the mix
// they take from; a piece that it does not have there is nowhere.
func spotsOf(p *scheduler.Plan, j nextJob) []spot {
	out := make([]spot, len(j.pieces))
	if k := slices.IndexFunc(p.Mixes, func(m scheduler.Mix) bool { return m.ID == j.mix }); k >= 0 && j.operation == "" {
		m := &p.Mixes[k]
		for i := range out {
			out[i] = spot{m.Station, m.Start, m.Start}
		}
	}
	for i := range p.Work {
		w := &p.Work[i]
		if k := slices.Index(j.pieces, w.Piece); k >= 0 && w.Operation == j.operation {
			out[k] = spot{w.Station, w.Setup, w.Start}
		}
	}
	return out
}
