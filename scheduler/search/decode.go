// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"

	"towpath/scheduler"
)

// decoder times genomes. It keeps the last one on its board and, for the next,
// takes off only what comes after the first difference (the serial schedule
// generation scheme of Kolisch 1996, with the unscheduling step for maximum
// waits of Franck, Neumann and Schwindt 2001, on blocks of activities that
// must be placed together).
type decoder struct {
	m      *model
	b      *board
	seq    *sequencer
	done   []*node // placed, in order
	want   []int32 // where they should go
	floor  []hold  // and not before when
	ends   []int   // of blocks in done
	marks  []int   // journal marks before each block
	bound  []Tick  // per node of the block in hand: no start before
	inner  []int   // journal marks before each node of the block in hand
	in     []int32 // per act: position in the block in hand, -1
	fail   failure
	effort int // placements for the block in hand
	steady int // more placements that a block may take in small steps

	rides   *rides // loads that new work may be put into; nil: none
	newLast bool   // a repair fits new work in behind all that its old plan has, and closes no gaps for it

	// once is for one genome only: what has to be broken up stays where it stood,
	// nothing is placed a second time, and no block is taken off again.
	once bool

	brisk bool // a repair tries little against what has jumped and what comes too late, as in a large shop

	fewer int  // decode gives up a solution that breaks so many waits or more; 0: none
	judge bool // decode stops as soon as it is known how many waits a solution breaks

	until Tick // decode stops at the first block with work that people were told to begin then or later; 0: none

	ceiling *ceiling // what a solution may cost, else decode gives up; nil: anything

	latest []Tick // completion of each line beyond which decode gives up; nil: none
	tardy  int32  // line for which it has given up, else -1
	tight  bool   // new work alone is put in: it is given up while it is placed, as soon as it can only be too late
}

// failure says what could not be placed. As an error it is for the package
// alone; explained makes it one for others.
type failure struct {
	act    int32
	reason string
	told   bool // no activity in particular is to blame
	sure   bool // there is no plan at all
}

func newDecoder(p *scheduler.Problem) (*decoder, error) {
	m, err := newModel(p)
	if err != nil {
		return nil, err
	}
	return decoderOf(m), nil
}

// decoderOf is a further decoder of a model.
func decoderOf(m *model) *decoder {
	d := onceOf(m)
	d.once = false
	n := len(m.p.Acts)
	d.b.journal = slices.Grow(d.b.journal, 4*n)
	d.done, d.want, d.floor = make([]*node, 0, n), make([]int32, 0, n), make([]hold, 0, n)
	return d
}

// onceOf is a decoder of a model for one genome.
func onceOf(m *model) *decoder {
	n := len(m.p.Acts)
	d := &decoder{m: m, b: newBoard(m), seq: newSequencer(m), in: none(n), tardy: -1, once: true}
	d.seq.out.nodes, d.seq.out.want, d.seq.out.floor = make([]*node, 0, n), make([]int32, 0, n), make([]hold, 0, n)
	return d
}

// decode times a genome. A load that cannot run as asked is broken up, in g
// too. It is false when even that does not help; d.fail then names the culprit.
func (d *decoder) decode(g *genome) bool {
	d.tardy = -1
	for range len(g.node) + 1 {
		s, ok := d.seq.order(g)
		if !ok {
			d.fail = failure{reason: "loads wait for each other in a circle", told: true}
			return false
		}
		same := d.common(s)
		d.back(same)
		if d.late(d.done) || d.fewer > 0 && d.breached() >= d.fewer || d.ceiling != nil && d.ceiling.begin() {
			return false
		}
		broken, ok := d.run(g, *s, same)
		if !ok {
			return false
		}
		if !broken {
			return true
		}
		// What was broken up was placed where it stood; once more, in its
		// proper order, so that a genome's times depend on nothing else.
	}
	return false
}

// common is how many blocks at the front are the same as what is on the board.
func (d *decoder) common(s *sequence) int {
	at := 0
	for i := range min(len(s.ends), len(d.ends)) {
		if s.ends[i] != d.ends[i] {
			return i
		}
		for ; at < s.ends[i]; at++ {
			if s.nodes[at] != d.done[at] || s.want[at] != d.want[at] || s.floor[at] != d.floor[at] {
				return i
			}
		}
	}
	return min(len(s.ends), len(d.ends))
}

// back takes all but the first blocks off the board.
func (d *decoder) back(blocks int) {
	if blocks >= len(d.ends) {
		return
	}
	d.b.undo(d.marks[blocks])
	d.marks = d.marks[:blocks]
	d.ends = d.ends[:blocks]
	at := 0
	if blocks > 0 {
		at = d.ends[blocks-1]
	}
	d.done, d.want, d.floor = d.done[:at], d.want[:at], d.floor[:at]
}

// run places the blocks of s from the given one on. Broken says that loads had
// to be broken up on the way; not ok, that even that did not help.
func (d *decoder) run(g *genome, s sequence, from int) (broken, ok bool) {
	at := 0
	if from > 0 {
		at = s.ends[from-1]
	}
	for i := from; i < len(s.ends); i++ {
		end := s.ends[i]
		if d.until > 0 && slices.ContainsFunc(s.floor[at:end], func(x hold) bool { return x.start >= d.until }) {
			return broken, true
		}
		d.tight = d.latest != nil && d.steady > 0 && !broken
		ok := d.whole(&s, at, end)
		nodes := s.nodes[at:end]
		at = end
		if ok {
			// The times of a pass with loads broken up on the way do not count.
			if !broken {
				if d.late(nodes) || d.ceiling != nil && d.ceiling.count(nodes) || d.fewer > 0 && d.m.awaits(nodes) && d.breached() >= d.fewer {
					return broken, false
				}
				if d.judge && d.m.awaits(nodes) && d.judged() {
					return broken, true
				}
			}
			continue
		}
		if d.tardy >= 0 {
			return broken, false
		}
		broken, d.tight = !d.once, false
		if !d.inParts(g, nodes) {
			return broken, false
		}
	}
	return broken, true
}

// late notes the first line that, with the nodes where they are, can only be
// complete too late.
func (d *decoder) late(nodes []*node) bool {
	if d.latest == nil {
		return false
	}
	for _, n := range nodes {
		for _, a := range n.acts {
			act, at := &d.m.p.Acts[a], &d.b.at[a]
			if act.Line < 0 {
				continue
			}
			if by := d.latest[act.Line]; at.start+d.m.rest[a] > by || act.Last && at.end > by {
				d.tardy = act.Line
				return true
			}
		}
	}
	return false
}

// whole places the block s has from one position to another and notes it.
func (d *decoder) whole(s *sequence, from, to int) bool {
	mark := d.b.mark()
	nodes, want, floor := s.nodes[from:to], s.want[from:to], s.floor[from:to]
	if !d.block(nodes, want, floor) {
		d.b.undo(mark)
		return false
	}
	if d.once {
		d.b.journal = d.b.journal[:mark] // a short journal stays in the cache
		return true
	}
	d.marks = append(d.marks, mark)
	d.done = append(d.done, nodes...)
	d.want = append(d.want, want...)
	d.floor = append(d.floor, floor...)
	d.ends = append(d.ends, len(d.done))
	return true
}

// inParts breaks up a block that cannot be placed whole, in g too, and places
// what it falls into.
func (d *decoder) inParts(g *genome, nodes []*node) bool {
	var acts []int32
	for _, n := range nodes {
		acts = append(acts, n.acts...)
	}
	for d.breakUp(g, nodes) {
		parts, ok := d.seq.part(g, acts)
		if !ok {
			d.fail = failure{act: acts[0], reason: "loads wait for each other in a circle", told: true}
			return false
		}
		if len(parts.ends) == 1 {
			// Still tied together by something else: a smaller load may do.
			if d.whole(&parts, 0, len(parts.nodes)) {
				return true
			}
			nodes = parts.nodes
			continue
		}
		at := 0
		for _, end := range parts.ends {
			if !d.whole(&parts, at, end) && !d.inParts(g, parts.nodes[at:end]) {
				return false
			}
			at = end
		}
		return true
	}
	return false
}

// breakUp halves the block's largest free load; false when there is none left
// to break.
func (d *decoder) breakUp(g *genome, nodes []*node) bool {
	big := largest(nodes)
	if big == nil {
		return false
	}
	acts, half := d.seam(g, big)
	return d.m.regroup(g, acts[:half]) && d.m.regroup(g, acts[half:])
}

// seam orders a load's members so that those who shared another load stay
// together, and says where to cut: between two such companies if there are
// several, as near the middle as may be.
func (d *decoder) seam(g *genome, big *node) (acts []int32, cut int) {
	company := func(a int32) int32 {
		for _, x := range d.m.byPiece[d.m.p.Acts[a].PieceIx] {
			if n := g.node[x]; n != big && len(n.acts) > 1 {
				return n.acts[0]
			}
		}
		return -1
	}
	acts = slices.Clone(big.acts)
	slices.SortStableFunc(acts, func(a, b int32) int { return cmp.Compare(company(a), company(b)) })
	half := len(acts) / 2
	cut = half
	for i := 1; i < len(acts); i++ {
		off, best := i-half, cut-half
		if company(acts[i]) != company(acts[i-1]) && (cut == half && company(acts[half]) == company(acts[half-1]) || off*off < best*best) {
			cut = i
		}
	}
	return acts, cut
}

// largest is the free load with most members, nil when there is none with two.
func largest(nodes []*node) *node {
	var big *node
	for _, n := range nodes {
		if len(n.acts) > 1 && n.load < 0 && (big == nil || len(n.acts) > len(big.acts)) {
			big = n
		}
	}
	return big
}

// rounds bounds how often a block may be begun again, per node in it, while it
// can still be broken up; patience, how often when it cannot.
const (
	rounds   = 8
	patience = 5000
	hurry    = 400 // from so many placements on a block is pushed further than it must be
)

// block places the nodes of one block. When a node comes too late for a
// maximum wait, the earlier end of the wait is moved later and everything from
// there on is placed again.
func (d *decoder) block(nodes []*node, want []int32, floor []hold) bool {
	d.bound = d.bound[:0]
	for i, n := range nodes {
		d.bound = append(d.bound, max(n.release, floor[i].start, floor[i].fine.rest))
		for _, a := range n.acts {
			d.in[a] = int32(i)
			if n.holds == 0 {
				continue
			}
			for _, h := range d.m.p.Acts[a].Holds {
				// What a try has learnt holds for that try only: a solution's
				// times must not depend on what was tried before it.
				d.b.stay[h], d.b.clash[h] = d.m.stay[h], 0
			}
		}
	}
	ok := d.fill(nodes, want, floor)
	for _, n := range nodes {
		for _, a := range n.acts {
			d.in[a] = -1
		}
	}
	return ok
}

func (d *decoder) fill(nodes []*node, want []int32, floor []hold) bool {
	limit := rounds*len(nodes) + 100 + d.steady
	d.effort = 0
	if largest(nodes) == nil {
		limit += patience
	}
	for i := 0; i < len(nodes); {
		d.effort++
		if limit--; limit < 0 {
			d.fail = failure{act: nodes[i].acts[0], reason: "the maximum waits around it cannot be kept together"}
			return false
		}
		n := nodes[i]
		d.inner = append(d.inner[:i], d.b.mark())
		d.b.scratch.out, d.b.scratch.keep = floor[i].out, floor[i].start > 0
		d.b.scratch.fine = floor[i].fine
		if !d.put(n, d.earliest(n, i), want[i], floor[i].start > 0) {
			from, ok := d.blame(n)
			if !ok {
				d.fail = failure{act: n.acts[0], reason: d.b.wanting(n)}
				return false
			}
			d.b.undo(d.inner[from])
			i = from
			continue
		}
		again := d.conflict(nodes, n, i)
		if d.tardy >= 0 {
			d.fail = failure{act: n.acts[0], reason: "it can only be too late"}
			if largest(nodes) != nil {
				d.tardy = -1 // in smaller loads it may come sooner
			}
			return false
		}
		if again >= 0 {
			d.b.undo(d.inner[again])
			i = again
			continue
		}
		i++
	}
	return true
}

// put places a node, see board.place.
func (d *decoder) put(n *node, t Tick, want int32, soft bool) bool {
	if d.rides != nil {
		return d.rides.place(n, t, want, soft)
	}
	return d.b.place(n, t, want, soft)
}

// blame finds where to begin again after a tool could not be given back in
// time: at the node that took it. The hold's stay has grown meanwhile.
func (d *decoder) blame(n *node) (int, bool) {
	first, found := 0, false
	for _, a := range n.acts {
		for _, h := range d.m.p.Acts[a].Gives {
			take := d.m.p.Holds[h].Take
			if d.b.stay[h] <= d.m.stay[h] || take < 0 || d.in[take] < 0 {
				continue
			}
			if at := int(d.in[take]); !found || at < first {
				first, found = at, true
			}
		}
	}
	return first, found
}

// earliest is the first start the waits from placed activities allow.
func (d *decoder) earliest(n *node, i int) Tick {
	p := d.m.p
	t := max(d.bound[i], p.Now)
	for _, a := range n.acts {
		for _, j := range p.In[p.InAt[a]:p.InAt[a+1]] {
			arc := &p.Arcs[j]
			if from := &d.b.at[arc.From]; from.on {
				t = max(t, anchor(arc, from)+Tick(arc.Min))
			}
		}
	}
	return t
}

// anchor is the instant a wait counts from.
func anchor(arc *scheduler.Arc, from *placed) Tick {
	if arc.FromStart {
		return from.start
	}
	return from.end
}

// conflict checks the node just placed against waits to and from nodes placed
// before. It raises the bound of the one that must move and returns the first
// position to place again, -1 when there is none.
func (d *decoder) conflict(nodes []*node, n *node, i int) int {
	again := -1
	raise := func(act int32, to Tick) {
		k := int(d.in[act])
		if k < 0 {
			return // facts: nothing can move it; the breach is told with the plan
		}
		over := d.effort - hurry - d.steady
		if over > 0 {
			// A full shop offers a next chance every few minutes, for months:
			// look further and further ahead.
			to += Tick(over) * 600
		}
		if to > d.bound[k] {
			d.bound[k] = to
			if line := d.m.p.Acts[act].Line; d.tight && over <= 0 && line >= 0 && to+d.m.rest[act] > d.latest[line] {
				d.tardy = line
			}
		}
		if again < 0 || k < again {
			again = k
		}
	}
	p := d.m.p
	for _, a := range n.acts {
		me := &d.b.at[a]
		for _, j := range p.In[p.InAt[a]:p.InAt[a+1]] {
			arc := &p.Arcs[j]
			from := &d.b.at[arc.From]
			if !arc.HasMax || !from.on || arc.From == a {
				continue
			}
			if over := me.start - anchor(arc, from) - Tick(arc.Max); over > 0 {
				raise(arc.From, from.start+over)
			}
		}
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[j]
			to := &d.b.at[arc.To]
			if !to.on || arc.To == a || d.in[arc.To] == int32(i) {
				continue
			}
			if short := anchor(arc, me) + Tick(arc.Min) - to.start; short > 0 {
				raise(arc.To, to.start+short)
			}
			if arc.HasMax {
				if over := to.start - anchor(arc, me) - Tick(arc.Max); over > 0 {
					raise(a, me.start+over)
				}
			}
		}
	}
	return again
}
