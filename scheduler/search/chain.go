// SPDX-License-Identifier: Apache-2.0

package search

// chains finds what keeps late orders late, in the solution in hand.
type chains struct {
	begin, end []Tick  // per act
	on         []int32 // acts by station
	onAt       []int32 // those of station s are on[onAt[s]] … on[onAt[s+1]]
	known      bool    // on is of the solution in hand
	hand       []int32 // row in hand, the last first
	row        []int32 // the one picked
	rows       int     // come upon
}

const (
	// longestChain bounds how far back a chain is followed.
	longestChain = 400
	// binding is of how many in a hundred changes of the order a row of work is changed
	// that keeps an order late.
	binding = 25
)

// byStation lists the acts of each station.
func (c *chains) byStation(station []int32, stations int) {
	if c.known {
		return
	}
	c.known = true
	c.onAt = append(c.onAt[:0], make([]int32, stations+2)...)
	for _, s := range station {
		c.onAt[s+2]++
	}
	for s := 2; s < len(c.onAt); s++ {
		c.onAt[s] += c.onAt[s-1]
	}
	if cap(c.on) < len(station) {
		c.on = make([]int32, len(station))
	}
	c.on = c.on[:len(station)]
	for a, s := range station {
		c.on[c.onAt[s+1]] = int32(a)
		c.onAt[s+1]++
	}
}

// lastOfLate is the activity that makes an order late, orders that cost more
// likelier; -1: none is late.
func (s *annealer) lastOfLate() int32 {
	p := s.d.m.p
	var sum float64
	for o := range p.Orders {
		sum += s.lateness[s.worst(o)]
	}
	if sum == 0 {
		return -1
	}
	line, at := int32(-1), s.rng.Float64()*sum
	for o := range p.Orders {
		l := s.worst(o)
		if s.lateness[l] > 0 {
			line = l
		}
		if at -= s.lateness[l]; at <= 0 && line >= 0 {
			break
		}
	}
	last := int32(-1)
	for _, a := range p.Lines[line].Acts {
		if last < 0 || s.chains.end[a] > s.chains.end[last] {
			last = a
		}
	}
	return last
}

// worst is the line that makes an order as late as it is.
func (s *annealer) worst(order int) int32 {
	lines := s.d.m.p.Orders[order].Lines
	worst := lines[0]
	for _, l := range lines[1:] {
		if s.lateness[l] > s.lateness[worst] {
			worst = l
		}
	}
	return worst
}

// trace follows back what work waited for, from one activity on, and picks by
// chance one of the rows of work on one station that it comes upon, each begun as
// soon as that before it was over: it is left in row, the last first. Of two
// things that work waited for one is followed, by chance. False: there is no such
// row.
func (s *annealer) trace(a int32) bool {
	p, c := s.d.m.p, &s.chains
	c.byStation(s.station, len(p.Stations))
	c.row, c.rows = c.row[:0], 0
	c.hand = append(c.hand[:0], a)
	for range longestChain {
		// The wait that ended last.
		arc, ready := int32(-1), p.Now
		for _, j := range p.In[p.InAt[a]:p.InAt[a+1]] {
			x := &p.Arcs[j]
			at := c.end[x.From]
			if x.FromStart {
				at = s.starts[x.From]
			}
			if at += Tick(x.Min); at > ready {
				arc, ready = x.From, at
			}
		}
		// The work on the station that ended just before. What has begun lets nothing pass.
		before := int32(-1)
		for _, b := range c.on[c.onAt[s.station[a]]:c.onAt[s.station[a]+1]] {
			if c.end[b] == c.begin[a] && s.starts[b] < s.starts[a] && s.now.key[b] > settledKey {
				before = b
			}
		}
		if before >= 0 && (arc < 0 || ready < s.starts[a] || s.rng.IntN(2) == 0) {
			a = before
			c.hand = append(c.hand, a)
			continue
		}
		s.keepRow()
		if arc < 0 {
			break
		}
		a = arc
		c.hand = append(c.hand[:0], a)
	}
	return c.rows > 0
}

// keepRow keeps the row in hand or the one kept, each as likely as any other so far.
func (s *annealer) keepRow() {
	c := &s.chains
	if len(c.hand) < 2 {
		return
	}
	if c.rows++; s.rng.IntN(c.rows) == 0 {
		c.row = append(c.row[:0], c.hand...)
	}
}

// passBinding changes the beginning or the end of a row of work that keeps an order
// late. In its middle a change would not make the row shorter (for one station:
// Grabowski, Nowicki and Zdrzalka, A block approach for single-machine scheduling with
// release dates and due dates, 1986).
func (s *annealer) passBinding() bool {
	a := s.lastOfLate()
	if a < 0 || !s.trace(a) {
		return s.passRival()
	}
	row := s.chains.row
	last := len(row) - 1
	k := s.rng.IntN(len(row))
	switch s.rng.IntN(4) {
	case 0:
		return s.passOne(row[last-1], row[last], true)
	case 1:
		return s.passOne(row[1], row[0], false)
	case 2:
		if k == last {
			k = 0
		}
		return s.passOne(row[k], row[last], true)
	}
	if k == 0 {
		k = last
	}
	return s.passOne(row[k], row[0], false)
}

// passOne puts work just before, or after, other work, now and then with all that
// is done to its piece.
func (s *annealer) passOne(a, b int32, before bool) bool {
	if s.next.key[a] <= settledKey {
		return false
	}
	one, other := s.d.m.p.Acts[a].PieceIx, s.d.m.p.Acts[b].PieceIx
	if s.goesAlong(one, other) {
		return s.passAlong(one, other, before)
	}
	by := s.next.key[b] - s.next.key[a] + 1
	if before {
		by -= 2
	}
	for _, mate := range s.next.node[a].acts {
		s.next.key[mate] += by
		s.unrest(mate)
	}
	return true
}
