// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"slices"

	"towpath/resources"
)

// arcs turns links into waits between activities; a link from work that is
// done becomes a release and, with a maximum, a deadline.
func (c *compiler) arcs() error {
	for i := range c.rows {
		r := &c.rows[i]
		for k := range r.piece.Ops {
			to := c.acts[r.at+k]
			if to == noAct || r.piece.Ops[k].Status != Planned {
				continue
			}
			c.sources(opRef{r.piece, k, i}, func(link *resources.Link, from opRef) {
				c.arc(link, from, to)
			})
		}
	}
	n := len(c.p.Acts)
	c.p.InAt, c.p.In = GroupArcs(n, c.p.Arcs, func(a *Arc) int32 { return a.To })
	c.p.OutAt, c.p.Out = GroupArcs(n, c.p.Arcs, func(a *Arc) int32 { return a.From })
	return nil
}

func (c *compiler) arc(link *resources.Link, from opRef, to int32) {
	source := &from.piece.Ops[from.op]
	if source.Status != Done {
		act, _ := c.act(from)
		c.p.Arcs = append(c.p.Arcs, Arc{
			From: act, To: to, FromStart: link.FromStart,
			Min: link.Min, Max: link.Max, HasMax: link.HasMax,
		})
		return
	}
	at := source.Ended
	if link.FromStart {
		at = source.Started
	}
	act := &c.p.Acts[to]
	act.Release = max(act.Release, at+Tick(link.Min))
	if !link.HasMax {
		return
	}
	by := at + Tick(link.Max)
	act.After = append(act.After, DoneWait{From: Member{from.piece.Serial, source.Operation}, By: by})
	if act.Deadline == 0 || by < act.Deadline {
		act.Deadline = by
	}
}

// GroupArcs lists the indexes of arcs by one of their ends, of which there are n,
// in compressed rows: those of end e are list[at[e]:at[e+1]].
func GroupArcs(n int, arcs []Arc, end func(*Arc) int32) (at, list []int32) {
	at = make([]int32, n+1)
	for i := range arcs {
		at[end(&arcs[i])+1]++
	}
	for i := range n {
		at[i+1] += at[i]
	}
	list = make([]int32, len(arcs))
	next := slices.Clone(at)
	for i := range arcs {
		e := end(&arcs[i])
		list[next[e]] = int32(i)
		next[e]++
	}
	return at, list
}

// loads settles the membership of loads that are closed or started, and of
// those the published plan starts inside the frozen window.
func (c *compiler) loads() error {
	byID := map[string]int32{}
	add := func(id string, station int32, act int32) {
		ix, ok := byID[id]
		if !ok {
			ix = int32(len(c.p.Loads))
			byID[id] = ix
			c.p.Loads = append(c.p.Loads, LoadP{ID: id, Station: station})
		}
		c.p.Loads[ix].Members = append(c.p.Loads[ix].Members, act)
		c.p.Acts[act].Load = ix
	}
	for _, id := range sortedKeys(c.s.Loads) {
		run := c.s.Loads[id]
		if run.Status == Done {
			continue
		}
		for _, m := range run.Members {
			if act := c.actNamed(m); act >= 0 && c.p.Acts[act].Load < 0 {
				add(id, c.stationIx[run.Station], act)
			}
		}
	}
	for i := range c.p.Loads {
		c.together(&c.p.Loads[i])
	}
	if c.s.Plan == nil {
		return nil
	}
	for i := range c.s.Plan.Loads {
		load := &c.s.Plan.Loads[i]
		for _, m := range load.Members {
			act := c.actNamed(m)
			if act < 0 || c.p.Acts[act].Load >= 0 || !c.p.Acts[act].Frozen || c.p.Acts[act].Key < 0 {
				continue
			}
			add(load.ID, c.stationIx[load.Station], act)
		}
	}
	return nil
}

// together gives the members of a started load the times of the whole load: at
// least the longest loading, run and unloading, and everybody's handling.
func (c *compiler) together(load *LoadP) {
	first := c.p.Acts[load.Members[0]].Fixed
	if first == nil {
		return
	}
	var in, run, out, inEach, outEach Seconds
	all := *first
	for _, a := range load.Members {
		f := c.p.Acts[a].Fixed
		if f == nil {
			return
		}
		md := &c.p.Modes[f.Mode]
		in, run, out = max(in, md.Load), max(run, md.Run), max(out, md.Unload)
		inEach, outEach = inEach+md.LoadEach, outEach+md.UnloadEach
		all.Run, all.RunEnd = max(all.Run, f.Run), max(all.RunEnd, f.RunEnd)
		all.Unload, all.End = max(all.Unload, f.Unload), max(all.End, f.End)
	}
	all.Run = max(all.Run, all.Start+Tick(in+inEach))
	all.RunEnd = max(all.RunEnd, all.Run+Tick(run))
	all.Unload = max(all.Unload, all.RunEnd)
	all.End = max(all.End, all.Unload+Tick(out+outEach))
	for _, a := range load.Members {
		f := c.p.Acts[a].Fixed
		f.Run, f.RunEnd, f.Unload, f.End = all.Run, all.RunEnd, all.Unload, all.End
	}
}

// actNamed is the activity of a piece's operation, -1 if there is none.
func (c *compiler) actNamed(m Member) int32 {
	piece := c.s.Pieces[m.Piece]
	if piece == nil {
		return -1
	}
	if k := opNamed(piece, m.Operation); k >= 0 {
		if act, ok := c.act(opRef{piece, k, c.rowNumber(piece)}); ok {
			return act
		}
	}
	return -1
}

// holds lists the tools: those to be taken, and those in somebody's hands
// until an operation still to come.
func (c *compiler) holds() error {
	for i := range c.rows {
		r := &c.rows[i]
		for k := range r.piece.Ops {
			state := &r.piece.Ops[k]
			op := &r.route.product.Routing[state.Index]
			take := c.acts[r.at+k]
			if len(op.Takes) == 0 || state.Status == Planned && take == noAct {
				continue
			}
			first := len(c.p.Holds)
			for j, t := range op.Takes {
				give := c.giver(r, r.route.until[state.Index][j])
				if state.Status != Planned {
					mark := ""
					if j < len(state.Tools) {
						mark = state.Tools[j]
					}
					c.heldNow(r.piece, t, mark, give)
					continue
				}
				if give < 0 {
					x := &Infeasible{Piece: r.piece.Serial, Operation: op.ID, Stations: op.Stations, Reason: "what it takes cannot be given back", Proven: true}
					x.add(LimitTool, t.Tool, fmt.Sprintf("it takes a %s until %s, which is not to come", t.Tool, t.Until))
					return x
				}
				c.p.Holds = append(c.p.Holds, Hold{Pool: c.poolIx[t.Tool], Take: take, Give: give, Unit: -1})
			}
			if state.Status == Planned {
				c.p.Acts[take].Holds = c.listed(first, len(c.p.Holds)-first)
			}
		}
	}
	c.gives()
	return nil
}

// gives lists the holds that end with each activity.
func (c *compiler) gives() {
	count := make([]int32, len(c.p.Acts)+1)
	for i := range c.p.Holds {
		count[c.p.Holds[i].Give]++
	}
	memory := make([]int32, 0, len(c.p.Holds))
	for i := range c.p.Holds {
		act := &c.p.Acts[c.p.Holds[i].Give]
		if act.Gives == nil {
			n := len(memory)
			memory = memory[:n+int(count[c.p.Holds[i].Give])]
			act.Gives = memory[n:n:len(memory)]
		}
		act.Gives = append(act.Gives, int32(i))
	}
}

// giver is the activity of a row that gives a tool back at a routing
// operation, -1 when it is done or cannot be planned.
func (c *compiler) giver(r *row, until int) int32 {
	if until < 0 {
		return -1
	}
	k := opAt(r.piece, until)
	if k < 0 {
		return -1
	}
	return max(c.acts[r.at+k], -1)
}

// heldNow keeps a unit that somebody has from everybody else: until the giving
// activity ends, or, when that cannot be planned, for good.
func (c *compiler) heldNow(piece *Piece, t resources.Take, mark string, give int32) {
	pool := &c.p.Pools[c.poolIx[t.Tool]]
	unit := slices.Index(pool.Units, mark)
	if unit < 0 {
		return
	}
	if give < 0 {
		if now := c.s.Tools[mark]; now != nil && now.Holder == piece.Serial {
			pool.FreeAt[unit] = c.out
		}
		return
	}
	c.p.Holds = append(c.p.Holds, Hold{Pool: c.poolIx[t.Tool], Take: -1, Give: give, Unit: int32(unit)})
}

// history copies done work of open pieces into the plan to be, and notes which
// identities are taken.
func (c *compiler) history() error {
	c.p.Used = append(sortedKeys(c.s.Loads), sortedKeys(c.s.Mixes)...)
	count := 0
	for pass := range 2 {
		if pass == 1 {
			c.p.Past = make([]Work, 0, count)
		}
		for i := range c.rows {
			piece := c.rows[i].piece
			done := 0
			for k := range piece.Ops {
				if piece.Ops[k].Status == Done {
					done++
				}
			}
			if done == len(piece.Ops) {
				continue
			}
			if count += done; pass == 1 && done > 0 {
				c.past(piece)
			}
		}
	}
	return nil
}

// past notes the done work of a piece.
func (c *compiler) past(piece *Piece) {
	for k := range piece.Ops {
		o := &piece.Ops[k]
		if o.Status != Done {
			continue
		}
		c.p.Past = append(c.p.Past, Work{
			Order: piece.Order, Line: piece.Line, Piece: piece.Serial, Operation: o.Operation,
			Station: o.Station, Place: max(1, o.Place),
			Setup: o.Started, Start: o.Started, Run: o.Started,
			RunEnd: o.Ended, Unload: o.Ended, End: o.Ended,
			Load: o.Load, Mix: o.Mix, Tools: o.Tools, Status: Done,
		})
	}
}
