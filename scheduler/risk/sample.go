// SPDX-License-Identifier: Apache-2.0

package risk

// Sample is what became of each order in each of many histories. Its rows are
// written by the replication's number, so that parts of it may be filled side
// by side and in any order and it is the same.
type Sample struct {
	g    *Program
	n    int
	seed uint64
	rows []outcome // replication × order
	side []aside   // per replication
}

// outcome is an order in one history.
type outcome struct {
	end  Tick // completion; noDate: not within the calendars
	made bool // every line by its date
	bad  bool // a maximum wait was overrun
	why  cause
}

type aside struct{ breaches, forced int64 }

// NewSample is room for n histories.
func (g *Program) NewSample(n int, seed uint64) *Sample {
	return &Sample{g: g, n: n, seed: seed, rows: make([]outcome, n*len(g.orders)), side: make([]aside, n)}
}

// Play fills in one history of a sample.
func (y *Player) Play(s *Sample, replication int) {
	y.fill(s, replication, newLuck(s.seed, replication, false))
}

// PlayMirrored fills in one history; every second one is the mirror image of
// that before it, long where that was short (antithetic variates, Hammersley
// and Morton 1956, from memory).
func (y *Player) PlayMirrored(s *Sample, replication int) {
	y.fill(s, replication, newLuck(s.seed, replication, true))
}

func (y *Player) fill(s *Sample, r int, l luck) {
	y.play(l)
	y.note(s, r)
}

// note writes down what became of each order in the history just played.
func (y *Player) note(s *Sample, r int) {
	g := y.g
	row := s.rows[r*len(g.orders) : (r+1)*len(g.orders)]
	s.side[r] = aside{y.breaches, y.forced}
	for o := range row {
		x := outcome{made: true, bad: y.spoiled[o]}
		worst := Tick(0)
		for _, l := range g.orders[o].lines {
			end := y.doneAt[l]
			x.end = max(x.end, end)
			late := end - g.p.Lines[l].Due
			if late <= 0 {
				continue
			}
			x.made = false
			if late > worst {
				worst, x.why = late, y.whyLate(l)
			}
		}
		row[o] = x
	}
}

// whyLate is what made a line late.
func (y *Player) whyLate(l int32) cause {
	a := y.lastAct[l]
	if y.g.lines[l].planned > y.g.p.Lines[l].Due {
		return causeOf(causePlan, 0)
	}
	if a < 0 {
		return 0
	}
	return y.blame(a)
}
