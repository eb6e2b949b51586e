// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// ToolPool is the units of one mandrel or fixture, each with where it is.
type ToolPool struct {
	ID    string     `json:"id" doc:"tool's ID"`
	Name  string     `json:"name" doc:"tool's name"`
	Kind  string     `json:"kind" doc:"mandrel, fixture, …"`
	Free  int        `json:"free" doc:"units that can be taken now"`
	Units []ToolUnit `json:"units" doc:"in the order of the plant file"`
}

// ToolUnit is one unit now.
type ToolUnit struct {
	Mark    string         `json:"mark" doc:"its mark"`
	State   string         `json:"state" doc:"free, held, turnaround (cleaning and coating) or out (of use)"`
	Piece   string         `json:"piece" doc:"piece that has it; empty: none"`
	Order   string         `json:"order" doc:"order of that piece"`
	Step    string         `json:"step" doc:"operation the piece is in, or has done last"`
	Station string         `json:"station" doc:"where that is, or was"`
	Running bool           `json:"running" doc:"true: the operation runs; false: it is over and the piece waits"`
	Since   resources.Tick `json:"since" doc:"when it was taken, or went out"`
	Until   resources.Tick `json:"until" doc:"end of the turnaround, or expected back; empty: not known"`
	Why     string         `json:"why" doc:"why it is out; empty: it is not"`
}

// Tools lists every tool unit with where it is.
func (v *View) Tools() []ToolPool {
	out := []ToolPool{}
	for i := range v.plant.Tools {
		pool := &v.plant.Tools[i]
		p := ToolPool{ID: pool.ID, Name: cmp.Or(pool.Name, pool.ID), Kind: pool.Kind, Units: []ToolUnit{}}
		for _, mark := range pool.Units {
			u := v.toolUnit(mark)
			if u.State == "free" {
				p.Free++
			}
			p.Units = append(p.Units, u)
		}
		out = append(out, p)
	}
	return out
}

func (v *View) toolUnit(mark string) ToolUnit {
	u := ToolUnit{Mark: mark, State: "free"}
	t := v.Picture.State.Tools[mark]
	if t == nil {
		return u
	}
	if p := v.piece(t.Holder); p != nil {
		u.State, u.Piece, u.Order = "held", t.Holder, p.Order
		v.locate(&u, p)
	}
	switch {
	case t.Out:
		u.State, u.Why, u.Since, u.Until = "out", t.Why, t.Since, t.Until
	case t.Holder == "" && t.Free > v.zone.Now:
		u.State, u.Until = "turnaround", t.Free
	}
	return u
}

// locate finds where a piece is, and when it took the unit.
func (v *View) locate(u *ToolUnit, p *scheduler.Piece) {
	var last resources.Tick
	for i := range p.Ops {
		o := &p.Ops[i]
		if slices.Contains(o.Tools, u.Mark) {
			u.Since = o.Started
		}
		runs := o.Status == scheduler.Started || o.Status == scheduler.Paused
		if o.Status == scheduler.Planned || u.Running && !runs || !runs && o.Ended < last {
			continue
		}
		last = max(last, o.Ended)
		u.Step, u.Station, u.Running = o.Operation, o.Station, runs
		if op := v.operation(p.Serial, o.Operation); op != nil {
			u.Step = cmp.Or(op.Name, op.ID)
		}
	}
}

// Warning before a mix expires.
const mixSoon = 20 * resources.Minute

// MixClock is a mix that matters at a station, with the time it has left.
type MixClock struct {
	Mix    string         `json:"mix" doc:"ID"`
	Resin  string         `json:"resin" doc:"resin system"`
	Left   int64          `json:"left_g" doc:"grams not drawn yet"`
	Expiry resources.Tick `json:"expiry" doc:"end of its pot life"`
	State  string         `json:"state" doc:"good, soon (expires within 20 minutes), expired or held"`
	Why    string         `json:"why" doc:"why it is on hold; empty: it is not"`
	For    []string       `json:"for" doc:"pieces here that draw from it"`
}

// mixClocks lists the mixes that the jobs shown at a station draw from and that
// have been made.
func (v *View) mixClocks(jobs []*Job) []MixClock {
	out := []MixClock{}
	for _, j := range jobs {
		if j.Kind == MixJob || j.Mix == "" {
			continue
		}
		m := v.Picture.State.Mixes[j.Mix]
		if m == nil || m.Discarded {
			continue
		}
		i := slices.IndexFunc(out, func(c MixClock) bool { return c.Mix == j.Mix })
		if i < 0 {
			c := MixClock{Mix: m.ID, Resin: m.Resin, Left: max(0, m.Grams-m.Drawn), Expiry: m.Expiry, State: "good", For: []string{}}
			switch b := v.Picture.State.Batches["mix/"+m.ID]; {
			case b != nil && b.Held:
				c.State, c.Why = "held", b.Why
			case m.Expiry <= v.zone.Now:
				c.State = "expired"
			case m.Expiry <= v.zone.Now+resources.Tick(mixSoon):
				c.State = "soon"
			}
			out, i = append(out, c), len(out)
		}
		for k := range j.Pieces {
			out[i].For = appendNew(out[i].For, j.Pieces[k].Piece)
		}
	}
	return out
}
