// SPDX-License-Identifier: Apache-2.0

package search

import (
	"errors"
	"math"
	"math/rand/v2"

	"towpath/scheduler"
)

// Rule names a way to give every activity a key. The single rules are also the
// baselines a plan is compared with.
type Rule string

// The rules.
const (
	DueDate     Rule = "due-date"     // earliest due date first (Jackson 1955)
	LatestStart Rule = "latest-start" // least time left to begin first
	Weighted    Rule = "weighted"     // latest start, pulled forward by weight and by being an event order
	LongestTail Rule = "longest-tail" // most work still to come first
	ShortFirst  Rule = "short-first"  // weight over work (Smith 1956)
)

// Rules lists all of them.
func Rules() []Rule { return []Rule{DueDate, LatestStart, Weighted, LongestTail, ShortFirst} }

// ErrUnknownRule is returned for a rule that is not in Rules.
var ErrUnknownRule = errors.New("unknown rule")

// keys gives every activity its key under a rule.
func (m *model) keys(r Rule) ([]float64, error) {
	key := make([]float64, len(m.p.Acts))
	work := m.work()
	for a := range m.p.Acts {
		act := &m.p.Acts[a]
		line := &m.p.Lines[act.Line]
		due, tail := float64(line.Due), float64(m.tail[a])
		weight := float64(max(1, line.Weight))
		switch r {
		case DueDate:
			key[a] = due
		case LatestStart:
			key[a] = due - tail
		case Weighted:
			key[a] = due - tail - 6*3600*math.Log2(1+weight)
			if line.Event {
				key[a] -= 24 * 3600
			}
		case LongestTail:
			key[a] = float64(m.head[a]) - tail
		case ShortFirst:
			key[a] = work[act.Line] / weight
		default:
			return nil, ErrUnknownRule
		}
		if m.first[a] {
			if act.Was != nil {
				key[a] = float64(act.Was.Start)
			} else {
				key[a] = due - tail
			}
			key[a] += firstKey
		}
	}
	return key, nil
}

// firstKey is added to the keys of what goes first, whatever the rule; keys
// below settledKey are of such work, and no move changes them.
const (
	firstKey   = -1e12
	lastKey    = 1e12
	settledKey = -1e11
)

// work is the least station time of each line.
func (m *model) work() []float64 {
	work := make([]float64, len(m.p.Lines))
	for a := range m.p.Acts {
		work[m.p.Acts[a].Line] += float64(m.shortest(int32(a)))
	}
	return work
}

// ByRule plans by one rule alone, with loads formed in its order, in whichever
// of the ways comes out best.
func ByRule(p *scheduler.Problem, r Rule) (*scheduler.Plan, error) {
	d, err := newDecoder(p)
	if err != nil {
		return nil, explained(p, err)
	}
	if _, err := d.construct([]Rule{r}, groupings); err != nil {
		return nil, explained(p, err)
	}
	return d.emit(), nil
}

func (d *decoder) byRule(r Rule, how grouping) (*genome, error) {
	key, err := d.m.keys(r)
	if err != nil {
		return nil, err
	}
	g := newGenome(d.m.form(key, how), key)
	if len(key) > vast {
		d.m.notBefore(g)
	}
	return g, nil
}

// ahead is how long before its latest start work may begin where there is so
// much of it that looking through all the time before costs too much.
const ahead = Tick(6 * 7 * 86400)

// notBefore keeps work from beginning long before it must.
func (m *model) notBefore(g *genome) {
	for a := range m.p.Acts {
		if act := &m.p.Acts[a]; act.Fixed == nil && !m.first[a] {
			g.floor[a] = m.p.Lines[act.Line].Due - Tick(m.tail[a]) - ahead
		}
	}
}

// groupings are the ways to form loads that a construction tries, the plainest
// first.
var groupings = []grouping{
	{clusters: 3, spread: 2 * 86400},
	{clusters: 1, spread: 2 * 86400},
	{clusters: 2, spread: 1 * 86400},
	{clusters: 3, spread: 3 * 3600},
}

// From so many activities on a construction tries fewer starts: two rules and
// the smallest loads, then one rule alone.
const (
	large = 6000
	vast  = 20000
)

// Construct makes a feasible plan: the best of several rules and ways to form
// loads.
func Construct(p *scheduler.Problem) (*scheduler.Plan, error) {
	d, err := newDecoder(p)
	if err != nil {
		return nil, explained(p, err)
	}
	if _, err := d.start(); err != nil {
		return nil, explained(p, err)
	}
	return d.emit(), nil
}

// start leaves a construction on the board and returns it.
func (d *decoder) start() (*genome, error) {
	rules, ways := Rules(), groupings
	switch n := len(d.m.p.Acts); {
	case n > vast:
		rules, ways = []Rule{LatestStart}, groupings[1:2]
	case n > large:
		rules, ways = []Rule{Weighted, DueDate}, groupings[1:2]
	}
	return d.construct(rules, ways)
}

// construct leaves the best of rules and ways to form loads on the board and
// returns it.
func (d *decoder) construct(rules []Rule, ways []grouping) (*genome, error) {
	var best *genome
	var bestValue value
	var failed failure
	if d.m.alone() {
		ways = ways[:1]
	}
	for _, how := range ways {
		for _, r := range rules {
			g, err := d.byRule(r, how)
			if err != nil {
				return nil, err
			}
			g, ok := d.asTold(g)
			if !ok {
				failed = d.fail
				continue
			}
			if v := d.assess(); best == nil || v.better(&bestValue) {
				best, bestValue = g, v
			}
		}
	}
	if best == nil {
		if best, failed.sure = d.lastResort(); best == nil {
			return nil, failed
		}
	}
	if !d.decode(best) {
		return nil, d.fail
	}
	return best, nil
}

// shakes is how many orders at random are tried when no rule finds a plan.
const shakes = 400

// lastResort looks for any feasible plan when every rule has failed: exactly
// where that is possible, else in orders at random, always the same ones, every
// other one with what gives back tools in hand in front. Sure
// says that there is none.
func (d *decoder) lastResort() (found *genome, sure bool) {
	g := newGenome(d.m.plain(), make([]float64, len(d.m.p.Acts)))
	said, starts, _ := prove(d.m)
	switch said {
	case impossible:
		return nil, true
	case proven:
		for a := range g.key {
			g.key[a] = float64(starts[a])
		}
		copy(g.floor, starts)
		if d.decode(g) {
			return g, false
		}
		clear(g.floor)
	}
	if len(g.key) > large {
		return nil, false
	}
	rng := rand.New(rand.NewPCG(1, uint64(len(g.key))))
	span := float64(d.m.span())
	for n := range shakes {
		for a := range g.key {
			g.key[a] = float64(d.m.head[a]) + rng.Float64()*span
		}
		if n%2 == 1 {
			d.m.handBack(g)
		}
		if d.decode(g) {
			return g, false
		}
	}
	return nil, false
}

// span is all work in a row.
func (m *model) span() Seconds {
	var sum Seconds
	for a := range m.p.Acts {
		sum += m.shortest(int32(a))
	}
	return sum
}

// alone tells whether no two activities can share a load.
func (m *model) alone() bool {
	for a := range m.p.Acts {
		if m.p.Acts[a].Key >= 0 {
			return false
		}
	}
	return true
}
