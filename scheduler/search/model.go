// SPDX-License-Identifier: Apache-2.0

package search

import "towpath/scheduler"

// model is what every solution of one problem shares: who belongs together,
// how long things take at least, and what each activity is worth.
type model struct {
	p *scheduler.Problem

	tied    []int32    // per act: representative of the acts that must be placed in one go with it
	rest    []Tick     // per act: least time from its start of loading until its line is complete; far below 0 where that does not wait for it
	tail    []Seconds  // per act: least time from its start of loading to the end of its piece's work
	head    []Tick     // per act: earliest start of loading by waits alone
	stay    []Seconds  // per hold: least time from changeover to given back, turnaround included
	singles []*node    // per act
	options [][]option // of lone free pieces, by their first mode; nil: not asked for yet
	short   []Seconds  // per act: the least time from start of loading to end
	byPiece [][]int32  // acts of each piece
	topo    []int32    // acts in an order that respects plain waits
	rank    []int32    // per act: position in topo
	settled []*node    // per settled load
	first   []bool     // per act: goes before everything else
	running []int32    // maximum waits, as arcs, after work that has begun
	dated   []int32    // acts that must start by an instant that facts have set
	awaited []bool     // per act: it ends one of these waits
	named   *finder    // see names
	shifts  []profile  // see headCounts
	knotted bool       // loads, tools or maximum waits tie activities together
}

// newModel prepares a problem; it fails when some activity has no way to be
// done at all.
func newModel(p *scheduler.Problem) (*model, error) {
	m := &model{p: p, options: make([][]option, len(p.Modes))}
	n := len(p.Acts)
	m.sortActs()
	m.pieces()
	m.shortests()
	m.singles = make([]*node, n)
	own, nodes := make([]int32, n), make([]node, n) // memory for what is alone
	for a := range n {
		own[a] = int32(a)
		if m.singles[a] = &nodes[a]; !m.build(m.singles[a], own[a:a+1:a+1]) {
			return nil, failure{act: int32(a), reason: "none of these stations takes it"}
		}
	}
	for i := range p.Loads {
		n := m.make(p.Loads[i].Members)
		if n == nil {
			return nil, failure{act: p.Loads[i].Members[0], reason: "the load " + p.Loads[i].ID + " is on a station that cannot do it"}
		}
		m.settled = append(m.settled, n)
	}
	m.heads()
	m.tails()
	m.rests()
	m.ties()
	m.urgent()
	m.clocks()
	m.knotted = m.tangled()
	m.stays()
	return m, nil
}

// forward tells whether an arc orders its ends in time: To cannot start before
// From has.
func forward(a *scheduler.Arc) bool { return a.Min >= 0 }

// sortActs orders the activities by their forward waits. A cycle of zero waits
// is cut where it is met.
func (m *model) sortActs() {
	p := m.p
	n := len(p.Acts)
	waits := make([]int32, n)
	for i := range p.Arcs {
		if forward(&p.Arcs[i]) {
			waits[p.Arcs[i].To]++
		}
	}
	m.rank = make([]int32, n)
	queue := make([]int32, 0, n)
	for a := range n {
		m.rank[a] = -1
		if waits[a] == 0 {
			queue = append(queue, int32(a))
		}
	}
	for next := 0; len(m.topo) < n; {
		if len(queue) == 0 {
			for waits[next] <= 0 || m.rank[next] >= 0 {
				next++
			}
			waits[next] = 0
			queue = append(queue, int32(next))
		}
		a := queue[0]
		queue = queue[1:]
		if m.rank[a] >= 0 {
			continue
		}
		m.rank[a] = int32(len(m.topo))
		m.topo = append(m.topo, a)
		for _, i := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[i]
			if !forward(arc) || m.rank[arc.To] >= 0 {
				continue
			}
			if waits[arc.To]--; waits[arc.To] == 0 {
				queue = append(queue, arc.To)
			}
		}
	}
}

// pieces lists the activities of each piece.
func (m *model) pieces() {
	count := make([]int32, m.p.Pieces)
	for a := range m.p.Acts {
		count[m.p.Acts[a].PieceIx]++
	}
	m.byPiece = make([][]int32, m.p.Pieces)
	memory := make([]int32, len(m.p.Acts))
	for piece, n := range count {
		m.byPiece[piece], memory = memory[:0:n], memory[n:]
	}
	for a := range m.p.Acts {
		piece := m.p.Acts[a].PieceIx
		m.byPiece[piece] = append(m.byPiece[piece], int32(a))
	}
}

// shortests works out shortest.
func (m *model) shortests() {
	m.short = make([]Seconds, len(m.p.Acts))
	for a := range m.p.Acts {
		best := Seconds(never)
		act := &m.p.Acts[a]
		for k := act.ModeAt; k < act.ModeTo; k++ {
			md := &m.p.Modes[k]
			best = min(best, md.Load+md.LoadEach+md.Run+md.Unload+md.UnloadEach)
		}
		m.short[a] = best
	}
}

// shortest is the least time an activity takes from start of loading to end.
func (m *model) shortest(a int32) Seconds { return m.short[a] }

// lag is the least time from the start of From to the start of To.
func (m *model) lag(arc *scheduler.Arc) Seconds {
	if arc.FromStart {
		return arc.Min
	}
	return m.shortest(arc.From) + arc.Min
}

// heads propagates releases along waits, negative ones too, until nothing
// moves.
func (m *model) heads() {
	p := m.p
	m.head = make([]Tick, len(p.Acts))
	fixed := make([]bool, len(p.Acts))
	for a := range p.Acts {
		m.head[a] = p.Acts[a].Release
		if f := p.Acts[a].Fixed; f != nil {
			m.head[a], fixed[a] = f.Start, true
		}
	}
	for round := 0; round < len(p.Acts)+1; round++ {
		moved := false
		for _, a := range m.topo {
			for _, i := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
				arc := &p.Arcs[i]
				if t := m.head[a] + Tick(m.lag(arc)); t > m.head[arc.To] && !fixed[arc.To] {
					m.head[arc.To] = t
					moved = moved || m.rank[arc.To] <= m.rank[a] // what comes later in the round moves on in it
				}
			}
			for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
				arc := &p.Arcs[i]
				if !arc.HasMax || fixed[arc.From] || fixed[a] {
					continue
				}
				// To starts at most Max after From: From may not be earlier
				// than that, whatever its real length; only known for waits
				// from the start.
				if arc.FromStart {
					if t := m.head[a] - Tick(arc.Max); t > m.head[arc.From] {
						m.head[arc.From] = t
						moved = true
					}
				}
			}
		}
		if !moved {
			return
		}
	}
}

// tails is the least time from each activity's start to the last end that
// waits for it.
func (m *model) tails() {
	p := m.p
	m.tail = make([]Seconds, len(p.Acts))
	for i := len(m.topo) - 1; i >= 0; i-- {
		a := m.topo[i]
		m.tail[a] = m.shortest(a)
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[j]
			if m.rank[arc.To] > m.rank[a] {
				m.tail[a] = max(m.tail[a], m.lag(arc)+m.tail[arc.To])
			}
		}
	}
}

// rests is the least time from each activity's start until its own line is
// complete.
func (m *model) rests() {
	p := m.p
	m.rest = make([]Tick, len(p.Acts))
	for i := len(m.topo) - 1; i >= 0; i-- {
		a := m.topo[i]
		if m.rest[a] = -never; p.Acts[a].Last {
			m.rest[a] = Tick(m.shortest(a))
		}
		for _, j := range p.Out[p.OutAt[a]:p.OutAt[a+1]] {
			arc := &p.Arcs[j]
			if m.rank[arc.To] > m.rank[a] && p.Acts[arc.To].Line == p.Acts[a].Line {
				m.rest[a] = max(m.rest[a], Tick(m.lag(arc))+m.rest[arc.To])
			}
		}
	}
}

// headCounts is how many people of each crew are there, for as long as the model lives.
func (m *model) headCounts() []profile {
	if m.shifts == nil {
		m.shifts = make([]profile, len(m.p.Crews))
		for i := range m.p.Crews {
			m.shifts[i] = newProfile(m.p.Crews[i].Steps, m.p.End)
		}
	}
	return m.shifts
}
