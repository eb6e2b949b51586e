// SPDX-License-Identifier: Apache-2.0

package search

// editKind is an elementary change of the sequences.
type editKind uint8

const (
	editTime  editKind = iota // an item had other times
	editEnter                 // an item went on a lane
	editLeave                 // an item left its lane
	editJoin                  // an activity joined an item
	editPart                  // an activity left an item
	editNew                   // an item was taken into use
	editFree                  // an item went out of use
	editDates                 // an order had other dates
	editFlow
)

// edit is one change and what it takes to undo it.
type edit struct {
	kind editKind
	item int32
	a, b int32
	old  timed
	at   Tick
}

// timed is what timing fills in for an item.
type timed struct {
	start, end, changed  Tick
	window               int32
	setupCost            int64
	lost, tardy, far     int64
	release, length, run Tick
	longest              Tick
	key, family          int32
}

func (it *stint) timed() timed {
	return timed{
		it.start, it.end, it.changed, it.window, it.setupCost, it.lost, it.tardy, it.far,
		it.release, it.length, it.run, it.longest, it.key, it.family,
	}
}

func (it *stint) restore(t *timed) {
	it.start, it.end, it.changed, it.window, it.setupCost = t.start, t.end, t.changed, t.window, t.setupCost
	it.lost, it.tardy, it.far = t.lost, t.tardy, t.far
	it.release, it.length, it.run, it.longest = t.release, t.length, t.run, t.longest
	it.key, it.family = t.key, t.family
}

// begin opens a change: from here on everything is noted.
func (s *sequences) begin() {
	s.journal, s.before = s.journal[:0], s.sums
	s.change++
}

// undo takes the change back.
func (s *sequences) undo() {
	for _, i := range s.touched {
		s.queued[i], s.stale[i] = false, false
	}
	s.touched, s.orders, s.pieces = s.touched[:0], s.orders[:0], s.pieces[:0]
	for k := len(s.journal) - 1; k >= 0; k-- {
		e := &s.journal[k]
		switch e.kind {
		case editTime:
			s.items[e.item].restore(&e.old)
		case editEnter:
			s.unlink(e.item)
		case editLeave:
			s.link(e.item, e.a, e.b)
		case editJoin:
			s.strike(e.item, e.a)
		case editPart:
			s.items[e.item].acts = append(s.items[e.item].acts, e.a)
			s.itemOf[e.a] = e.item
		case editNew:
			s.free = append(s.free, e.item)
		case editFree:
			s.free = s.free[:len(s.free)-1]
		case editDates:
			s.dates[e.item] = orderDates{e.old.lost, e.old.tardy, e.old.far}
		case editFlow:
			s.flows[e.item] = e.at
		}
	}
	s.journal, s.sums = s.journal[:0], s.before
}

// newItem takes an item into use, empty and nowhere.
func (s *sequences) newItem() int32 {
	var i int32
	if k := len(s.free); k > 0 {
		i = s.free[k-1]
		s.free = s.free[:k-1]
	} else {
		i = int32(len(s.items))
		s.items = append(s.items, stint{})
		s.queued = append(s.queued, false)
		s.stale = append(s.stale, false)
	}
	it := &s.items[i]
	*it = stint{acts: it.acts[:0], lane: -1, prev: -1, next: -1, start: -1}
	s.journal = append(s.journal, edit{kind: editNew, item: i})
	return i
}

// retire puts an empty item out of use; it has left its lane.
func (s *sequences) retire(i int32) {
	s.free = append(s.free, i)
	s.journal = append(s.journal, edit{kind: editFree, item: i})
}

// enter puts an item on a lane after another, -1 for first.
func (s *sequences) enter(i, lane, after int32) {
	s.link(i, lane, after)
	s.journal = append(s.journal, edit{kind: editEnter, item: i})
}

// leave takes an item off its lane.
func (s *sequences) leave(i int32) {
	it := &s.items[i]
	s.journal = append(s.journal, edit{kind: editLeave, item: i, a: it.lane, b: it.prev})
	s.unlink(i)
}

func (s *sequences) link(i, lane, after int32) {
	it, l := &s.items[i], &s.lanes[lane]
	it.lane, it.prev = lane, after
	if after >= 0 {
		it.next = s.items[after].next
		s.items[after].next = i
	} else {
		it.next = l.first
		l.first = i
	}
	if it.next >= 0 {
		s.items[it.next].prev = i
	} else {
		l.last = i
	}
}

func (s *sequences) unlink(i int32) {
	it := &s.items[i]
	l := &s.lanes[it.lane]
	if it.prev >= 0 {
		s.items[it.prev].next = it.next
	} else {
		l.first = it.next
	}
	if it.next >= 0 {
		s.items[it.next].prev = it.prev
	} else {
		l.last = it.prev
	}
	it.prev, it.next = -1, -1
}

// join makes an activity a member.
func (s *sequences) join(i, a int32) {
	s.items[i].acts = append(s.items[i].acts, a)
	s.itemOf[a] = i
	s.journal = append(s.journal, edit{kind: editJoin, item: i, a: a})
}

// part takes a member out.
func (s *sequences) part(i, a int32) {
	s.strike(i, a)
	s.journal = append(s.journal, edit{kind: editPart, item: i, a: a})
}

func (s *sequences) strike(i, a int32) {
	acts := s.items[i].acts
	for k := len(acts) - 1; k >= 0; k-- {
		if acts[k] == a {
			acts[k] = acts[len(acts)-1]
			s.items[i].acts = acts[:len(acts)-1]
			return
		}
	}
}
