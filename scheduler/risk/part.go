// SPDX-License-Identifier: Apache-2.0

package risk

import "fmt"

// Part is some histories of a sample, as the machine that played them tells
// another. Which numbers they have says what luck they met, so that it does not
// matter who played them.
type Part struct {
	From     int     // the first history
	Ends     []Tick  // history × order
	Made     []bool  // history × order
	Spoiled  []bool  // history × order
	Causes   []int32 // history × order
	Breaches []int64 // per history
	Forced   []int64 // per history
}

// PlayPart plays the histories from one number to another of a sample with a
// seed.
func (y *Player) PlayPart(seed uint64, from, to int) Part {
	orders := len(y.g.orders)
	s := Sample{g: y.g, n: to - from, seed: seed, rows: make([]outcome, (to-from)*orders), side: make([]aside, to-from)}
	p := Part{From: from}
	for r := from; r < to; r++ {
		y.play(newLuck(seed, r, false))
		y.note(&s, r-from)
	}
	for i := range s.rows {
		x := &s.rows[i]
		p.Ends, p.Made, p.Spoiled, p.Causes = append(p.Ends, x.end), append(p.Made, x.made), append(p.Spoiled, x.bad), append(p.Causes, int32(x.why))
	}
	for i := range s.side {
		p.Breaches, p.Forced = append(p.Breaches, s.side[i].breaches), append(p.Forced, s.side[i].forced)
	}
	return p
}

// Histories is how many a part has.
func (p *Part) Histories() int { return len(p.Breaches) }

// Fits says what is wrong with a part, as one of a sample that was played
// elsewhere.
func (s *Sample) Fits(p *Part) error {
	n, orders := p.Histories(), len(s.g.orders)
	if p.From < 0 || n == 0 || n > s.n || p.From > s.n-n {
		return fmt.Errorf("%d histories from number %d on, of a sample of %d", n, p.From, s.n)
	}
	if len(p.Forced) != n || len(p.Ends) != n*orders || len(p.Made) != n*orders || len(p.Spoiled) != n*orders || len(p.Causes) != n*orders {
		return fmt.Errorf("histories %d to %d do not have the %d orders of the plan", p.From, p.From+n-1, orders)
	}
	for _, c := range p.Causes {
		if !s.g.knows(cause(c)) {
			return fmt.Errorf("histories %d to %d: cause %d is none of this shop's", p.From, p.From+n-1, c)
		}
	}
	return nil
}

// Put fills in one history from a part that fits and has it.
func (s *Sample) Put(p *Part, replication int) {
	orders, i := len(s.g.orders), replication-p.From
	row := s.rows[replication*orders : (replication+1)*orders]
	for o := range row {
		k := i*orders + o
		row[o] = outcome{end: p.Ends[k], made: p.Made[k], bad: p.Spoiled[k], why: cause(p.Causes[k])}
	}
	s.side[replication] = aside{p.Breaches[i], p.Forced[i]}
}
