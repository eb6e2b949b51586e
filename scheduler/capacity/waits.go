// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"math"

	"towpath/resources"
)

// lots finds, for each station, in what lots its pieces come: those that share
// a load before come out of it together.
func (m *model) lots(byWeek [][]*group) {
	for w, groups := range byWeek {
		for _, g := range groups {
			for i := range g.classes {
				c := &g.classes[i]
				lot := 1.0
				for _, from := range c.r.after[c.op] {
					if from < 0 {
						continue
					}
					if a := m.members[memberKey{c.r.product.ID, from}]; a != nil {
						lot = max(lot, a.of())
					}
				}
				for k, s := range g.on {
					m.works[s][w].lots += g.share[k] * c.n * lot
				}
			}
		}
	}
}

// stationCell writes what a station is asked in a week, and what waiting the
// queueing view expects.
func (m *model) stationCell(s, w int, c *Cell) {
	x := &m.works[s][w]
	c.Asked, c.Setup, c.There = x.hours+x.setup, x.setup, m.there[s][w]
	c.Loads, c.Pieces = x.loads, x.pieces
	if x.jobs <= 0 || c.There <= 0 {
		return
	}
	st := &m.plant.Stations[s]
	mean := x.sum / x.jobs
	p := Process{Mean: mean, SCV: max(0, x.square/x.jobs/(mean*mean)-1)}
	if b := st.Breakdowns; b != nil {
		repair := 1.0
		if b.Spread.Shape != resources.Unsaid {
			repair = scvOf(b.Spread)
		}
		p = p.WithOutages(float64(b.Every)/3600, float64(b.Repair)/3600, repair)
	}
	if x.turns > 0 {
		p = p.WithSetups(Process{Mean: x.setup / x.turns, SCV: scvOf(m.plant.Chance.Or(resources.DefaultChance()).Setup)}, x.jobs/x.turns)
	}
	u := c.Asked / c.There
	if st.Batch == nil {
		c.Wait = LotWait(x.lots/x.pieces, p, max(1, st.Places), u)
		return
	}
	rate, size := x.pieces/c.There, x.pieces/x.loads
	fill, queue := LoadWait(rate, size, p, 1, u)
	c.Wait = queue
	if queue != Endless {
		c.Wait = fill + queue
	}
	fullest := size // as many as come together fill a load at most
	if f := m.show.fill[st.ID]; f > 0 {
		fullest = max(size, size/f)
	}
	c.WaitCycle = CycleWait(rate*p.Mean, max(1, int(math.Round(fullest))))
	if c.WaitCycle != Endless {
		c.WaitCycle *= p.Mean
	}
}

// skillWait writes how long work is expected to wait for somebody with a skill,
// in hours in which such people are there.
func (m *model) skillWait(i, w int, c *Cell) {
	x := &m.calls[i][w]
	if x.jobs <= 0 || x.sum <= 0 || c.There <= 0 || m.anybody[i][w] <= 0 {
		return
	}
	mean := x.sum / x.jobs
	heads := max(1, int(math.Round(c.There/m.anybody[i][w])))
	c.Wait = Wait(1, Process{Mean: mean, SCV: max(0, x.square/x.jobs/(mean*mean)-1)}, heads, c.Asked/c.There)
}

// varies is the squared coefficient of variation of the times of one operation.
func (m *model) varies(op *resources.Operation) float64 {
	chance := m.plant.Chance.Or(resources.DefaultChance())
	spread := chance.Machine
	if op.Recipe != "" {
		spread = chance.Cure
	}
	for _, need := range op.Needs {
		if need.Part == resources.PartRun {
			spread = chance.Hands
		}
	}
	return scvOf(op.Spread.Or(spread))
}

// scvOf is the squared coefficient of variation of a spread: of a triangular
// law by its variance, of a PERT law by (Malcolm, Roseboom, Clark and Fazar
// 1959), Operations Research 7, ((high - low) / 6)^2.
func scvOf(s resources.Spread) float64 {
	switch s.Shape {
	case resources.Lognormal, resources.Gamma:
		return s.CV * s.CV
	case resources.Triangular:
		mean := (s.Low + s.Likely + s.High) / 3
		return over((s.Low*s.Low+s.Likely*s.Likely+s.High*s.High-s.Low*s.Likely-s.Low*s.High-s.Likely*s.High)/18, mean*mean)
	case resources.Pert:
		mean := (s.Low + 4*s.Likely + s.High) / 6
		return over((s.High-s.Low)*(s.High-s.Low)/36, mean*mean)
	case resources.Empirical:
		sum, square := 0.0, 0.0
		for _, v := range s.Values {
			sum += v
			square += v * v
		}
		n := float64(len(s.Values))
		return max(0, over(square*n, sum*sum)-1)
	}
	return 0
}
