// SPDX-License-Identifier: Apache-2.0

package search

import (
	"towpath/resources"
)

// Cost is what a plan costs, level by level; an earlier level counts first.
type Cost [4]int64

// Less tells whether c is better than d.
func (c Cost) Less(d Cost) bool {
	for i := range c {
		if c[i] != d[i] {
			return c[i] < d[i]
		}
	}
	return false
}

// add counts value times a term's weight.
func (c *Cost) add(t resources.Term, value int64) {
	c[levelOf(t)] += t.Weight * value
}

// levelOf is the level that a term counts in.
func levelOf(t resources.Term) int { return min(max(t.Level, 0), len(Cost{})-1) }

// price is what one of a term is worth to the search.
func price(t resources.Term) float64 { return scale[levelOf(t)] * float64(t.Weight) }

// farWorth is what a weighted second that a lost order is late is worth to the search.
const farWorth = 0.5

// farLost is how far an order that is lost when late is from being saved: after a month
// it is as far as can be.
func farLost(weight, late int64) int64 { return weight * min(max(late, 0), 30*86400) }

// scale turns levels into one number for accepting or not: about how many
// weighted seconds of tardiness one unit of a level is worth.
var scale = [4]float64{60 * 86400, 1, 900, 1e-5}

// value is what a solution costs and a smooth companion for the search: it also
// counts how far a lost order is from being saved.
type value struct {
	cost     Cost
	guide    float64
	far      float64 // how far lost orders are from being saved, in weighted seconds
	breached int     // maximum waits that facts have begun and the solution breaks
}

// better says whether a value is that of a better solution: one that breaks
// fewer waits, then one that costs less.
func (v *value) better(than *value) bool {
	if v.breached != than.breached {
		return v.breached < than.breached
	}
	return v.cost.Less(than.cost)
}

// assess adds up what the solution on the board costs.
func (d *decoder) assess() value {
	v := value{breached: d.breached()}
	p, goal := d.m.p, &d.m.p.Goal
	far := d.assessDates(&v.cost, d.completion)
	d.assessNodes(&v)
	d.assessChangeovers(&v)
	for r := range d.b.mixes {
		for i := range d.b.mixes[r] {
			x := &d.b.mixes[r][i]
			if x.fact >= 0 && p.Mixes[x.fact].Hand {
				if x.grams > 0 { // else it is not in the plan any more
					v.cost.add(goal.Discard, p.Resins[r].Heel)
				}
				continue
			}
			v.cost.add(goal.Discard, p.Resins[r].Heel)
			if x.fact >= 0 {
				v.cost.add(goal.Discard, x.room-x.grams)
			}
		}
	}
	v.cost.add(goal.Discard, p.Spoilt)
	for i, c := range v.cost {
		v.guide += scale[i] * float64(c)
	}
	if goal.Tardiness.Level > goal.Lost.Level {
		v.guide += farWorth * float64(far)
		v.far = float64(far)
	}
	return v
}

// assessDates adds lost orders and tardiness when lines are complete as said,
// and returns how far the lost ones are from being saved.
func (d *decoder) assessDates(c *Cost, completion func(int32) Tick) (far int64) {
	p, goal := d.m.p, &d.m.p.Goal
	for o := range p.Orders {
		var worst, lost int64
		for _, l := range p.Orders[o].Lines {
			line := &p.Lines[l]
			late := int64(completion(l) - line.Due)
			if late <= 0 {
				continue
			}
			if line.Event {
				lost = max(lost, line.Weight)
				far += farLost(line.Weight, late)
			} else {
				worst = max(worst, line.Weight*late)
			}
		}
		c.add(goal.Lost, lost)
		c.add(goal.Tardiness, worst)
	}
	return far
}

// completion is when the line's last piece is finished as far as is known.
func (d *decoder) completion(line int32) Tick {
	l := &d.m.p.Lines[line]
	done := l.Done
	for _, a := range l.Acts {
		if d.m.p.Acts[a].Last && d.b.at[a].on {
			done = max(done, d.b.at[a].end)
		}
	}
	return done
}

func (d *decoder) assessNodes(v *value) {
	p, goal := d.m.p, &d.m.p.Goal
	var flow, oven, setup, moved int64
	for piece, acts := range d.m.byPiece {
		first, last := p.FlowFrom[piece], Tick(0)
		for _, a := range acts {
			t := &d.b.at[a]
			if first == 0 || t.start < first {
				first = t.start
			}
			last = max(last, t.end)
			if n := t.node; n.acts[0] == a {
				o := &n.options[t.option]
				if o.batch {
					oven += int64(t.runEnd - t.run)
				}
				setup += int64(t.start - t.setup)
			}
			if was := p.Acts[a].Was; was != nil && was.Near && (was.Start != t.start || !d.sameStation(a, t)) {
				moved++
			}
		}
		flow += int64(last - first)
	}
	v.cost.add(goal.Flow, flow)
	v.cost.add(goal.Oven, oven)
	v.cost.add(goal.SetupTime, setup)
	v.cost.add(goal.Churn, moved)
}

func (d *decoder) sameStation(a int32, t *placed) bool {
	return d.m.p.Modes[d.m.p.Acts[a].Was.Mode].Station == t.node.options[t.option].station
}

// assessChangeovers adds the changeover table's own costs along each place.
func (d *decoder) assessChangeovers(v *value) {
	p := d.m.p
	if p.Goal.SetupCost.Weight == 0 {
		return
	}
	var sum int64
	for s := range p.Stations {
		st := &p.Stations[s]
		if st.Families == 0 {
			continue
		}
		for k := range d.b.places[s] {
			family := st.Families
			for _, x := range d.b.places[s][k].slots {
				if x.family < 0 {
					continue
				}
				if !x.begun {
					sum += st.SetupCost[family*st.Families+x.family]
				}
				family = x.family
			}
		}
	}
	v.cost.add(p.Goal.SetupCost, sum)
}
