// SPDX-License-Identifier: Apache-2.0

package search

// unkept is how many of the waits whose clock runs nobody can keep, whatever else
// gives way: even with nothing on the board but what cannot move, the stations
// that could end them are taken or shut for too long, or nobody is there. The board
// holds just that then.
func (d *decoder) unkept() int {
	d.back(0)
	count := 0
	d.m.mustStart(func(a int32, by Tick) {
		if at := &d.b.at[a]; at.on {
			if at.start > by {
				count++
			}
		} else if !d.couldStart(a, by) {
			count++
		}
	})
	return count
}

// couldStart tells whether an activity could start by an instant if nothing were placed
// any more, and tools, mixes and changeovers were no matter.
func (d *decoder) couldStart(a int32, by Tick) bool {
	n := d.m.singles[a]
	if n.load >= 0 {
		n = d.m.settled[n.load]
	}
	t := max(d.m.head[a], d.m.p.Now, n.release)
	p := d.m.p
	for _, j := range p.In[p.InAt[a]:p.InAt[a+1]] {
		if from := &d.b.at[p.Arcs[j].From]; from.on {
			t = max(t, anchor(&p.Arcs[j], from)+Tick(p.Arcs[j].Min))
		}
	}
	d.b.scratch.out, d.b.scratch.keep, d.b.scratch.fine = 0, false, fine{}
	for i := range n.options {
		if d.b.couldStart(n, i, t, by) {
			return true
		}
	}
	return false
}

// couldStart is that at one station, not before t.
func (b *board) couldStart(n *node, option int, t, by Tick) bool {
	o := &n.options[option]
	st := &b.p.Stations[o.station]
	least := Tick(o.load + o.run + o.unload)
	for range tries {
		b.begin(n, option)
		try := &b.scratch.try
		free := never
		for k := range b.places[o.station] {
			free = min(free, b.places[o.station][k].freeFrom(t, least))
		}
		if t = free; t > by {
			return false
		}
		try.setup, try.ready, try.start = t, t, t
		next := b.timing(n, o, st, try)
		if next == t {
			return true
		}
		t = next
	}
	return true
}
