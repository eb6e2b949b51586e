// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"
	"strings"
)

// running keeps places taken where something runs that is no activity: the
// winding of a piece whose order was cancelled, a load whose members are all
// scrapped. It goes on until it is reported finished, whoever wants it.
func (c *compiler) running() error {
	for _, key := range sortedKeys(c.s.Lines) {
		line := c.s.Lines[key]
		if !line.Cancelled {
			continue
		}
		for _, serial := range line.Pieces {
			piece := c.s.Pieces[serial]
			if piece == nil || piece.Scrapped {
				continue
			}
			for k := range piece.Ops {
				if o := &piece.Ops[k]; o.Load == "" && (o.Status == Started || o.Status == Paused) {
					c.busy(o.Station, o.Place, c.over(piece, o))
				}
			}
		}
	}
	for _, load := range c.s.runningLoads() {
		place, until, wanted := 0, c.p.Now, false
		for _, m := range load.Members {
			piece := c.s.Pieces[m.Piece]
			k := -1
			if piece != nil {
				k = opNamed(piece, m.Operation)
			}
			if k < 0 {
				continue
			}
			wanted = wanted || !piece.Scrapped && !c.unwanted(piece)
			o := &piece.Ops[k]
			place, until = o.Place, max(until, load.Started+Tick(c.plain(piece, o, load.Station, len(load.Members))))
		}
		if !wanted {
			c.busy(load.Station, place, until)
		}
	}
	return nil
}

// busy takes a place until then.
func (c *compiler) busy(station string, place int, until Tick) {
	if ix, ok := c.stationIx[station]; ok && until > c.p.Now {
		sp := &c.p.Stations[ix]
		sp.Busy = append(sp.Busy, Busy{Place: int32(min(max(1, place), sp.Places) - 1), Until: until})
	}
}

// over is when a single piece's running work should end.
func (c *compiler) over(piece *Piece, o *OpState) Tick {
	end := o.Started + Tick(c.plain(piece, o, o.Station, 1)+o.PausedFor)
	if o.Status == Paused {
		end = c.p.Now + max(0, end-o.PausedAt)
	}
	return end
}

// plain is how long work takes from loading to unloading when it does not pause.
func (c *compiler) plain(piece *Piece, o *OpState, station string, members int) Seconds {
	ix, known := c.stationIx[station]
	product := c.s.Plant.Product(piece.Product)
	if !known || product == nil || o.Index >= len(product.Routing) {
		return 0
	}
	op := &product.Routing[o.Index]
	each := Seconds(members) * (op.LoadEach + op.UnloadEach)
	return op.Load + c.s.Plant.RunTime(op, &c.s.Plant.Stations[ix]) + op.Unload + each
}

// runningLoads are the loads that have started and not ended, by ID.
func (s *State) runningLoads() []*LoadRun {
	var out []*LoadRun
	for _, load := range s.Loads {
		if load.Status == Started {
			out = append(out, load)
		}
	}
	slices.SortFunc(out, func(a, b *LoadRun) int { return strings.Compare(a.ID, b.ID) })
	return out
}
