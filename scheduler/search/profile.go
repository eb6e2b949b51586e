// SPDX-License-Identifier: Apache-2.0

package search

import (
	"math"
	"slices"

	"towpath/scheduler"
)

// profile is the free capacity of a crew over time, in thousandths of a
// person: a step function, cut into pages of equal length so that a change
// moves little and a full page is passed over at a glance. Profiles share pages
// until they change them.
type profile struct {
	from  Tick
	width Tick
	pages []page
}

// page is the function over one stretch of time. Its first step begins where
// the page does.
type page struct {
	steps  []step
	most   int64 // no more than this is free anywhere in it
	sought int32 // the step that was sought last: the next is often near it
	shared bool  // the steps are of others too
}

type step struct {
	at   Tick
	free int64
}

// pageWidth and maxPages settle the pages: a day each, longer ones for a very
// long horizon.
const (
	pageWidth = Tick(86400)
	maxPages  = 1500
)

func newProfile(steps []scheduler.CapStep, end Tick) profile {
	p := profile{from: steps[0].At, width: pageWidth}
	if span := end - p.from; span > pageWidth*maxPages {
		p.width = span/maxPages + 1
	}
	p.pages = make([]page, max(1, (end-p.from)/p.width+1))
	memory := make([]step, 0, len(p.pages)+len(steps))
	k := 0
	for i := range p.pages {
		start := p.from + Tick(i)*p.width
		for k+1 < len(steps) && steps[k+1].At <= start {
			k++
		}
		first, most := len(memory), steps[k].Cap
		memory = append(memory, step{start, steps[k].Cap})
		for j := k + 1; j < len(steps) && steps[j].At < start+p.width; j++ {
			memory = append(memory, step{steps[j].At, steps[j].Cap})
			most = max(most, steps[j].Cap)
		}
		p.pages[i] = page{steps: memory[first:len(memory):len(memory)], most: most, shared: true}
	}
	return p
}

// copy is the same function, to be changed and asked on its own. The other is not to
// be changed any more.
func (p *profile) copy() profile {
	return profile{p.from, p.width, slices.Clone(p.pages)}
}

// own gives a page its own memory, with room for some work.
func (g *page) own() {
	if g.shared {
		g.steps, g.shared = append(make([]step, 0, len(g.steps)+6), g.steps...), false
	}
}

// page is the number of the page t lies on; what is before the first counts as
// on it, what is after the last as on that.
func (p *profile) page(t Tick) int {
	if t <= p.from {
		return 0
	}
	k := (t - p.from) / pageWidth // dividing by what is known beforehand costs next to nothing
	if p.width != pageWidth {
		k = (t - p.from) / p.width
	}
	return min(int(k), len(p.pages)-1)
}

// index finds the step of a page in force at t.
func (g *page) index(t Tick) int {
	low, high := 0, len(g.steps)
	for high-low > 8 {
		if mid := (low + high) / 2; g.steps[mid].at > t {
			high = mid
		} else {
			low = mid
		}
	}
	i := high - 1
	for i > low && g.steps[i].at > t {
		i--
	}
	return i
}

// seek is index, beginning with what was sought last. Only who has the profile alone
// may ask.
func (g *page) seek(t Tick) int {
	i, last := int(g.sought), len(g.steps)-1
	if i = min(i, last); g.steps[i].at <= t {
		for far := i + near; i < last && g.steps[i+1].at <= t; i++ {
			if i == far {
				i = g.index(t)
				break
			}
		}
	} else {
		for far := i - near; i > 0 && g.steps[i].at > t; i-- {
			if i == far {
				i = g.index(t)
				break
			}
		}
	}
	g.sought = int32(i)
	return i
}

// near is how many steps seek looks at one after the other.
const near = 8

// at is the capacity free at t.
func (p *profile) at(t Tick) int64 {
	g := &p.pages[p.page(t)]
	return g.steps[g.index(t)].free
}

// fit finds the first instant at or after t from which share stays free for
// length seconds.
func (p *profile) fit(t Tick, length Seconds, share int64) Tick {
	if length <= 0 {
		return t
	}
	start := t
	k := p.page(t)
	i := p.pages[k].seek(t)
	for ; k < len(p.pages); k, i = k+1, 0 {
		g := &p.pages[k]
		if g.most < share {
			start = p.after(k, t)
			continue
		}
		for ; i < len(g.steps); i++ {
			if g.steps[i].free >= share {
				continue
			}
			if g.steps[i].at >= start+Tick(length) {
				return start
			}
			if i+1 < len(g.steps) {
				start = max(t, g.steps[i+1].at)
			} else {
				start = p.after(k, t)
			}
		}
		if start+Tick(length) <= p.from+Tick(k+1)*p.width {
			return start
		}
	}
	// Beyond the last page the function goes on as it ends.
	if last := &p.pages[len(p.pages)-1]; start < never && last.steps[len(last.steps)-1].free >= share {
		return start
	}
	return never
}

// fitBefore finds the last instant up to t from which share stays free for
// length seconds; one before the profile when there is none.
func (p *profile) fitBefore(t Tick, length Seconds, share int64) Tick {
	to, next := t+Tick(length), never
	for k := p.page(to - 1); k >= 0; k-- {
		g := &p.pages[k]
		for i := g.index(min(to, next) - 1); i >= 0; i-- {
			x := &g.steps[i]
			if x.free < share {
				if next <= to-Tick(length) {
					return to - Tick(length)
				}
				to = x.at
			} else if x.at <= to-Tick(length) {
				return to - Tick(length)
			}
			next = x.at
		}
	}
	return p.from - 1
}

// after is where page k ends, but not before t; never after the last.
func (p *profile) after(k int, t Tick) Tick {
	if k+1 == len(p.pages) {
		return never
	}
	return max(t, p.pages[k+1].steps[0].at)
}

// open finds the first stretch from t on in which anything is free.
func (p *profile) open(t Tick) (from, to Tick) {
	k := p.page(t)
	i := p.pages[k].index(t)
	from = never
	for ; k < len(p.pages); k, i = k+1, 0 {
		g := &p.pages[k]
		for ; i < len(g.steps); i++ {
			switch free := g.steps[i].free > 0; {
			case from == never && free:
				from = max(t, g.steps[i].at)
			case from != never && !free:
				return from, g.steps[i].at
			}
		}
	}
	return from, never
}

// take lowers the free capacity on [from, to) by share, which may be negative
// to give it back, and returns the least that is left there.
func (p *profile) take(from, to Tick, share int64) (left int64) {
	left = math.MaxInt64
	if from >= to {
		return left
	}
	k := p.page(from)
	if end := p.from + Tick(k+1)*p.width; to <= end && k+1 < len(p.pages) {
		return p.pages[k].take(from, to, end, share) // as most do, it lies on one page
	}
	for ; k < len(p.pages); k++ {
		start := p.from + Tick(k)*p.width
		end := start + p.width
		if k+1 == len(p.pages) {
			end = never
		}
		if start >= to {
			break
		}
		left = min(left, p.pages[k].take(max(from, start), min(to, end), end, share))
	}
	return left
}

// take changes one page on [from, to), which lies in it; end is the page's.
func (g *page) take(from, to, end Tick, share int64) (left int64) {
	left = math.MaxInt64
	if from >= to {
		return left
	}
	g.own()
	i, j := g.cuts(from, to, end)
	highest := g.steps[i].free // of those that change
	for k := i; k < j; k++ {
		highest = max(highest, g.steps[k].free)
		g.steps[k].free -= share
		left = min(left, g.steps[k].free)
	}
	if share > 0 && highest == g.most {
		g.lowered()
	} else {
		g.most = max(g.most, highest-share)
	}
	g.join(j)
	g.join(i)
	return left
}

// lowered finds what is free at the most when steps that had most of it have less.
func (g *page) lowered() {
	most := g.steps[0].free
	for k := range g.steps {
		if most = max(most, g.steps[k].free); most >= g.most {
			return
		}
	}
	g.most = most
}

// cuts makes a step begin at from and, unless that is where the page ends, one at
// to, and returns the index of the first and of what comes from to on.
func (g *page) cuts(from, to, end Tick) (i, j int) {
	i = g.seek(from)
	j = i + 1
	for j < len(g.steps) && g.steps[j].at < to {
		j++
	}
	if to < end && (j == len(g.steps) || g.steps[j].at > to) {
		g.insert(j, step{to, g.steps[j-1].free})
	}
	if g.steps[i].at < from {
		i, j = i+1, j+1
		g.insert(i, step{from, g.steps[i-1].free})
	}
	return i, j
}

func (g *page) insert(i int, s step) {
	g.steps = append(g.steps, s)
	if last := len(g.steps) - 1; i < last {
		copy(g.steps[i+1:], g.steps[i:last])
		g.steps[i] = s
	}
}

// join removes step i if it says the same as the one before it.
func (g *page) join(i int) {
	if i <= 0 || i >= len(g.steps) || g.steps[i].free != g.steps[i-1].free {
		return
	}
	g.steps = append(g.steps[:i], g.steps[i+1:]...)
}
