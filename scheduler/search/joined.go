// SPDX-License-Identifier: Apache-2.0

package search

// joined tells whether what was placed and what stays fit together: each wait
// between them is kept, no changeover of what stays has become too short, and
// nothing that the old plan has was pushed in among what stays. What stays and
// would have to move for it is added to the window; it is hopeless when that
// would not help.
func (d *decoder) joined(w *window, inside []int32) (fits, hopeless bool) {
	if d.past(w, inside) {
		return false, true
	}
	number := none(len(w.p.Acts)) // of those inside
	for i, a := range inside {
		number[a] = int32(i)
	}
	spot := func(a int32) (start, end Tick) {
		if i := number[a]; i >= 0 {
			return d.b.at[i].start, d.b.at[i].end
		}
		was := &w.old.Work[w.was[a]]
		return was.Start, was.End
	}
	for i := range w.p.Arcs {
		arc := &w.p.Arcs[i]
		from, to := number[arc.From] >= 0, number[arc.To] >= 0
		if from == to {
			continue
		}
		since, end := spot(arc.From)
		if !arc.FromStart {
			since = end
		}
		start, _ := spot(arc.To)
		if start < since+Tick(arc.Min) || arc.HasMax && start > since+Tick(arc.Max) {
			w.onward(arc.From)
			w.onward(arc.To)
		}
	}
	if place, at, ok := d.b.setUp(w.far); !ok {
		w.onwardAt(place, at)
	}
	if len(w.todo) == 0 {
		return true, false
	}
	w.close()
	return false, false
}

// pushed is how much later work that the old plan has may come among what
// stays: farther on it would only have been passed by all that is behind it.
const pushed = Tick(86400)

// onward adds an activity and all that waits for it.
func (w *window) onward(a int32) {
	before := len(w.todo)
	w.add(a)
	for i := before; i < len(w.todo); i++ {
		x := w.todo[i]
		for _, j := range w.p.Out[w.p.OutAt[x]:w.p.OutAt[x+1]] {
			w.add(w.p.Arcs[j].To)
		}
	}
}

// onwardAt adds the work that stays and begins at an instant on a station.
func (w *window) onwardAt(station string, at Tick) {
	for a, k := range w.was {
		if k >= 0 && !w.in[a] && w.old.Work[k].Start == at && w.old.Work[k].Station == station {
			w.onward(int32(a))
		}
	}
}

// setUp tells whether each changeover from an instant on is as long as what
// comes before it asks for; else where one is not.
func (b *board) setUp(from Tick) (station string, at Tick, ok bool) {
	for s := range b.places {
		st := &b.p.Stations[s]
		if st.Families == 0 {
			continue
		}
		for k := range b.places[s] {
			line := &b.places[s][k]
			family := st.Families
			for i := range line.slots {
				x := &line.slots[i]
				if x.family < 0 {
					continue
				}
				if x.start >= from && Tick(st.SetupTime[family*st.Families+x.family]) > x.start-x.from {
					return st.ID, x.start, false
				}
				family = x.family
			}
		}
	}
	return "", 0, true
}

// past tells whether anything that the old plan has was pushed in among what stays.
func (d *decoder) past(w *window, inside []int32) bool {
	for i, a := range inside {
		k := w.was[a]
		if k < 0 || w.p.Acts[a].Fixed != nil {
			continue
		}
		if at := &d.b.at[i]; at.end > w.far && at.start > w.old.Work[k].Start+pushed {
			return true
		}
	}
	return false
}
