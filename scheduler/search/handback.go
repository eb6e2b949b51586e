// SPDX-License-Identifier: Apache-2.0

package search

// asTold times a copy of a genome as it is or, where that fails, with what gives
// back tools in hand in front, in the genome too.
func (d *decoder) asTold(g *genome) (timed *genome, ok bool) {
	timed = g.clone()
	if d.decode(timed) {
		return timed, true
	}
	if !d.m.handBack(g) {
		return nil, false
	}
	timed = g.clone()
	return timed, d.decode(timed)
}

// handBack puts what gives back tools that people have in hand, with all that
// comes before it and shares its loads, in front of everything else, in the order
// it was in, as soon as it can be. For when an order cannot be placed: with every
// mandrel of a size under a tube, what is told to take one waits for those to come
// back, and no place for it is found as long as nobody knows when they do. False
// when nothing is in hand.
func (m *model) handBack(g *genome) bool {
	p := m.p
	marked := make([]bool, len(p.Acts))
	var todo []int32
	mark := func(a int32) {
		if !marked[a] && p.Acts[a].Fixed == nil {
			marked[a] = true
			todo = append(todo, a)
		}
	}
	m.handingBack(mark)
	if len(todo) == 0 {
		return false
	}
	for len(todo) > 0 {
		a := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		g.key[a] += handedKey
		for _, i := range p.In[p.InAt[a]:p.InAt[a+1]] {
			mark(p.Arcs[i].From)
		}
		for _, other := range g.node[a].acts {
			mark(other)
		}
	}
	g.letGo(func(a int32) bool { return marked[a] })
	return true
}

// handingBack tells what gives back a tool that somebody has in hand.
func (m *model) handingBack(tell func(act int32)) {
	for a := range m.p.Acts {
		for _, h := range m.p.Acts[a].Gives {
			if take := m.p.Holds[h].Take; take < 0 || m.p.Acts[take].Fixed != nil {
				tell(int32(a))
			}
		}
	}
}

// handedKey is added to the keys of what gives back tools in hand: before what
// goes first.
const handedKey = 2 * firstKey
