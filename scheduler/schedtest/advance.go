// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Clone copies a plan deeply, so that a test may damage it.
func Clone(p *scheduler.Plan) *scheduler.Plan {
	c := *p
	c.Work = slices.Clone(p.Work)
	for i := range c.Work {
		c.Work[i].Tools = slices.Clone(c.Work[i].Tools)
		c.Work[i].People = slices.Clone(c.Work[i].People)
	}
	c.Loads = slices.Clone(p.Loads)
	for i := range c.Loads {
		c.Loads[i].Members = slices.Clone(c.Loads[i].Members)
	}
	c.Mixes = slices.Clone(p.Mixes)
	for i := range c.Mixes {
		c.Mixes[i].Users = slices.Clone(c.Mixes[i].Users)
	}
	c.Breaches = slices.Clone(p.Breaches)
	return &c
}

// Advance writes facts into the state as if the plan had happened to the
// second until now, publishes the plan, and returns it as it would be made
// again at now: the same times, with what has started and ended marked so.
func Advance(s *scheduler.State, p *scheduler.Plan, now resources.Tick) *scheduler.Plan {
	s.Plan = Clone(p)
	s.At = now
	next := Clone(p)
	next.Made, next.Version = now, p.Version+1
	for i := range next.Mixes {
		m := &next.Mixes[i]
		if m.End <= now && s.Mixes[m.ID] == nil {
			m.Status = scheduler.Done
			s.Mixes[m.ID] = &scheduler.MixRun{ID: m.ID, Resin: m.Resin, Grams: m.Grams, Made: m.End, Expiry: m.Expiry}
		}
	}
	for i := range next.Work {
		w := &next.Work[i]
		status := statusAt(w.Start, w.End, now)
		if status == scheduler.Planned || w.Status == scheduler.Done {
			continue
		}
		happen(s, w, status)
		w.Status = status
	}
	for i := range next.Loads {
		l := &next.Loads[i]
		if l.Status = statusAt(l.Start, l.End, now); l.Status == scheduler.Planned {
			continue
		}
		run := &scheduler.LoadRun{ID: l.ID, Station: l.Station, Members: slices.Clone(l.Members), Status: l.Status, Closed: l.Start, Started: l.Start}
		if l.Status == scheduler.Done {
			run.Ended = l.End
		}
		s.Loads[l.ID] = run
	}
	return next
}

func statusAt(start, end, now resources.Tick) scheduler.Status {
	switch {
	case end <= now:
		return scheduler.Done
	case start <= now:
		return scheduler.Started
	}
	return scheduler.Planned
}

// happen records one operation as started or done, with its resources.
func happen(s *scheduler.State, w *scheduler.Work, status scheduler.Status) {
	piece := s.Pieces[w.Piece]
	product := s.Plant.Product(piece.Product)
	for i := range piece.Ops {
		o := &piece.Ops[i]
		if o.Operation != w.Operation {
			continue
		}
		op := &product.Routing[o.Index]
		if o.Status == scheduler.Planned {
			if m := s.Mixes[w.Mix]; m != nil && op.Mix != nil {
				m.Drawn += op.Mix.Grams
			}
			s.Stations[w.Station].Setup = op.SetupAttributes()
			for _, unit := range w.Tools {
				s.Tools[unit].Holder = w.Piece
			}
		}
		o.Status, o.Station, o.Place, o.Started = status, w.Station, w.Place, w.Start
		o.Load, o.Mix, o.Tools = w.Load, w.Mix, slices.Clone(w.Tools)
		if status == scheduler.Done {
			o.Ended = w.End
			giveBack(s, piece, product, op.ID, w.End)
		}
	}
}

// giveBack frees the units that operation id ends the holding of.
func giveBack(s *scheduler.State, piece *scheduler.Piece, product *resources.Product, id string, end resources.Tick) {
	for i := range piece.Ops {
		for j, take := range product.Routing[piece.Ops[i].Index].Takes {
			if take.Until != id || j >= len(piece.Ops[i].Tools) {
				continue
			}
			unit := s.Tools[piece.Ops[i].Tools[j]]
			unit.Holder = ""
			unit.Free = end + resources.Tick(s.Plant.Tool(take.Tool).Turnaround)
		}
	}
}
