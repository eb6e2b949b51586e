// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/resources"
	"towpath/scheduler"
)

// pausing lays out a run that stops when its station or its people go home and
// goes on when both are back. It fills in try.runEnd and the crews, and returns
// try.start, or the next start worth trying.
func (b *board) pausing(o *option, st *scheduler.StationP, try *placed, k *int) Tick {
	needs := o.needs[resources.PartRun]
	if len(needs) == 0 {
		return b.pausingAlone(o, st, try)
	}
	best := never
	first := *k
	// One need decides the crew by which the work counts; further needs must
	// be met by theirs at all the times it goes on.
	crews := b.p.Skills[needs[0].skill].Crews
	for _, crew := range crews {
		if b.scratch.pace >= 0 && crew != b.scratch.pace {
			continue
		}
		end, next := b.walk(o, st, try, crew, needs[0].share)
		if next != try.start {
			best = min(best, next)
			continue
		}
		try.runEnd = end
		try.crew[first] = crew
		*k = first + 1
		if next = b.others(needs[1:], try, k); next == try.start {
			return next
		}
		best = min(best, next)
	}
	return best
}

// paces are the crews that each make another run of a node: with one that goes
// home it is longer than with one that stays. Where a fine search has turned
// them it is the one asked first, else all; none when there is nothing to
// choose.
func (b *board) paces(n *node, o *option) []int32 {
	needs := o.needs[resources.PartRun]
	if !n.mayPause || len(needs) == 0 {
		return nil
	}
	crews := b.p.Skills[needs[0].skill].Crews
	if len(crews) < 2 {
		return nil
	}
	if i := b.scratch.fine.turn.paced(len(crews)); i >= 0 {
		return crews[i : i+1]
	}
	return crews
}

// pausingAlone is a run without people that stops when the station closes.
func (b *board) pausingAlone(o *option, st *scheduler.StationP, try *placed) Tick {
	if st.Always || st.Unattended {
		try.runEnd = try.run + Tick(o.run)
		return b.inside(o, st, resources.PartRun, try.run, try.runEnd, try.start)
	}
	end, next := b.walk(o, st, try, -1, 0)
	try.runEnd = end
	return next
}

// walk counts the run's seconds over the times when the station is open and
// the crew works, and checks that the crew is free at all of them. The run
// begins with work, not with a pause. crew -1 is a run without people.
func (b *board) walk(o *option, st *scheduler.StationP, try *placed, crew int32, share int64) (end, next Tick) {
	left := Tick(o.run)
	at := try.run
	if left == 0 {
		return at, try.start
	}
	b.scratch.work = b.scratch.work[:0]
	for step := 0; left > 0; step++ {
		from, to := b.working(st, crew, at)
		if from >= never {
			return 0, never
		}
		if step == 0 && from != try.run {
			return 0, later(try.start, from-try.run)
		}
		to = min(to, from+left)
		if crew >= 0 {
			if free := b.crews[crew].fit(from, Seconds(to-from), share); free != from {
				return 0, b.retry(try, from, free)
			}
		}
		for _, stop := range st.Stops {
			if from < stop.End && to > stop.Start {
				return 0, later(try.start, stop.End-try.run)
			}
		}
		b.scratch.work = append(b.scratch.work, resources.Interval{Start: from, End: to})
		left -= to - from
		at = to
	}
	return at, try.start
}

// retry is the next start worth trying when the crew is busy in a working
// stretch that begins at from and free again at free: the run must not reach
// into the busy time, so it starts after it.
func (b *board) retry(try *placed, from, free Tick) Tick {
	if free >= never {
		return never
	}
	return later(try.start, max(free-try.run, 1))
}

// working is the first stretch from t on in which the station is open and the
// crew works.
func (b *board) working(st *scheduler.StationP, crew int32, t Tick) (from, to Tick) {
	for range tries {
		from, to = t, never
		if !st.Always {
			i := firstOpen(st.Open, t)
			if i == len(st.Open) {
				return never, never
			}
			from, to = max(t, st.Open[i].Start), st.Open[i].End
		}
		if crew < 0 {
			return from, to
		}
		start, end := b.shifts[crew].open(from)
		if start >= never {
			return never, never
		}
		from, to = start, min(to, end)
		if from < to {
			return from, to
		}
		t = from
	}
	return never, never
}

// others finds crews for the run's further needs over the stretches just
// walked.
func (b *board) others(needs []need, try *placed, k *int) Tick {
	for _, nd := range needs {
		found := int32(-1)
		next := never
		for _, c := range b.p.Skills[nd.skill].Crews {
			ok := true
			for _, w := range b.scratch.work {
				if free := b.crews[c].fit(w.Start, Seconds(w.End-w.Start), nd.share); free != w.Start {
					ok = false
					next = min(next, b.retry(try, w.Start, free))
					break
				}
			}
			if ok {
				found = c
				break
			}
		}
		if found < 0 {
			return next
		}
		try.crew[*k] = found
		*k++
	}
	return try.start
}
