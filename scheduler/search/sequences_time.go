// SPDX-License-Identifier: Apache-2.0

package search

// touch says that an item has to be timed again, and what comes after it.
func (s *sequences) touch(i int32) {
	if i < 0 {
		return
	}
	s.stale[i] = true
	if !s.queued[i] {
		s.queued[i] = true
		s.touched = append(s.touched, i)
	}
}

// abandon puts an item that has lost its last member out of use.
func (s *sequences) abandon(i int32) {
	it := &s.items[i]
	s.measure(i)
	s.sums.lost -= it.lost
	s.sums.tardy -= it.tardy
	s.sums.far -= it.far
	s.sums.setup -= int64(it.changed)
	s.sums.setupCost -= it.setupCost
	it.lost, it.tardy, it.far, it.changed, it.setupCost = 0, 0, 0, 0, 0
	s.touch(it.next)
	s.leave(i)
	s.retire(i)
}

// measure works out again what an item's members and lane make of it; false
// when they do not go together there.
func (s *sequences) measure(i int32) bool {
	it := &s.items[i]
	s.journal = append(s.journal, edit{kind: editTime, item: i, old: it.timed()})
	station := s.lanes[it.lane].station
	st := &s.p.Stations[station]
	wasRun := it.run
	it.release, it.run, it.longest = 0, 0, 0
	it.key, it.family, it.window = -1, -1, 0
	var load, unload Tick
	for k, a := range it.acts {
		mode := s.mode(a, station)
		if mode < 0 {
			return false
		}
		md := &s.p.Modes[mode]
		if k == 0 {
			it.key = md.Key
			if st.Families > 0 {
				it.family = md.Family
			}
		} else if md.Key != it.key {
			return false
		}
		load, unload = max(load, Tick(md.Load)), max(unload, Tick(md.Unload))
		it.run = max(it.run, Tick(md.Run))
		if md.MaxRun > 0 && (it.longest == 0 || Tick(md.MaxRun) < it.longest) {
			it.longest = Tick(md.MaxRun)
		}
		it.release = max(it.release, s.p.Acts[a].Release)
	}
	it.release = max(it.release, s.p.Now)
	it.length = load + it.run + unload
	if it.longest > 0 && it.run > it.longest {
		return false
	}
	if !st.Batch {
		return len(it.acts) <= 1
	}
	s.sums.oven += int64(it.run - wasRun)
	return len(it.acts) == 1 || s.m.fits(it.acts, st)
}

// settle times everything touched again, and all that moves because of it;
// false when something finds no room before the horizon ends.
func (s *sequences) settle() bool {
	if !s.settleLanes() {
		return false
	}
	for _, o := range s.orders {
		s.retell(o)
	}
	for _, piece := range s.pieces {
		s.reflow(piece)
	}
	s.orders, s.pieces = s.orders[:0], s.pieces[:0]
	return true
}

// settleLanes walks along the lanes from everything touched for as long as
// something moves.
func (s *sequences) settleLanes() bool {
	for len(s.touched) > 0 {
		i := s.touched[len(s.touched)-1]
		s.touched = s.touched[:len(s.touched)-1]
		s.queued[i] = false
		if len(s.items[i].acts) == 0 {
			s.stale[i] = false
			continue
		}
		for i >= 0 {
			on, ok := s.time(i)
			if !ok {
				return false
			}
			if !on {
				break
			}
			i = s.items[i].next
		}
	}
	return true
}

// time gives an item its earliest start; on tells whether what comes after it
// has to be timed too.
func (s *sequences) time(i int32) (on, ok bool) {
	it := &s.items[i]
	p := s.p
	stale := s.stale[i]
	s.stale[i] = false
	l := &s.lanes[it.lane]
	w, free := 0, p.Now
	change, setupCost := Tick(0), int64(0)
	from := int32(-1)
	if it.prev >= 0 {
		prev := &s.items[it.prev]
		free, w, from = prev.end, int(prev.window), prev.family
	}
	if it.family >= 0 {
		st := &p.Stations[l.station]
		if from < 0 {
			from = st.Families
		}
		k := from*st.Families + it.family
		change, setupCost = Tick(st.SetupTime[k]), st.SetupCost[k]
	}
	t := max(it.release, free+change)
	for ; ; w++ {
		if w == len(l.open) {
			return false, false
		}
		t = max(t, l.open[w].Start+change)
		if t+it.length <= l.open[w].End {
			break
		}
	}
	end := t + it.length
	if end > p.End {
		return false, false
	}
	on = stale || t != it.start || end != it.end || int32(w) != it.window
	if !on && change == it.changed && setupCost == it.setupCost {
		return false, true
	}
	s.journal = append(s.journal, edit{kind: editTime, item: i, old: it.timed()})
	s.sums.setup += int64(change - it.changed)
	s.sums.setupCost += setupCost - it.setupCost
	it.start, it.end, it.window, it.changed, it.setupCost = t, end, int32(w), change, setupCost
	if on {
		s.tell(it)
	}
	return on, true
}

// tell works out what an item's end means for the dates.
func (s *sequences) tell(it *stint) {
	var lost, tardy, far int64
	for _, a := range it.acts {
		w := &s.worth[a]
		switch {
		case w.alone:
			if late := int64(it.end - w.due); late > 0 {
				if w.event {
					lost += w.cost
					far += w.cost * min(late, 30*86400)
				} else {
					tardy += w.cost * late
				}
			}
		case w.last && s.stamp[w.order] != s.change:
			s.stamp[w.order] = s.change
			s.orders = append(s.orders, w.order)
		}
		if s.flow {
			if piece := s.p.Acts[a].PieceIx; s.seen[piece] != s.change {
				s.seen[piece] = s.change
				s.pieces = append(s.pieces, piece)
			}
		}
	}
	s.sums.lost += lost - it.lost
	s.sums.tardy += tardy - it.tardy
	s.sums.far += far - it.far
	it.lost, it.tardy, it.far = lost, tardy, far
}

// retell works out an order's dates again.
func (s *sequences) retell(o int32) {
	d := &s.dates[o]
	s.journal = append(s.journal, edit{kind: editDates, item: o, old: timed{lost: d.lost, tardy: d.tardy, far: d.far}})
	var lost, tardy, far int64
	p := s.p
	for _, l := range p.Orders[o].Lines {
		line := &p.Lines[l]
		done := line.Done
		for _, a := range s.ends[l] {
			done = max(done, s.items[s.itemOf[a]].end)
		}
		late := int64(done - line.Due)
		if late <= 0 {
			continue
		}
		if line.Event {
			lost = max(lost, line.Weight)
			far += line.Weight * min(late, 30*86400)
		} else {
			tardy = max(tardy, line.Weight*late)
		}
	}
	s.sums.lost += lost - d.lost
	s.sums.tardy += tardy - d.tardy
	s.sums.far += far - d.far
	d.lost, d.tardy, d.far = lost, tardy, far
}

// reflow works out a piece's flow time again.
func (s *sequences) reflow(piece int32) {
	first, last := s.p.FlowFrom[piece], Tick(0)
	for _, a := range s.m.byPiece[piece] {
		it := &s.items[s.itemOf[a]]
		if first == 0 || it.start < first {
			first = it.start
		}
		last = max(last, it.end)
	}
	s.journal = append(s.journal, edit{kind: editFlow, item: piece, at: s.flows[piece]})
	s.sums.flow += int64(last - first - s.flows[piece])
	s.flows[piece] = last - first
}

// value is what the solution costs.
func (s *sequences) value() value {
	var v value
	x := &s.sums
	for i, part := range [...]int64{x.lost, x.tardy, x.oven, x.setup, x.setupCost, x.flow} {
		v.cost[s.levels[i]] += s.weights[i] * part
	}
	for i, c := range v.cost {
		v.guide += scale[i] * float64(c)
	}
	if s.guided {
		v.guide += 0.5 * float64(x.far)
	}
	return v
}
