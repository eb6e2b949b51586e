// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"
)

// samples checks what a routing says about pieces that are cut and destroyed.
func (v *validator) samples(p *Product) {
	for i := range p.Routing {
		op := &p.Routing[i]
		path := opPath(p, op)
		if op.Per == PerSample && op.SkipSample {
			v.fail(path+".skip_sample", "true", "false", "", "an operation on samples cannot skip them")
		}
		if p.Samples == 0 && op.Per == PerSample {
			v.warn(path, "give the product samples:", "is never done, because the product has no samples")
		}
	}
}

// routing checks the order of a product's operations.
func (v *validator) routing(p *Product) {
	if !v.links(p) {
		return
	}
	follows := p.followers()
	v.split(p, follows)
	v.holds(p, follows)
	v.cycles(p)
	for i := range p.Routing {
		v.gateRule(p, i, follows)
	}
}

// links checks that the operations named in after exist, and tells whether
// all do.
func (v *validator) links(p *Product) bool {
	ids := p.operationIDs()
	good := true
	for i := range p.Routing {
		op := &p.Routing[i]
		for j, link := range op.After {
			path := fmt.Sprintf("%s.after[%d]", opPath(p, op), j)
			from := p.Operation(link.Operation)
			switch {
			case link.Operation == "":
				good = false
			case from == nil:
				v.fail(path, link.Operation, list(ids), hint(link.Operation, ids), "there is no operation of this name in the routing")
				good = false
			case from == op:
				v.fail(path, link.Operation, "", "", "an operation cannot wait for itself")
				good = false
			case void(from, op):
				v.warn(path, "", "never counts: samples do not pass %s", from.ID)
			}
		}
	}
	return good
}

func (p *Product) operationIDs() []string {
	ids := make([]string, 0, len(p.Routing))
	for i := range p.Routing {
		ids = append(ids, p.Routing[i].ID)
	}
	return ids
}

// void tells whether a link joins no pieces at all: an operation on samples
// after one that samples skip.
func void(from, to *Operation) bool { return from.SkipSample && to.Per == PerSample }

// followers says for each operation, by index, which operations come after it,
// directly or through others.
func (p *Product) followers() [][]bool {
	n := len(p.Routing)
	index := make(map[string]int, n)
	for i := range p.Routing {
		index[p.Routing[i].ID] = i
	}
	next := make([][]int, n)
	for i := range p.Routing {
		for _, link := range p.Routing[i].After {
			from := index[link.Operation]
			next[from] = append(next[from], i)
		}
	}
	follows := make([][]bool, n)
	for i := range follows {
		follows[i] = make([]bool, n)
		stack := slices.Clone(next[i])
		for len(stack) > 0 {
			j := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if !follows[i][j] {
				follows[i][j] = true
				stack = append(stack, next[j]...)
			}
		}
	}
	return follows
}

// split checks the cut: at most one, on the tube, and before everything that
// is done on a shaft.
func (v *validator) split(p *Product, follows [][]bool) {
	cut := -1
	for i := range p.Routing {
		op := &p.Routing[i]
		if op.Split == 0 {
			continue
		}
		if op.Per != PerTube {
			v.fail(opPath(p, op)+".split", fmt.Sprint(op.Split), "only with per: tube", "", "only a tube can be cut into shafts")
		}
		if cut >= 0 {
			v.fail(opPath(p, op)+".split", fmt.Sprint(op.Split), "one in a routing", "", "the tube is cut already by %s", p.Routing[cut].ID)
			continue
		}
		cut = i
	}
	if cut < 0 {
		return
	}
	for i := range p.Routing {
		op := &p.Routing[i]
		if i != cut && op.Per != PerTube && !follows[cut][i] {
			v.fail(opPath(p, op)+".after", "", "", "let it come after "+p.Routing[cut].ID+", directly or through others",
				"there are no shafts before %s has cut the tube", p.Routing[cut].ID)
		}
	}
}

// holds checks that a tool that is taken is given back, later and by the same
// piece.
func (v *validator) holds(p *Product, follows [][]bool) {
	divided := slices.ContainsFunc(p.Routing, func(op Operation) bool { return op.Split > 0 })
	for i := range p.Routing {
		op := &p.Routing[i]
		for j, take := range op.Takes {
			path := fmt.Sprintf("%s.takes[%d].until", opPath(p, op), j)
			end := p.OperationIndex(take.Until)
			ids := p.operationIDs()
			switch {
			case take.Until == "":
			case end < 0:
				v.fail(path, take.Until, list(ids), hint(take.Until, ids), "there is no operation of this name in the routing")
			case end != i && !follows[i][end]:
				v.fail(path, take.Until, "the operation itself or one that comes after it", "", "does not come after %s, so the tool would never come back", op.ID)
			case !sameKind(op, &p.Routing[end], divided):
				v.fail(path, take.Until, "an operation that the same pieces pass", "", "is not done on every piece that takes the tool at %s", op.ID)
			}
		}
	}
}

// sameKind tells whether every piece that passes the first operation passes
// the second, as the same piece.
func sameKind(a, b *Operation, divided bool) bool {
	if divided && (a.Per == PerTube) != (b.Per == PerTube) {
		return false
	}
	if b.Per == PerSample {
		return a.Per == PerSample
	}
	return !b.SkipSample || a.SkipSample
}

// A wait graph has an event for the start of loading and one for the end of
// each operation of a normal piece, and again of a sample. An arc says that
// to happens at least least seconds after from.
type waitArc struct {
	from, to int
	least    Seconds
	op       int  // routing index of the operation whose wait this is
	own      bool // the operation's own duration
	longest  bool // a longest wait
}

// eventsEach is the number of events of an operation in the wait graph.
const eventsEach = 4

// cycles reports waits that contradict each other: a cycle of least and
// longest waits, with the least durations of the operations in it, that adds
// up to more than nothing.
func (v *validator) cycles(p *Product) {
	for i := range p.Routing {
		if !v.sound(&p.Routing[i]) || len(v.fitting(p, &p.Routing[i])) == 0 {
			return
		}
	}
	arcs := v.waitArcs(p)
	cycle := positiveCycle(eventsEach*len(p.Routing), arcs)
	if cycle == nil {
		return
	}
	in := make([]bool, len(p.Routing))
	var excess Seconds
	at := -1
	for _, a := range cycle {
		excess += a.least
		in[a.from/eventsEach] = true
		// Blame a longest wait; only where there is none, the first wait.
		if a.longest || !a.own && at < 0 {
			at = a.op
		}
	}
	if at < 0 {
		return
	}
	var names []string
	for i, is := range in {
		if is {
			names = append(names, p.Routing[i].ID)
		}
	}
	v.fail(opPath(p, &p.Routing[at])+".after", "", "", "shorten a min, lengthen a max, or take one of the waits out",
		"the waits among %s contradict each other by %s", strings.Join(names, ", "), spanText(excess))
}

func (v *validator) waitArcs(p *Product) []waitArc {
	start := func(i int, sample bool) int {
		if sample {
			return eventsEach*i + 2
		}
		return eventsEach * i
	}
	divided := slices.ContainsFunc(p.Routing, func(op Operation) bool { return op.Split > 0 })
	var arcs []waitArc
	for i := range p.Routing {
		op := &p.Routing[i]
		least := Seconds(-1)
		for _, s := range v.fitting(p, op) {
			if t := v.effort(op, s).total(); least < 0 || t < least {
				least = t
			}
		}
		for _, sample := range []bool{false, true} {
			arcs = append(arcs, waitArc{from: start(i, sample), to: start(i, sample) + 1, least: least, op: i, own: true})
		}
		for _, link := range op.After {
			j := p.OperationIndex(link.Operation)
			for _, pair := range classes(&p.Routing[j], op, divided) {
				from, to := start(j, pair[0]), start(i, pair[1])
				if !link.FromStart {
					from++
				}
				arcs = append(arcs, waitArc{from: from, to: to, least: link.Min, op: i})
				if link.HasMax {
					arcs = append(arcs, waitArc{from: to, to: from, least: -link.Max, op: i, longest: true})
				}
			}
		}
	}
	return arcs
}

// classes lists which pieces a link joins, as pairs of "is a sample": normal
// to normal, sample to sample, and sample to normal from a destructive test. A
// tube that is cut is one piece for its normal shafts and its samples.
func classes(from, to *Operation, divided bool) [][2]bool {
	switch {
	case void(from, to):
		return nil
	case divided && from.Per == PerTube && to.Per == PerTube:
		return [][2]bool{{false, false}}
	case divided && from.Per == PerTube:
		if to.Per == PerSample {
			return [][2]bool{{false, true}}
		}
		if to.SkipSample {
			return [][2]bool{{false, false}}
		}
		return [][2]bool{{false, false}, {false, true}}
	case from.Per == PerSample:
		if to.Per == PerSample {
			return [][2]bool{{true, true}}
		}
		if to.SkipSample || divided && to.Per == PerTube {
			return [][2]bool{{true, false}}
		}
		return [][2]bool{{true, true}, {true, false}}
	case to.Per == PerSample:
		return [][2]bool{{true, true}}
	case from.SkipSample || to.SkipSample || divided && to.Per == PerTube:
		return [][2]bool{{false, false}}
	}
	return [][2]bool{{false, false}, {true, true}}
}

// positiveCycle finds a cycle of arcs whose least waits add up to more than
// nothing, nil when there is none: longest paths by R. Bellman (1958), Quarterly
// of Applied Mathematics 16(1):87-90, from every event at once.
func positiveCycle(events int, arcs []waitArc) []waitArc {
	longest := make([]Seconds, events)
	via := make([]int, events)
	for i := range via {
		via[i] = -1
	}
	last := -1
	for range events + 1 {
		last = -1
		for i, a := range arcs {
			if d := longest[a.from] + a.least; d > longest[a.to] {
				longest[a.to], via[a.to], last = d, i, a.to
			}
		}
		if last < 0 {
			return nil
		}
	}
	for range events { // walk back until certainly inside the cycle
		last = arcs[via[last]].from
	}
	var cycle []waitArc
	for at := last; ; {
		a := arcs[via[at]]
		cycle = append(cycle, a)
		if at = a.from; at == last {
			slices.Reverse(cycle)
			return cycle
		}
	}
}
