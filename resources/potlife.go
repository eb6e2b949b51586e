// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"errors"
	"fmt"
	"math"
)

const (
	gasConstant = 8.314462618 // J/(mol·K), CODATA 2018
	zeroCelsius = 273.15      // K
)

// ActivationEnergy is the energy, in J/mol, of a reaction that takes time1 at
// celsius1 and time2 at celsius2 (any one unit of time), by Arrhenius' law
// t ∝ exp(E/RT). It is what a data sheet's two curing times say about all
// others between them.
func ActivationEnergy(celsius1, time1, celsius2, time2 float64) float64 {
	return gasConstant * math.Log(time1/time2) / (reciprocal(celsius1) - reciprocal(celsius2))
}

// ArrheniusFactor is by how much a time known at fromC is to be multiplied to
// get the time at toC, for a reaction of the given activation energy in J/mol.
func ArrheniusFactor(energy, fromC, toC float64) float64 {
	return math.Exp(energy / gasConstant * (reciprocal(toC) - reciprocal(fromC)))
}

// reciprocal is 1/T of a Celsius temperature, at least a kelvin above nothing.
func reciprocal(celsius float64) float64 { return 1 / max(celsius+zeroCelsius, 1) }

// LifeAt is the pot life of the resin at a temperature: an Arrhenius law
// through ReferenceC and Life whose energy is that of a life halved over
// HalvingC degrees with the reference in their middle. The rule "halves every
// 10 °C" then holds near the reference and, as in nature, not quite far from
// it. With HalvingC 0 the life is the same everywhere. The result is rounded
// down, because resin used a second too late is resin used too late; it never
// exceeds 20 years.
//
// This is for planning only: the supplier's data sheet and the viscosity in
// the bath decide what may still be used.
func (r *Resin) LifeAt(celsius float64) Seconds {
	if r.HalvingC <= 0 || math.IsNaN(celsius) {
		return r.Life
	}
	half := r.HalvingC / 2
	energy := ActivationEnergy(r.ReferenceC-half, 2, r.ReferenceC+half, 1)
	life := float64(r.Life) * ArrheniusFactor(energy, r.ReferenceC, celsius)
	return Seconds(math.Floor(min(life+1e-6, float64(maxWindow))))
}

// RoomAt is the shop's air temperature at an instant, in °C.
func (p *Plant) RoomAt(t Tick) float64 {
	for _, w := range p.Room.Periods {
		if w.Start <= t && t < w.End {
			return w.Celsius
		}
	}
	return p.Room.Celsius
}

// MixLife is how long a mix made at an instant can be used from then on: at
// the temperature of its bath or, without one, of the room at that instant.
func (p *Plant) MixLife(r *Resin, made Tick) Seconds {
	if r.BathC != 0 {
		return r.LifeAt(r.BathC)
	}
	return r.LifeAt(p.RoomAt(made))
}

// CurePoint is one line of an adhesive's table of curing times.
type CurePoint struct {
	Celsius float64
	Time    Seconds
}

// HandlingTime reads a table of curing times (handling strength, full cure)
// at a temperature between its lines, straight in ln t against 1/T: the law of
// Arrhenius with the energy of the two nearest lines. The table has at least
// two lines of rising temperature. Outside it there is no answer but an error,
// since nobody measured there. The result is rounded up.
func HandlingTime(table []CurePoint, celsius float64) (Seconds, error) {
	if len(table) < 2 {
		return 0, errors.New("a table of curing times needs at least two lines")
	}
	for i, p := range table {
		if p.Time <= 0 || p.Celsius <= -zeroCelsius || i > 0 && p.Celsius <= table[i-1].Celsius {
			return 0, fmt.Errorf("line %d of the curing times: times are above 0, temperatures rise from line to line", i+1)
		}
	}
	first, last := table[0].Celsius, table[len(table)-1].Celsius
	if !(celsius >= first && celsius <= last) {
		return 0, fmt.Errorf("no curing time is known at %g °C; the table runs from %g to %g °C", celsius, first, last)
	}
	i := 1
	for celsius > table[i].Celsius {
		i++
	}
	a, b := table[i-1], table[i]
	energy := ActivationEnergy(a.Celsius, float64(a.Time), b.Celsius, float64(b.Time))
	return roundUp(float64(a.Time) * ArrheniusFactor(energy, a.Celsius, celsius)), nil
}

// roundUp gives whole seconds; a millionth more is noise of the arithmetic.
func roundUp(seconds float64) Seconds {
	const longest = float64(1 << 40) // seconds; keeps sums far from overflow
	if math.IsNaN(seconds) || seconds > longest {
		return Seconds(longest)
	}
	return Seconds(math.Ceil(max(seconds, 0) - 1e-6))
}
