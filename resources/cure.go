// SPDX-License-Identifier: Apache-2.0

package resources

import "math"

// PhaseKind says what an oven does during a phase of a cure.
type PhaseKind string

// The phases of a cure cycle, in the trade's words.
const (
	Ramp     PhaseKind = "ramp"      // the air goes to the set point
	Lagging  PhaseKind = "lag"       // the air waits for the slowest part
	Dwell    PhaseKind = "dwell"     // the soak counts
	CoolDown PhaseKind = "cool down" // until the part may be met
)

// CurePhase is one stretch of a closed load, with the temperatures of the
// oven's air and of the slowest part at its end, in °C.
type CurePhase struct {
	Kind   PhaseKind
	Length float64 // seconds
	AirC   float64
	PartC  float64
}

// Duration is how long a load stays closed when its slowest part follows the
// air with time constant tau: ramps, waits until that part is near the set
// point, dwells, and cool down to the opening temperature; rounded up. A
// recipe with a Fixed time takes that.
//
// It is for planning only. The recipe's specification, its thermocouples and
// the people at the oven decide when a soak began and when a door may open.
func (r *Recipe) Duration(tau Seconds) Seconds {
	if r.Fixed > 0 {
		return r.Fixed
	}
	var total float64
	for _, phase := range r.Profile(tau) {
		total += phase.Length
	}
	return roundUp(total)
}

// Profile is the course of a load, from the heat model even when the recipe
// has a Fixed time; phases of no length are left out.
//
// Air and part begin at StartC. Each step ramps the air to its set point; the
// soak starts when the air is there and the slowest part is within Tolerance
// (below 0.1 °C counts as 0.1: no thermocouple tells less); the next ramp goes
// on from the part's temperature then. Cooling, the air falls at CoolRate as
// far as StartC and the part follows until it is at OpenC, or within Tolerance
// of StartC if that is warmer. A rate of 0 is a jump of the air; OpenC 0 is no
// cool down. The part is a lump, see TimeConstant.
func (r *Recipe) Profile(tau Seconds) []CurePhase {
	c := course{tau: float64(tau), air: r.StartC}
	tolerance := max(r.Tolerance, 0.1)
	for _, step := range r.Steps {
		c.ramp(step.Rate/60, step.ToC)
		if tau > 0 && math.Abs(c.lag) > tolerance {
			c.hold(Lagging, c.tau*math.Log(math.Abs(c.lag)/tolerance))
		}
		c.hold(Dwell, float64(step.Dwell))
	}
	if open := max(r.OpenC, r.StartC+tolerance); r.OpenC != 0 && c.part() > open {
		c.cool(r.CoolRate/60, r.StartC, open)
	}
	return c.phases
}

// course is where a load is in its cycle. Rates are per second.
type course struct {
	tau    float64
	air    float64
	lag    float64 // part minus air
	phases []CurePhase
}

func (c *course) part() float64 { return c.air + c.lag }

func (c *course) add(kind PhaseKind, length float64) {
	if length > 0 {
		c.phases = append(c.phases, CurePhase{kind, length, c.air, c.part()})
	}
}

// ramp takes the air to a temperature, up or down.
func (c *course) ramp(rate, to float64) {
	length := c.move(rate, to)
	c.add(Ramp, length)
}

func (c *course) move(rate, to float64) float64 {
	change := to - c.air
	if rate <= 0 { // a jump: the part stays where it is
		if c.tau > 0 {
			c.lag -= change
		}
		c.air = to
		return 0
	}
	length := math.Abs(change) / rate
	c.lag = lagAfter(c.lag, math.Copysign(rate, change), c.tau, length)
	c.air = to
	return length
}

func (c *course) hold(kind PhaseKind, length float64) {
	c.lag = lagAfter(c.lag, 0, c.tau, length)
	c.add(kind, length)
}

// cool lets the air fall to floor and stops when the part is at open, which
// lies above floor.
func (c *course) cool(rate, floor, open float64) {
	start := *c
	falling := c.move(rate, floor)
	if c.part() <= open { // it gets there while the air still falls
		early, late := 0.0, falling
		for range 60 { // halving finds it to the last bit of a float64
			middle := (early + late) / 2
			c.air = start.air - rate*middle
			c.lag = lagAfter(start.lag, -rate, c.tau, middle)
			if c.part() > open {
				early = middle
			} else {
				late = middle
			}
		}
		c.add(CoolDown, late)
		return
	}
	rest := c.tau * math.Log(c.lag/(open-floor))
	c.lag = open - floor
	c.add(CoolDown, falling+rest)
}
