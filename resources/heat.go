// SPDX-License-Identifier: Apache-2.0

package resources

import "math"

// TimeConstant is how slowly a body follows the air around it, in seconds:
// τ = ρVc/(hA), from its density in kg/m³, specific heat in J/(kg·K), volume
// in m³, the film coefficient h in W/(m²·K) and the surface in m². After τ it
// has done 63 % of a step. It holds for a body of nearly one temperature
// throughout, hL/k < 0.1 with L = V/A (Y. A. Çengel, Heat Transfer: A
// Practical Approach, section 4-1, lumped system analysis).
func TimeConstant(density, heat, volume, film, surface float64) float64 {
	return density * volume * heat / (film * surface)
}

// StepTime is when a body of time constant tau has done a fraction, below 1,
// of a step of the air's temperature; in the unit of tau.
func StepTime(tau, fraction float64) float64 { return -tau * math.Log(1-fraction) }

// RampTemperature is the temperature of a body that began at start together
// with the air, after t of a ramp with the given rate:
// T = start + rate·(t − τ(1 − e^(−t/τ))). Its lag grows towards rate·τ. Units
// are the caller's, the same for tau, t and the rate.
func RampTemperature(start, rate, tau, t float64) float64 {
	air := start + rate*t
	return air + lagAfter(0, rate, tau, t)
}

// lagAfter is part minus air after t of air changing at rate, when it was lag
// at the beginning: the solution of d(lag)/dt = −lag/τ − rate.
func lagAfter(lag, rate, tau, t float64) float64 {
	if tau <= 0 {
		return 0
	}
	return -rate*tau + (lag+rate*tau)*math.Exp(-t/tau)
}
