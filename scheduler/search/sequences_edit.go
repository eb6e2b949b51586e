// SPDX-License-Identifier: Apache-2.0

package search

// editKind is an elementary change of the sequences.
type editKind uint8

const (
	editEnter editKind = iota // an item went on a lane
	editLeave                 // an item left its lane
	editJoin                  // an activity joined an item
	editPart                  // an activity left an item
	editNew                   // an item was taken into use
	editFree                  // an item went out of use
)

// edit is one change of what is where, and what it takes to undo it.
type edit struct {
	kind editKind
	item int32
	a, b int32
}

// What timing changes is noted apart, in small entries: most of the work is
// writing them.
type (
	timedBefore struct {
		item, window        int32
		start, end, changed Tick
		setupCost           int64
	}
	toldBefore struct {
		item int32
		told lateness
	}
	shapedBefore struct {
		item, window int32
		shape
	}
	datesBefore struct {
		order int32
		lateness
	}
	flowBefore struct {
		piece int32
		flow  Tick
	}
)

// history is what the change in hand has done so far.
type history struct {
	edits  []edit
	timed  []timedBefore
	told   []toldBefore
	shaped []shapedBefore
	dates  []datesBefore
	flows  []flowBefore
	sums   totals
}

func (h *history) clear() {
	h.edits, h.timed, h.told = h.edits[:0], h.timed[:0], h.told[:0]
	h.shaped, h.dates, h.flows = h.shaped[:0], h.dates[:0], h.flows[:0]
}

// begin opens a change: from here on everything is noted.
func (s *sequences) begin() {
	s.was.clear()
	s.was.sums = s.sums
	s.change++
}

// undo takes the change back. Timing comes after shaping within a change, so
// it goes first.
func (s *sequences) undo() {
	for _, i := range s.touched {
		s.queued[i], s.stale[i] = false, false
	}
	s.touched, s.later, s.orders, s.pieces = s.touched[:0], s.later[:0], s.orders[:0], s.pieces[:0]
	h := &s.was
	for k := len(h.timed) - 1; k >= 0; k-- {
		e := &h.timed[k]
		it := &s.items[e.item]
		it.window, it.start, it.end, it.changed, it.setupCost = e.window, e.start, e.end, e.changed, e.setupCost
	}
	for k := len(h.told) - 1; k >= 0; k-- {
		s.items[h.told[k].item].lateness = h.told[k].told
	}
	for k := len(h.shaped) - 1; k >= 0; k-- {
		it := &s.items[h.shaped[k].item]
		it.shape, it.window = h.shaped[k].shape, h.shaped[k].window
	}
	for k := len(h.dates) - 1; k >= 0; k-- {
		s.dates[h.dates[k].order] = h.dates[k].lateness
	}
	for k := len(h.flows) - 1; k >= 0; k-- {
		s.flows[h.flows[k].piece] = h.flows[k].flow
	}
	for k := len(h.edits) - 1; k >= 0; k-- {
		s.revert(&h.edits[k])
	}
	s.sums = h.sums
	h.clear()
}

func (s *sequences) revert(e *edit) {
	switch e.kind {
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
	}
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
	s.was.edits = append(s.was.edits, edit{kind: editNew, item: i})
	return i
}

// retire puts an empty item out of use; it has left its lane.
func (s *sequences) retire(i int32) {
	s.free = append(s.free, i)
	s.was.edits = append(s.was.edits, edit{kind: editFree, item: i})
}

// enter puts an item on a lane after another, -1 for first.
func (s *sequences) enter(i, lane, after int32) {
	s.link(i, lane, after)
	s.was.edits = append(s.was.edits, edit{kind: editEnter, item: i})
}

// leave takes an item off its lane.
func (s *sequences) leave(i int32) {
	it := &s.items[i]
	s.was.edits = append(s.was.edits, edit{kind: editLeave, item: i, a: it.lane, b: it.prev})
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
	s.was.edits = append(s.was.edits, edit{kind: editJoin, item: i, a: a})
}

// part takes a member out.
func (s *sequences) part(i, a int32) {
	s.strike(i, a)
	s.was.edits = append(s.was.edits, edit{kind: editPart, item: i, a: a})
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
