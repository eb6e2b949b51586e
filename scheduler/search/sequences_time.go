// SPDX-License-Identifier: Apache-2.0

package search

import "math"

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
	s.price(i, lateness{})
	s.was.timed = append(s.was.timed, timedBefore{i, it.window, it.start, it.end, it.changed, it.setupCost})
	s.sums.setup -= int64(it.changed)
	s.sums.setupCost -= it.setupCost
	it.changed, it.setupCost = 0, 0
	s.touch(it.next)
	s.leave(i)
	s.retire(i)
}

// measure works out again what an item's members and lane make of it; false
// when they do not go together there.
func (s *sequences) measure(i int32) bool {
	it := &s.items[i]
	s.was.shaped = append(s.was.shaped, shapedBefore{i, it.window, it.shape})
	station := s.lanes[it.lane].station
	st := &s.p.Stations[station]
	wasRun := it.run
	it.window = 0
	it.shape = shape{key: -1, family: -1, early: never, late: never}
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
	s.glance(it)
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
// false when something finds no room before the horizon ends, or when the
// solution is seen to cost more than a limit: then not everything is timed.
func (s *sequences) settle(limit float64) bool {
	if !s.settleTouched() {
		return false
	}
	// From here on work only moves later, which makes no lane cheaper.
	if !s.plain {
		limit = math.Inf(1)
	}
	if !math.IsInf(limit, 1) && s.guide() > limit || !s.settleLater(limit) {
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

// settleTouched times what is touched and everything that moves earlier
// because of it. What would move later has to wait.
func (s *sequences) settleTouched() bool {
	for len(s.touched) > 0 {
		i := s.touched[len(s.touched)-1]
		s.touched = s.touched[:len(s.touched)-1]
		if !s.queued[i] {
			continue
		}
		if len(s.items[i].acts) == 0 {
			s.queued[i], s.stale[i] = false, false
			continue
		}
		if prev := s.items[i].prev; prev >= 0 && s.queued[prev] {
			s.touched = append(s.touched, i)
			for ; prev >= 0 && s.queued[prev]; prev = s.items[i].prev {
				i = prev
			}
		}
		for i >= 0 {
			s.queued[i] = false
			was := s.items[i].end
			on, ok := s.time(i)
			if !ok {
				return false
			}
			if !on {
				break
			}
			next := s.items[i].next
			if s.items[i].end > was {
				if next >= 0 {
					s.later = append(s.later, next)
				}
				break
			}
			i = next
		}
	}
	return true
}

// settleLater walks along the lanes for as long as something moves.
func (s *sequences) settleLater(limit float64) bool {
	for _, i := range s.later {
		for i >= 0 {
			told := len(s.was.told)
			on, ok := s.time(i)
			if !ok {
				return false
			}
			if !on {
				break
			}
			if len(s.was.told) > told && s.guide() > limit {
				return false
			}
			i = s.items[i].next
		}
	}
	s.later = s.later[:0]
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
	s.was.timed = append(s.was.timed, timedBefore{i, it.window, it.start, it.end, it.changed, it.setupCost})
	s.sums.setup += int64(change - it.changed)
	s.sums.setupCost += setupCost - it.setupCost
	it.start, it.end, it.window, it.changed, it.setupCost = t, end, int32(w), change, setupCost
	if on {
		s.tell(i)
	}
	return on, true
}

// glance notes what an item's end means in the plain cases: nobody is late, or
// everybody is and that is all that counts.
func (s *sequences) glance(it *stint) {
	if s.flow {
		it.early = 0
		return
	}
	plain, latest := !s.guided, Tick(0)
	for _, a := range it.acts {
		w := &s.worth[a]
		switch {
		case w.alone:
			it.early, latest = min(it.early, w.due), max(latest, w.due)
			it.all += w.cost
			plain = plain && w.event
		case w.last:
			it.early, it.late = 0, never
			return
		}
	}
	if plain {
		it.late = latest
	}
}

// tell works out what an item's end means for the dates.
func (s *sequences) tell(i int32) {
	it := &s.items[i]
	switch {
	case it.end <= it.early:
		if it.lateness != (lateness{}) {
			s.price(i, lateness{})
		}
		return
	case it.end > it.late:
		if it.lost != it.all {
			s.price(i, lateness{lost: it.all})
		}
		return
	}
	var d lateness
	for _, a := range it.acts {
		w := &s.worth[a]
		switch {
		case w.alone:
			if late := int64(it.end - w.due); late > 0 {
				if w.event {
					d.lost += w.cost
					if s.guided {
						d.far += farLost(w.cost, late)
					}
				} else {
					d.tardy += w.cost * late
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
	if d != it.lateness {
		s.price(i, d)
	}
}

// price gives an item other dates.
func (s *sequences) price(i int32, d lateness) {
	it := &s.items[i]
	s.was.told = append(s.was.told, toldBefore{i, it.lateness})
	s.sums.lost += d.lost - it.lost
	s.sums.tardy += d.tardy - it.tardy
	s.sums.far += d.far - it.far
	it.lateness = d
}

// retell works out an order's dates again.
func (s *sequences) retell(o int32) {
	d := &s.dates[o]
	s.was.dates = append(s.was.dates, datesBefore{o, *d})
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
			far += farLost(line.Weight, late)
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
	s.was.flows = append(s.was.flows, flowBefore{piece, s.flows[piece]})
	s.sums.flow += int64(last - first - s.flows[piece])
	s.flows[piece] = last - first
}

// value is what the solution costs.
func (s *sequences) value() value {
	v := value{guide: s.guide()}
	x := &s.sums
	for i, part := range [...]int64{x.lost, x.tardy, x.oven, x.setup, x.setupCost, x.flow} {
		v.cost[s.levels[i]] += s.weights[i] * part
	}
	return v
}

// guide is what the search goes by.
func (s *sequences) guide() float64 {
	x := &s.sums
	g := 0.0
	for i, part := range [...]int64{x.lost, x.tardy, x.oven, x.setup, x.setupCost, x.flow} {
		g += s.prices[i] * float64(part)
	}
	if s.guided {
		g += farWorth * float64(x.far)
	}
	return g
}
