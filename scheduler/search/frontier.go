// SPDX-License-Identifier: Apache-2.0

package search

// frontier remembers, in a very large problem, where the last load or piece of
// a kind found room: what has been placed since has only taken room away, so
// the next of its kind need not look at all the full months before. It holds
// until something is taken off the board.
type frontier struct {
	seen map[kind]reach
}

// kind is what makes two nodes alike to the places, people and tools they ask
// for.
type kind struct {
	operation       string
	station, family int32
	load, run       Seconds
	members         int
	grams           int64
	pool            int32
}

// reach says that nothing of a kind that may start from `from` on can start
// before start.
type reach struct{ from, start Tick }

func (m *model) kindOf(n *node) kind {
	o := &n.options[0]
	k := kind{
		operation: m.p.Acts[n.acts[0]].Operation, station: o.station, family: o.family,
		load: o.load, run: o.run, members: len(n.acts), grams: n.grams, pool: -1,
	}
	if holds := m.p.Acts[n.acts[0]].Holds; len(holds) > 0 {
		k.pool = m.p.Holds[holds[0]].Pool
	}
	return k
}

// skip is the first instant from t on worth looking at.
func (f *frontier) skip(k kind, t Tick) Tick {
	if r, ok := f.seen[k]; ok && t >= r.from {
		return max(t, r.start)
	}
	return t
}

// learn notes that a search from t found room at start.
func (f *frontier) learn(k kind, t, start Tick) {
	if f.seen == nil {
		f.seen = map[kind]reach{}
	}
	if r, ok := f.seen[k]; ok && t >= r.from {
		t = r.from
	}
	f.seen[k] = reach{t, start}
}
