// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
	"sort"

	"towpath/resources"
	"towpath/scheduler"
)

// crewTime is what a crew's people are wanted for, in the order of time: lists
// of stretches, each in all of the equal hours that it touches.
type crewTime struct {
	steps []scheduler.CapStep
	hours []int32 // first link; -1: none
}

// hourly is how long each of them is.
const hourly = Tick(4 * 3600)

// span is a stretch of a crew's time that a stay takes. Where people cannot do
// two things at once, what the old plan had first goes first.
type span struct {
	from, to Tick
	rank     Tick // when the part was to begin in the old plan; -1: it is a fact
	share    int64
	stay     int32
	crew     int32
}

type link struct {
	span, next int32
}

func (x *pusher) layCrews() {
	n := int((x.p.End-x.p.Now)/hourly) + 2
	all := none(n * len(x.p.Crews))
	for c := range x.p.Crews {
		x.crews = append(x.crews, crewTime{steps: x.p.Crews[c].Steps, hours: all[c*n : (c+1)*n]})
	}
	x.spans = make([]span, 0, len(x.serves)+len(x.serves)/4)
	x.links = make([]link, 0, 2*len(x.serves))
	for i := range x.stays {
		x.take(int32(i))
	}
}

func (x *pusher) hour(t Tick) int { return int((t - x.p.Now) / hourly) }

// spread takes a stay's people where it is now, instead of where it was.
func (x *pusher) spread(i int32) {
	s := &x.stays[i]
	for k := s.spanAt; k < s.spanTo; k++ {
		v := &x.spans[k]
		for h := x.hour(v.from); h <= x.hour(v.to-1); h++ {
			at := &x.crews[v.crew].hours[h]
			for x.links[*at].span != k {
				at = &x.links[*at].next
			}
			*at = x.links[*at].next
		}
	}
	x.take(i)
}

// take takes the people of a stay.
func (x *pusher) take(i int32) {
	s := &x.stays[i]
	s.spanAt = int32(len(x.spans))
	for k := s.serveAt; k < s.serveTo; k++ {
		v := &x.serves[k]
		from, to := s.at.part(v.part)
		if s.hand && v.part == resources.PartSetup && s.at.setup == s.was.setup {
			to = min(to, s.at.setup+s.least)
		}
		from, to = max(from, x.p.Now), min(to, x.p.End)
		if v.part != resources.PartRun || !s.pauses {
			x.takeSpan(i, v, from, to)
			continue
		}
		st, lead := &x.p.Stations[s.station], x.lead(s)
		for from < to {
			start, end := from, never
			if s.fixed {
				start, end = x.crews[v.crew].open(from)
			} else {
				start, end = x.working(st, lead, from)
			}
			if start >= to {
				break
			}
			x.takeSpan(i, v, start, min(end, to))
			from = end
		}
	}
	s.spanTo = int32(len(x.spans))
}

func (x *pusher) takeSpan(i int32, v *serve, from, to Tick) {
	if from >= to {
		return
	}
	s := &x.stays[i]
	rank := s.turn(v.part)
	k := int32(len(x.spans))
	x.spans = append(x.spans, span{from, to, rank, v.share, i, v.crew})
	for h := x.hour(from); h <= x.hour(to-1); h++ {
		at := &x.crews[v.crew].hours[h]
		x.links = append(x.links, link{k, *at})
		*at = int32(len(x.links) - 1)
	}
}

// open is the first stretch from t on in which anybody of the crew works.
func (c *crewTime) open(t Tick) (from, to Tick) {
	k := c.step(t)
	for c.steps[k].Cap <= 0 {
		if k++; k == len(c.steps) {
			return never, never
		}
		t = c.steps[k].At
	}
	for k++; k < len(c.steps); k++ {
		if c.steps[k].Cap <= 0 {
			return t, c.steps[k].At
		}
	}
	return t, never
}

func (c *crewTime) step(t Tick) int {
	return max(0, sort.Search(len(c.steps), func(k int) bool { return c.steps[k].At > t })-1)
}

// meet calls for each stretch of a crew that lies in part of [from, to) and is
// another stay's, once.
func (x *pusher) meet(crew, but int32, from, to Tick, each func(v *span)) {
	first := x.hour(from)
	for h := first; h <= x.hour(to-1); h++ {
		for l := x.crews[crew].hours[h]; l >= 0; l = x.links[l].next {
			v := &x.spans[x.links[l].span]
			if v.stay != but && v.from < to && v.to > from && h == max(first, x.hour(v.from)) {
				each(v)
			}
		}
	}
}

// crewFrom is the first instant from which a crew has so much of its people for
// so long beside what goes before this.
func (x *pusher) crewFrom(i, k, crew int32, from, long Tick) Tick {
	v := &x.serves[k]
	rank := x.stays[i].turn(v.part)
	share := v.share + x.besides(i, k, crew)
	for from+long <= x.p.End {
		next := x.busy(crew, i, from, from+long, share, func(o *span) bool {
			return cmp.Or(cmp.Compare(o.rank, rank), cmp.Compare(o.stay, i)) < 0
		})
		if next == from {
			return from
		}
		from = next
	}
	return never
}

// busy is when the first instant of [from, to) is over at which a crew has not so
// much left; from: there is none.
func (x *pusher) busy(crew, i int32, from, to Tick, share int64, counts func(v *span) bool) Tick {
	c := &x.crews[crew]
	met := x.met[:0]
	x.meet(crew, i, from, to, func(v *span) {
		if counts(v) {
			met = append(met, v)
		}
	})
	x.met = met
	slices.SortFunc(met, func(a, b *span) int { return cmp.Compare(a.from, b.from) })
	n, k := 0, c.step(from)
	for at := from; at < to; {
		free, until := c.steps[k].Cap-share, never
		if k+1 < len(c.steps) {
			until = c.steps[k+1].At
		}
		over := until
		for n < len(met) && met[n].from <= at {
			n++
		}
		for _, v := range met[:n] {
			if v.to > at {
				free -= v.share
				over = min(over, v.to)
			}
		}
		if free < 0 {
			return over
		}
		next := until
		if n < len(met) {
			next = min(next, met[n].from)
		}
		if next == until {
			k++
		}
		at = next
	}
	return from
}

// displace has all that is in the way of a stay's people timed again.
func (x *pusher) displace(i int32) {
	s := &x.stays[i]
	for k := s.spanAt; k < s.spanTo; k++ {
		v := x.spans[k]
		if x.busy(v.crew, -1, v.from, v.to, 0, func(*span) bool { return true }) == v.from {
			continue
		}
		for _, o := range x.met {
			if cmp.Or(cmp.Compare(o.rank, v.rank), cmp.Compare(o.stay, v.stay)) > 0 {
				x.todo.push(x, o.stay)
			}
		}
	}
}

// turn is what orders the parts of stays that want the same people: when the old
// plan had them; what is under way comes first.
func (s *stay) turn(part resources.Part) Tick {
	from, _ := s.was.part(part)
	if s.fixed {
		return -1
	}
	return from
}
