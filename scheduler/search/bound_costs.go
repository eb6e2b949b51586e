// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/scheduler"

// setups bounds the time or the cost of changeovers, by a table per station: each
// piece and load has one before it, the first of a family on a station one from
// another family or from the state the station is in.
func (r *reckoner) setups(table [][]int64) int64 {
	p := r.p
	var sum int64
	for _, items := range r.batches() {
		n := int64(r.leastLoads(items))
		least := int64(never)
		for i := range items {
			least = min(least, r.leastInto(items[i].act, table))
		}
		sum += n * least
	}
	entered := map[[2]int32]bool{}
	for a := range p.Acts {
		act := &p.Acts[a]
		if act.Fixed != nil || act.Frozen || act.Key >= 0 {
			continue
		}
		least := r.leastInto(int32(a), table)
		md := &p.Modes[act.ModeAt]
		st := &p.Stations[md.Station]
		if key := [2]int32{md.Station, md.Family}; act.ModeTo-act.ModeAt == 1 && st.Families > 0 && !entered[key] {
			entered[key] = true
			least = max(least, r.into(md, table[md.Station], false))
		}
		sum += least
	}
	return sum
}

// leastInto is the least changeover to an activity on any of its stations.
func (r *reckoner) leastInto(a int32, table [][]int64) int64 {
	p := r.p
	act := &p.Acts[a]
	if act.Frozen {
		return 0 // its changeover may have begun
	}
	least := int64(never)
	for k := act.ModeAt; k < act.ModeTo; k++ {
		md := &p.Modes[k]
		st := &p.Stations[md.Station]
		if st.Families == 0 {
			return 0
		}
		least = min(least, r.into(md, table[md.Station], true))
	}
	return least
}

// into is the least entry of a table for a changeover to a mode, with or
// without those from its own family.
func (r *reckoner) into(md *scheduler.Mode, table []int64, own bool) int64 {
	st := &r.p.Stations[md.Station]
	in := r.families()[md.Station]
	least := table[st.Families*st.Families+md.Family]
	for from := range st.Families {
		if in[from] > 1 && own || in[from] > 0 && from != md.Family {
			least = min(least, table[from*st.Families+md.Family])
		}
	}
	return least
}

// waste bounds the grams thrown away: what is left in mixes that nobody can
// use up, and a heel for each mix that must still be made.
func (r *reckoner) waste() int64 {
	p := r.p
	sum := p.Spoilt
	for i := range p.Resins {
		resin := &p.Resins[i]
		var need, there, open int64
		var grams []int64
		for a := range p.Acts {
			if act := &p.Acts[a]; act.Resin == int32(i) && act.Fixed == nil && act.Grams > 0 {
				need += act.Grams
				grams = append(grams, act.Grams)
			}
		}
		made := 0
		for k := range p.Mixes {
			if x := &p.Mixes[k]; x.Resin == int32(i) {
				made++
				there += x.Left
				if !x.Hand {
					open += x.Left
					sum += resin.Heel
				}
			}
		}
		sum += max(0, open-need)
		room := resin.MaxMass - resin.Heel
		if room <= 0 || need <= there {
			continue
		}
		mixes := (need - there + room - 1) / room
		if made == 0 {
			mixes = max(mixes, int64(bins(grams, room)))
		}
		sum += mixes * resin.Heel
	}
	return sum
}

// flow is the least time each piece spends between its first start and its last
// end.
func (r *reckoner) flow() int64 {
	var sum int64
	chain := r.chains()
	for piece, acts := range r.m.byPiece {
		first := r.p.FlowFrom[piece]
		if first > 0 {
			last := first
			for _, a := range acts {
				last = max(last, r.end[a])
			}
			sum += int64(last - first)
			continue
		}
		var longest Seconds
		for _, a := range acts {
			longest = max(longest, chain[a])
		}
		sum += int64(longest)
	}
	return sum
}

// chains is, per activity, the least time from its start to the end of the last
// of its own piece's activities that wait for it.
func (r *reckoner) chains() []Seconds {
	m, p := r.m, r.p
	out := make([]Seconds, len(p.Acts))
	for i := len(m.topo) - 1; i >= 0; i-- {
		a := m.topo[i]
		out[a] = m.shortest(a)
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[j]
			if p.Acts[arc.To].PieceIx == p.Acts[a].PieceIx && m.rank[arc.To] > m.rank[a] {
				out[a] = max(out[a], m.lag(arc)+out[arc.To])
			}
		}
	}
	return out
}

// moved counts the operations near now that cannot stay where they were
// published.
func (r *reckoner) moved() int64 {
	var n int64
	for a := range r.p.Acts {
		if act := &r.p.Acts[a]; act.Was != nil && act.Was.Near && act.Fixed == nil && r.head[a] > act.Was.Start {
			n++
		}
	}
	return n
}
