// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"

	"towpath/scheduler"
)

// overdue are the activities that the solution on the board, as far as it is there,
// starts after a maximum wait that facts have begun, with the instant by which each
// had to start: as often as there are such waits.
func (d *decoder) overdue(found func(act int32, by Tick)) {
	d.m.mustStart(func(a int32, by Tick) {
		if at := &d.b.at[a]; at.on && at.start > by {
			found(a, by)
		}
	})
}

// mustStart tells by when activities must start for longest waits after work
// that has begun or is done.
func (m *model) mustStart(tell func(act int32, by Tick)) {
	for _, i := range m.running {
		arc := &m.p.Arcs[i]
		since := m.p.Acts[arc.From].Fixed.End
		if arc.FromStart {
			since = m.p.Acts[arc.From].Fixed.Start
		}
		tell(arc.To, since+Tick(arc.Max))
	}
	for _, a := range m.dated {
		tell(a, m.p.Acts[a].Deadline)
	}
}

// clocks lists the maximum waits whose clock facts have started.
func (m *model) clocks() {
	p := m.p
	m.awaited = make([]bool, len(p.Acts))
	for i := range p.Arcs {
		if arc := &p.Arcs[i]; arc.HasMax && p.Acts[arc.From].Fixed != nil {
			m.running = append(m.running, int32(i))
			m.awaited[arc.To] = true
		}
	}
	for a := range p.Acts {
		if act := &p.Acts[a]; act.Deadline != 0 && act.Fixed == nil {
			m.dated = append(m.dated, int32(a))
			m.awaited[a] = true
		}
	}
}

// awaits tells whether a wait whose clock runs ends with one of the nodes.
func (m *model) awaits(nodes []*node) bool {
	for _, n := range nodes {
		for _, a := range n.acts {
			if m.awaited[a] {
				return true
			}
		}
	}
	return false
}

// judged tells whether all that ends a wait whose clock runs is on the board.
func (d *decoder) judged() bool {
	all := true
	d.m.mustStart(func(a int32, _ Tick) { all = all && d.b.at[a].on })
	return all
}

// breached counts the maximum waits after begun or done work that the solution
// on the board breaks.
func (d *decoder) breached() int {
	count := 0
	d.overdue(func(int32, Tick) { count++ })
	return count
}

// fresh counts those of them that an earlier plan does not own up to. What it
// does has been looked at when it broke: to turn the plan over for it after
// each later fact would help no tube and leave nobody with the job they were told.
func (d *decoder) fresh(old *scheduler.Plan) int {
	if len(old.Breaches) == 0 {
		return d.breached()
	}
	known := map[int32]int{}
	for i := range old.Breaches {
		if a := d.m.names().find(old.Breaches[i].To); a >= 0 {
			known[a]++
		}
	}
	count := 0
	d.overdue(func(a int32, _ Tick) {
		if known[a] > 0 {
			known[a]--
		} else {
			count++
		}
	})
	return count
}

// littles is by how much what would come too late is let go in steps.
var littles = [...]Tick{15 * 60, 3600, 4 * 3600}

// letGo looks for a solution that breaks fewer waits than the one on the board,
// which is that of kept, by changes of told: first only what comes too late may
// begin sooner, with what comes before it, by a little, by more, by as much as it
// likes; then all that nobody expects yet; then all. In a large shop, or a brisk repair,
// as much as it likes is tried at once. What changes least is taken, of those that break the fewest.
func (d *decoder) letGo(old *scheduler.Plan, kept, told *genome) (*scheduler.Plan, *genome) {
	plan, best, late := d.emit(), kept, d.breached()
	var pieces []string
	d.overdue(func(a int32, _ Tick) { pieces = append(pieces, d.m.p.Acts[a].Piece) })
	concerned := func(a int32) bool {
		return slices.ContainsFunc(told.node[a].acts, func(x int32) bool { return slices.Contains(pieces, d.m.p.Acts[x].Piece) })
	}
	least := d.unkept()
	try := func(g *genome) {
		if g != nil && late > least && d.decodeBelow(g, late) {
			plan, best, late = d.emit(), g, d.breached()
		}
	}
	list := littles[:]
	if d.brisk || d.m.wide() {
		list = nil
	}
	for _, by := range list {
		if late > least {
			some := told.clone()
			some.advance(concerned, by)
			try(some)
		}
	}
	ways := []func() *genome{
		kept.clone,
		func() *genome { own := told.clone(); own.letGo(concerned); return own },
		func() *genome { near := told.clone(); d.m.close(near, old); return near },
		func() *genome { free := told.clone(); free.letGo(func(int32) bool { return true }); return free },
	}
	if d.brisk || d.m.wide() {
		ways = ways[1:]
	}
	for _, way := range ways {
		if late <= least {
			break
		}
		g := way()
		try(g)
		if late > least && d.judges(g) {
			try(d.rescue(g, late))
		}
	}
	return plan, best
}

// decodeBelow is decode, given up as soon as it is known that the solution breaks so
// many waits or more.
func (d *decoder) decodeBelow(g *genome, late int) bool {
	d.fewer = late
	ok := d.decode(g)
	d.fewer = 0
	return ok && d.breached() < late
}

// judges is decode as far as it takes to know which waits a solution breaks.
func (d *decoder) judges(g *genome) bool {
	d.judge = true
	ok := d.decode(g)
	d.judge = false
	return ok
}

// rescue looks for a solution that breaks fewer waits than late and than the one on the
// board, which is that of g: what comes too late may go to any station, and its
// loads are taken apart, halved and halved again, as a part may fit where the
// whole does not: into the small oven while the large one is down. What must
// start first goes into the first part. If that helps they begin near to when and
// where they were told; else as soon as they can. nil: there is none; the board
// then holds anything.
func (d *decoder) rescue(g *genome, late int) *genome {
	least := map[int32]Tick{}
	d.overdue(func(a int32, by Tick) {
		if old, ok := least[a]; !ok || by < old {
			least[a] = by
		}
	})
	loads, size := d.tooLate(g, least)
	late = min(late, d.breached())
	var best *genome
	try := func(size int, near bool) {
		h := g.clone()
		for _, list := range loads {
			for k, part := range slices.Collect(slices.Chunk(list, size)) {
				from := Tick(0)
				if near {
					from = inTime(g, part, least)
				}
				for _, a := range part {
					h.want[a], h.floor[a], h.out[a] = -1, from, 0
					if near {
						h.want[a] = g.want[a]
					}
					h.key[a] = firstKey + float64(d.m.p.Now) + float64(k) // before all that is still to begin, part after part
				}
				d.m.regroupAll(h, part)
			}
		}
		if d.decodeBelow(h, late) && (!near || d.where(loads, g.want)) {
			best, late = h, d.breached()
		}
	}
	for _, near := range []bool{true, false} {
		if near && (d.brisk || d.m.wide()) {
			continue
		}
		for part := size; part > 0 && late > 0; part /= 2 {
			try(part, near)
		}
	}
	return best
}

// where says whether loads are on the board at the stations that are wanted.
func (d *decoder) where(loads [][]int32, want []int32) bool {
	for _, list := range loads {
		for _, a := range list {
			if d.b.at[a].node.options[d.b.at[a].option].station != want[a] {
				return false
			}
		}
	}
	return true
}

// inTime is when part of a load should begin: when it was told, or a little
// before it would come too late.
func inTime(g *genome, part []int32, least map[int32]Tick) Tick {
	from, last := Tick(0), never
	for _, a := range part {
		from = max(from, g.floor[a])
		if by, ok := least[a]; ok {
			last = min(last, by)
		}
	}
	return max(0, min(from, last-margin))
}

// tooLate lists the loads with a member that comes too late and that can still
// be changed, the members that must start first in front, and the size of the
// largest.
func (d *decoder) tooLate(g *genome, least map[int32]Tick) (loads [][]int32, size int) {
	for a, n := range g.node {
		if n.acts[0] != int32(a) || n.load >= 0 || n.fixed != nil || !slices.ContainsFunc(n.acts, func(x int32) bool { _, ok := least[x]; return ok }) {
			continue
		}
		list := slices.Clone(n.acts)
		slices.SortStableFunc(list, func(x, y int32) int {
			bx, okx := least[x]
			by, oky := least[y]
			if okx != oky { // what is in time waits for what is not
				if okx {
					return -1
				}
				return 1
			}
			return cmp.Compare(bx, by)
		})
		loads, size = append(loads, list), max(size, len(list))
	}
	return loads, size
}
