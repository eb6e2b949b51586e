// SPDX-License-Identifier: Apache-2.0

package search

import "math/rand/v2"

// arranger makes random changes to sequences.
type arranger struct {
	s     *sequences
	rng   *rand.Rand
	batch []int32   // activities that may share a load
	byKey [][]int32 // those of each key
}

func newArranger(s *sequences, rng *rand.Rand) *arranger {
	r := &arranger{s: s, rng: rng}
	for a := range s.p.Acts {
		act := &s.p.Acts[a]
		if act.Key >= 0 {
			r.batch = append(r.batch, int32(a))
			for int(act.Key) >= len(r.byKey) {
				r.byKey = append(r.byKey, nil)
			}
			r.byKey[act.Key] = append(r.byKey[act.Key], int32(a))
		}
	}
	return r
}

func (r *arranger) anyItem() int32 {
	return r.s.itemOf[r.rng.IntN(len(r.s.itemOf))]
}

// change makes one move; false when it found nothing to do, or nothing that
// can be done. Either way undo takes it back.
func (r *arranger) change() bool {
	k := r.rng.IntN(100)
	if len(r.batch) > 0 && k < 60 {
		switch {
		case k < 25:
			return r.joinLoad()
		case k < 35:
			return r.swapMembers()
		case k < 45:
			return r.leaveLoad()
		case k < 50:
			return r.mergeLoads()
		case k < 53:
			return r.splitLoad()
		}
		return r.moveNear(r.anyItem())
	}
	switch {
	case k < 70:
		return r.swapNext(r.anyItem())
	case k < 80:
		return r.swapItems()
	case k < 90:
		return r.moveNear(r.anyItem())
	}
	return r.pullLate()
}

// place takes an item off its lane and puts it on another, or elsewhere on
// the same, after an item there (-1: first).
func (r *arranger) place(i, lane, after int32) bool {
	s := r.s
	it := &s.items[i]
	other := it.lane != lane
	if after == i || !other && it.prev == after {
		return false
	}
	s.touch(it.next)
	s.leave(i)
	s.enter(i, lane, after)
	if other && !s.measure(i) {
		return false
	}
	s.touch(i)
	s.touch(it.next)
	return true
}

// swapNext lets an item pass the next on its lane.
func (r *arranger) swapNext(i int32) bool {
	next := r.s.items[i].next
	return next >= 0 && r.place(i, r.s.items[i].lane, next)
}

// moveNear puts an item before or after some other on a lane that takes it.
func (r *arranger) moveNear(i int32) bool {
	s := r.s
	lane, after := r.spot()
	if s.mode(s.items[i].acts[0], s.lanes[lane].station) < 0 {
		return false
	}
	return r.place(i, lane, after)
}

// spot is a place at random: on a lane, after an item there (-1: first).
func (r *arranger) spot() (lane, after int32) {
	s := r.s
	if lane := int32(r.rng.IntN(len(s.lanes))); s.lanes[lane].first < 0 {
		return lane, -1
	}
	to := r.anyItem()
	if r.rng.IntN(2) == 0 {
		return s.items[to].lane, s.items[to].prev
	}
	return s.items[to].lane, to
}

// swapItems lets two items change places, on one lane or two.
func (r *arranger) swapItems() bool {
	s := r.s
	i, k := r.anyItem(), r.anyItem()
	if i == k || s.items[i].next == k || s.items[k].next == i {
		return false
	}
	one, two := s.items[i].lane, s.items[k].lane
	if one != two && (s.mode(s.items[i].acts[0], s.lanes[two].station) < 0 || s.mode(s.items[k].acts[0], s.lanes[one].station) < 0) {
		return false
	}
	afterOne, afterTwo := s.items[i].prev, s.items[k].prev
	return r.place(i, two, afterTwo) && r.place(k, one, afterOne)
}

// splitLoad gives some members of a load one of their own right after it.
func (r *arranger) splitLoad() bool {
	s := r.s
	from := s.itemOf[r.anyBatch()]
	n := len(s.items[from].acts)
	if n < 3 {
		return false
	}
	i := s.newItem()
	s.enter(i, s.items[from].lane, from)
	s.touch(s.items[i].next)
	for range 1 + r.rng.IntN(n-2) {
		a := s.items[from].acts[r.rng.IntN(len(s.items[from].acts))]
		s.part(from, a)
		s.join(i, a)
	}
	s.touch(from)
	s.touch(i)
	return s.measure(from) && s.measure(i)
}

// takeOut takes a member out of its load, and the load away with its last.
func (r *arranger) takeOut(a int32) bool {
	s := r.s
	i := s.itemOf[a]
	s.part(i, a)
	if len(s.items[i].acts) == 0 {
		s.abandon(i)
		return true
	}
	s.touch(i)
	return s.measure(i)
}

// putIn adds an activity to a load.
func (r *arranger) putIn(i, a int32) bool {
	s := r.s
	s.join(i, a)
	s.touch(i)
	return s.measure(i)
}

// fits tells at a glance whether a may join i, out having left it (-1: nobody).
func (r *arranger) fits(i, a, out int32) bool {
	s := r.s
	it := &s.items[i]
	station := s.lanes[it.lane].station
	st := &s.p.Stations[station]
	mode := s.mode(a, station)
	if mode < 0 || !st.Batch {
		return false
	}
	md := &s.p.Modes[mode]
	if md.Key != it.key || it.longest > 0 && Tick(md.Run) > it.longest && out < 0 || md.MaxRun > 0 && it.run > Tick(md.MaxRun) && out < 0 {
		return false
	}
	for d, limit := range st.Capacity {
		if limit < 0 {
			continue
		}
		sum := s.p.Acts[a].Size[d]
		for _, x := range it.acts {
			if x != out {
				sum += s.p.Acts[x].Size[d]
			}
		}
		if sum > limit {
			return false
		}
	}
	return true
}

func (r *arranger) anyBatch() int32 { return r.batch[r.rng.IntN(len(r.batch))] }

// partner is another activity that may share a load with a.
func (r *arranger) partner(a int32) int32 {
	list := r.byKey[r.s.p.Acts[a].Key]
	return list[r.rng.IntN(len(list))]
}

// joinLoad moves an activity into another load.
func (r *arranger) joinLoad() bool {
	s := r.s
	a := r.anyBatch()
	for range 4 {
		to := s.itemOf[r.partner(a)]
		if to == s.itemOf[a] || !r.fits(to, a, -1) {
			continue
		}
		return r.takeOut(a) && r.putIn(to, a)
	}
	return false
}

// swapMembers lets two activities change loads.
func (r *arranger) swapMembers() bool {
	s := r.s
	a := r.anyBatch()
	for range 4 {
		b := r.partner(a)
		i, k := s.itemOf[a], s.itemOf[b]
		if i == k || !r.fits(k, a, b) || !r.fits(i, b, a) {
			continue
		}
		s.part(i, a)
		s.part(k, b)
		return r.putIn(i, b) && r.putIn(k, a)
	}
	return false
}

// leaveLoad gives an activity a load of its own somewhere.
func (r *arranger) leaveLoad() bool {
	s := r.s
	a := r.anyBatch()
	if len(s.items[s.itemOf[a]].acts) == 1 {
		return r.moveNear(s.itemOf[a])
	}
	lane, after := r.spot()
	if s.mode(a, s.lanes[lane].station) < 0 || !r.takeOut(a) {
		return false
	}
	i := s.newItem()
	s.enter(i, lane, after)
	s.join(i, a)
	s.touch(i)
	s.touch(s.items[i].next)
	return s.measure(i)
}

// mergeLoads puts all members of one load into another.
func (r *arranger) mergeLoads() bool {
	s := r.s
	a := r.anyBatch()
	i := s.itemOf[a]
	to := s.itemOf[r.partner(a)]
	if i == to {
		return false
	}
	for len(s.items[i].acts) > 0 {
		a := s.items[i].acts[0]
		last := len(s.items[i].acts) == 1
		if !r.fits(to, a, -1) || !r.takeOut(a) || !r.putIn(to, a) {
			return false
		}
		if last {
			break
		}
	}
	return true
}

// pullLate moves a late item before one that starts earlier.
func (r *arranger) pullLate() bool {
	s := r.s
	for range 8 {
		i := r.anyItem()
		if s.items[i].lost+s.items[i].tardy == 0 {
			continue
		}
		for range 4 {
			to := r.anyItem()
			if to == i || s.items[to].start >= s.items[i].start {
				continue
			}
			lane := s.items[to].lane
			if s.mode(s.items[i].acts[0], s.lanes[lane].station) < 0 {
				continue
			}
			return r.place(i, lane, s.items[to].prev)
		}
	}
	return false
}
